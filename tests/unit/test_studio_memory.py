"""What a studio holds in memory: nothing of a student is left there when the student is erased."""

import gc

from studio_pages import client
from studio_versions import SOUND

from handslide.edges.store.students import StudentValues
from handslide.studio.care.erase import erase_student
from handslide.studio.care.example import add_example
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import change_student, list_students
from handslide.studio.takes.sound import Sound, recent_sounds
from handslide.studio.takes.takes import get_take, list_takes, rename_take

# Turned round, so that the test itself doesn't hold it.
_TURNED = "proQ aniwxyZ"


def holders():
    """Containers in this process that have the secret name in a text or in bytes."""
    # What was there before the first test counts, too.
    gc.unfreeze()
    gc.collect()
    name = _TURNED[::-1]
    coded = name.encode()
    found = []
    for thing in gc.get_objects():
        for value in gc.get_referents(thing):
            if (isinstance(value, str) and name in value) or (
                isinstance(value, bytes) and coded in value
            ):
                found.append(type(thing))
    return found


def look_at_everything(studio, student_id):
    """Open all that is made for a student and held in memory."""
    stand = list_stands(studio, student_id=student_id)[0].id
    take = list_takes(studio, student_id)[0].id
    rename_take(studio, take, f"First try of {_TURNED[::-1]}")
    key = take, get_take(studio, take).created_at
    recent_sounds(studio).put(key, Sound("audio/flac", SOUND), student_id)
    practice = f"/practice/{student_id}"
    pages = client(studio)
    for path in (
        f"/stands/{stand}", f"/stands/{stand}/music", f"/stands/{stand}/pdf",
        f"/takes/{take}", f"/takes/{take}.pdf",
        f"/progress/{student_id}", f"/progress/{student_id}.pdf",
        f"/charts/preview?student={student_id}", f"/charts/sheet.png?student={student_id}",
        f"{practice}/drill/preview?kind=slurs&seed=1", f"{practice}/drill.pdf?kind=slurs&seed=1",
        f"{practice}/lesson.pdf?stand={stand}&seed=1", f"{practice}/move.pdf?stand={stand}&by=M2",
        f"/stands/{stand}/playalong.wav?count_in=0", "/data",
    ):  # fmt: skip
        assert pages.get(path).status_code == 200, path
    waiting = pages.get(f"/stands/{stand}/pdf", headers={"Accept": "application/x-ndjson"})
    assert '"made"' in waiting.text


def test_an_erased_student_is_nowhere_in_memory(studio):
    add_example(studio)
    student_id = list_students(studio)[0].id
    change_student(studio, student_id, StudentValues(_TURNED[::-1]))
    look_at_everything(studio, student_id)
    caches = studio.caches._caches.values()
    assert len(caches) >= 10 and all(cache._values for cache in caches)
    assert holders()
    erase_student(studio, student_id)
    assert not any(cache._values for cache in caches)
    assert recent_sounds(studio).held() == ()
    assert holders() == []
