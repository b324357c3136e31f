"""What is on a student's stand: a part, for one horn, with the teacher's settings."""

from collections.abc import Mapping, Sequence

from handslide.edges.musicxml.bflat import shift_of
from handslide.edges.store.scores import ScoreRow
from handslide.edges.store.stands import (
    Stand,
    StandRow,
    delete_choices,
    delete_stand,
    find_stand,
    insert_stand,
    open_now,
    parts_on_stand,
    put_seen_to,
    select_stands,
    update_stand,
)
from handslide.ground.errors import BadData, BadUsage, NotFound
from handslide.studio.choosing.versions import for_stand, in_force
from handslide.studio.parts.scores import get_score, open_stored
from handslide.studio.people.students import get_horn, get_student, main_horn
from handslide.studio.studio import Studio

LEAST_QPM, MOST_QPM = 10.0, 500.0


def open_stands(
    studio: Studio,
    score_id: int,
    wishes: Sequence[tuple[int, int | None]],
    part: str | None = None,
    voice: str | None = None,
) -> list[int]:
    """Put a score on several stands, all or none; ``wishes`` are students with their horns.

    Raises BadUsage for nobody, else as :func:`open_stand`.
    """
    if not wishes:
        raise BadUsage("parts.nobody_chosen")
    with studio.store.write():
        return [
            open_stand(studio, student_id, score_id, horn_id, part, voice)
            for student_id, horn_id in wishes
        ]


def open_stand(
    studio: Studio,
    student_id: int,
    score_id: int,
    horn_id: int | None = None,
    part: str | None = None,
    voice: str | None = None,
) -> int:
    """Put a part of a score on a student's stand and give the stand's id.

    One that stands there already for this horn (default: the main one) stays as it is, choices
    and all; ``voice`` is for a new one, which is marked with what is learnt by now. ``part`` None
    is the one that is read unasked.

    Raises
    ------
    NotFound, BadData, ScoreError
        No such student, score or horn; a horn of somebody else; no such part or voice.
    """
    student = get_student(studio, student_id)
    row = get_score(studio, score_id)
    horn = main_horn(studio, student_id) if horn_id is None else get_horn(studio, horn_id)
    if horn.student_id != student_id:
        raise BadData("parts.not_their_horn", horn=horn.title, student=student.name)
    name = ""
    if part is not None or voice is not None:
        name = open_stored(studio, row).read_part(part, voice).name
    learnt = for_stand(student, horn, in_force(studio))
    learnt_id = None if learnt is None else learnt.id
    with studio.store.write() as db:
        here = _same_part(studio, row, parts_on_stand(db, student_id, horn.id, score_id), part)
        if here is not None:
            open_now(db, here)
            return here
        return insert_stand(db, student_id, horn.id, score_id, part, name, voice, learnt_id)


def _same_part(
    studio: Studio, row: ScoreRow, here: Mapping[int, str | None], part: str | None
) -> int | None:
    """Which of some stands of a score has this part: the one read unasked has a name, too."""
    for stand_id, other in here.items():
        if other == part:
            return stand_id
    if not here:
        return None
    usual = open_stored(studio, row).read_part().part_id
    wanted = part or usual
    return next((stand_id for stand_id, one in here.items() if (one or usual) == wanted), None)


def get_stand(studio: Studio, stand_id: int) -> Stand:
    """A stand. Raises NotFound."""
    with studio.store.read() as db:
        found = find_stand(db, stand_id)
    if found is None:
        raise NotFound("parts.no_stand")
    return found


def list_stands(
    studio: Studio, *, student_id: int | None = None, score_id: int | None = None
) -> tuple[StandRow, ...]:
    """Stands, the last opened first; of one student, of one score, or all."""
    with studio.store.read() as db:
        return select_stands(db, student_id, score_id)


def change_stand(
    studio: Studio,
    stand_id: int,
    *,
    part: str | None,
    voice: str | None,
    tempo_qpm: float,
    small_notes: bool,
    sounds: str | None = None,
) -> Stand:
    """Change what is read of the score, and its tempo where the score states none.

    Another part or voice, small notes taken in or another way to sound are other notes: locks and
    history go.

    Raises
    ------
    BadUsage, ScoreError, NotFound
        A tempo outside 10 to 500, no such part, voice or way to sound, no such stand; a part that
        has a stand of its own for this student and horn.
    """
    before = get_stand(studio, stand_id)
    if not LEAST_QPM <= tempo_qpm <= MOST_QPM:
        raise BadUsage("parts.tempo_outside", tempo_qpm=tempo_qpm, least=LEAST_QPM, most=MOST_QPM)
    row = get_score(studio, before.score_id)
    read = open_stored(studio, row).read_part(
        part, voice, tempo_qpm, small_notes=small_notes, sounds=sounds
    )
    other = (part, voice, small_notes, _shifted(sounds)) != (
        before.part,
        before.voice,
        before.small_notes,
        _shifted(before.sounds),
    )
    with studio.store.write() as db:
        here = parts_on_stand(db, before.student_id, before.horn_id, before.score_id)
        del here[stand_id]
        if _same_part(studio, row, here, part) is not None:
            raise BadUsage("parts.part_stands", part=read.name or read.part_id)
        update_stand(
            db,
            stand_id,
            part=part,
            part_name="" if part is None else read.name,
            voice=voice,
            tempo_qpm=tempo_qpm,
            small_notes=small_notes,
            sounds=sounds,
        )
        if other:
            delete_choices(db, stand_id)
        elif tempo_qpm != before.tempo_qpm:
            put_seen_to(db, stand_id, None)  # at another tempo other places are chosen
    return get_stand(studio, stand_id)


def _shifted(sounds: str | None) -> bool:
    return shift_of(sounds) != (0, 0)


def read_alike(studio: Studio, stand_id: int, other: Stand) -> Stand:
    """Read a stand's part as another stand's is read. Raises as :func:`change_stand`."""
    here = get_stand(studio, stand_id)
    if (here.part, here.voice, here.tempo_qpm, here.small_notes, here.sounds) == (
        other.part,
        other.voice,
        other.tempo_qpm,
        other.small_notes,
        other.sounds,
    ):
        return here
    return change_stand(
        studio,
        stand_id,
        part=other.part,
        voice=other.voice,
        tempo_qpm=other.tempo_qpm,
        small_notes=other.small_notes,
        sounds=other.sounds,
    )


def change_sound(studio: Studio, stand_id: int, sounds: str | None) -> Stand:
    """Say how a stand's part sounds where its file doesn't. Raises as :func:`change_stand`."""
    here = get_stand(studio, stand_id)
    return change_stand(
        studio,
        stand_id,
        part=here.part,
        voice=here.voice,
        tempo_qpm=here.tempo_qpm,
        small_notes=here.small_notes,
        sounds=sounds,
    )


def take_off(studio: Studio, stand_id: int) -> None:
    """Take a part off the stand, with its locks and history. Raises NotFound."""
    get_stand(studio, stand_id)
    with studio.store.write() as db:
        delete_stand(db, stand_id)
