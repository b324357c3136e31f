"""Learning in the studio: the teacher's yes, examples from stands, versions, what is forgotten."""

from dataclasses import replace

import pytest
from studio_pages import client
from studio_stands import stand_of

from handslide.edges.files.profiles import load_profile
from handslide.edges.leash.leash import Leash, Limits
from handslide.edges.store.students import StudentValues
from handslide.ground.errors import BadUsage
from handslide.instrument.learning.example import Question
from handslide.studio.care.erase import erase_student
from handslide.studio.choosing.consent import consent, give_consent, withdraw_consent
from handslide.studio.choosing.versions import (
    can_redo_learnt,
    factors_of,
    in_force,
    redo_learnt,
    undo_learnt,
)
from handslide.studio.learning import apart, background
from handslide.studio.learning.answers import answers, keep_answer
from handslide.studio.learning.background import learn_now, what_is_noticed
from handslide.studio.learning.examples import folder_examples, stand_example, studio_examples
from handslide.studio.learning.forgetting import (
    forget_all,
    forget_note,
    forget_part,
    forgotten_choices,
)
from handslide.studio.learning.saving import save_profile
from handslide.studio.parts.edits import (
    lock_here,
    lock_place,
    lock_places,
    look_to,
    redo,
    take_newest,
    undo,
    unlock,
)
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.stand import change_stand, take_off
from handslide.studio.people.horns import enrol
from handslide.studio.people.students import change_student
from handslide.studio.studio import set_setting

SEEN = 60


@pytest.fixture(autouse=True)
def _quiet(monkeypatch):
    """Learning is asked for here, not waited for."""
    monkeypatch.setattr(background, "QUIET_S", 1e6)


def part_of(studio, name="Ada Quill", **values):
    return stand_of(studio, name=name, profile="by-horn", **values)


def with_valve(studio, stand_id, most=8):
    """Choose the valve wherever a note has a place with it; the notes."""
    notes = []
    for note in range(SEEN):
        part = open_part(studio, stand_id)
        now = part.routed.places.get(note)
        others = part.routed.setup.book.places(part.routed.pitches[note].midi)
        others = [place for place in others if place.valves and place.position < 5.5]
        if now is None or now.valves or not others or len(notes) == most:
            continue
        lock_place(studio, stand_id, note, others[0].valves, others[0].partial)
        notes.append(note)
    return notes


def hows(studio):
    """How the notes of all examples were chosen, by stand and written note."""
    return {
        (one.key, note.number): note.how
        for one in studio_examples(studio).examples
        for note in one.notes
        if note.how
    }


def taught(studio):
    """A stand with choices that are learnt from, and the first version."""
    give_consent(studio, earlier=False)
    stand_id = part_of(studio)
    with_valve(studio, stand_id)
    look_to(studio, stand_id, SEEN)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(background, "learn_apart", once)
        assert learn_now(studio) == "learnt"
    return stand_id


LEARNT = {}


def once(sources, answered, factors=None):
    """What is learnt, by a process of its own for the first test that has just these examples."""
    asked = repr((apart.examples_of(sources, answered), factors))
    if asked not in LEARNT:
        LEARNT[asked] = apart.learn_apart(sources, answered, factors)
    return LEARNT[asked]


# The teacher's yes.


def test_nothing_is_collected_until_the_teacher_says_yes(studio):
    stand_id = part_of(studio)
    assert consent(studio) is None
    with_valve(studio, stand_id)
    with pytest.raises(BadUsage, match="until you allow it"):
        look_to(studio, stand_id, 5)
    with pytest.raises(BadUsage, match="until you allow it"):
        studio_examples(studio)
    assert learn_now(studio) is None and in_force(studio) is None
    withdraw_consent(studio)
    assert consent(studio) is False and learn_now(studio) is None


@pytest.mark.parametrize("earlier", [False, True])
def test_earlier_choices_count_only_if_the_teacher_says_so(studio, earlier):
    stand_id = part_of(studio)
    before = with_valve(studio, stand_id)
    give_consent(studio, earlier=earlier)
    counted = {(f"stand:{stand_id}", note): "changed" for note in before}
    assert hows(studio) == (counted if earlier else {})
    assert forgotten_choices(studio) == (0 if earlier else len(before))
    # What is chosen anew counts, on a note that had a choice before too.
    lock_here(studio, stand_id, 70)
    unlock(studio, stand_id, before[0])
    lock_here(studio, stand_id, before[0])
    anew = {(f"stand:{stand_id}", note): "changed" for note in (70, before[0])}
    assert hows(studio) == ({**counted, **anew} if earlier else anew)


def test_what_is_chosen_after_a_no_isnt_learnt_from_after_another_yes(studio):
    give_consent(studio, earlier=False)
    stand_id = part_of(studio)
    lock_here(studio, stand_id, 3)
    withdraw_consent(studio)
    lock_here(studio, stand_id, 4)
    give_consent(studio, earlier=False)
    assert [note for _, note in hows(studio)] == [3]
    give_consent(studio, earlier=True)
    assert [note for _, note in hows(studio)] == [3, 4]


def test_places_that_a_sheet_means_are_no_choices(studio):
    give_consent(studio, earlier=False)
    stand_id = part_of(studio)
    lock_places(studio, stand_id, {3: ((), 4)})
    assert hows(studio) == {} and open_part(studio, stand_id).stand.edits_done == 1


# Examples.


def test_locks_are_changes_and_the_rest_up_to_where_he_looked_is_kept(studio):
    give_consent(studio, earlier=False)
    stand_id = part_of(studio)
    lock_here(studio, stand_id, 3)
    lock_here(studio, stand_id, 90)
    look_to(studio, stand_id, 5)
    key = f"stand:{stand_id}"
    found = hows(studio)
    kept = {
        (key, n): "kept" for n in (0, 1, 2, 4, 5) if n in open_part(studio, stand_id).routed.places
    }
    assert found == {**kept, (key, 3): "changed", (key, 90): "changed"}
    part = open_part(studio, stand_id)
    for note in studio_examples(studio).examples[0].notes:
        if note.how:
            place = part.routed.places[note.number]
            assert note.places == ((place.valves, place.partial),)
    assert undo(studio, stand_id).after.seen_to is None
    assert set(hows(studio).values()) == {"changed"}
    assert redo(studio, stand_id).after.seen_to == 5
    assert hows(studio) == found


def test_a_stand_that_is_read_otherwise_was_not_looked_at(studio):
    give_consent(studio, earlier=False)
    stand_id = part_of(studio)
    for change in (
        lambda: change_stand(
            studio, stand_id, part=None, voice=None, tempo_qpm=200, small_notes=False
        ),
        lambda: change_student(studio, 1, StudentValues("Ada Quill", reach=5, profile="by-horn")),
    ):
        look_to(studio, stand_id, 5)
        change()
        assert open_part(studio, stand_id).seen_to is None


def test_a_folders_examples_are_those_of_the_studio(studio, tmp_path):
    taught(studio)
    assert folder_examples(studio.folder) == studio_examples(studio)
    with pytest.raises(BadUsage, match="no studio"):
        folder_examples(tmp_path / "none")


def test_an_erased_student_vanishes_from_the_examples(studio):
    stand_id = taught(studio)
    other = part_of(studio, name="Ben Orr")
    lock_here(studio, other, 3)
    erase_student(studio, open_part(studio, stand_id).student.id)
    assert {key for key, _ in hows(studio)} == {f"stand:{other}"}
    take_off(studio, other)
    assert studio_examples(studio).examples == ()
    # Nothing is left to learn from: new parts are marked as in the beginning.
    assert learn_now(studio) == "nothing"
    assert in_force(studio).factors == {"": {}}


# Answers.


def asked(studio, stand_id, begin=4, count=4):
    example = stand_example(studio, stand_id)
    notes = example.notes[begin : begin + count]
    part = open_part(studio, stand_id)
    places = [part.routed.places[note.number] for note in notes]
    first = tuple((place.valves, place.partial) for place in places)
    second = (*first[:-1], ((), first[-1][1] + 1))
    return Question(example.key, example.title, example.stand, notes, begin == 0, first, second)


def test_answers_are_kept_with_their_stand(studio):
    stand_id = part_of(studio)
    question = asked(studio, stand_id)
    with pytest.raises(BadUsage, match="until you allow it"):
        keep_answer(studio, question, 1)
    give_consent(studio, earlier=False)
    keep_answer(studio, question, 2)
    keep_answer(studio, asked(studio, stand_id, begin=0), 0)
    first, second = answers(studio)
    assert (first.question, first.picked) == (question, 2)
    assert second.question.begins and second.picked == 0
    with pytest.raises(BadUsage, match="isn't an answer"):
        keep_answer(studio, question, 3)
    change_stand(studio, stand_id, part=None, voice=None, tempo_qpm=80, small_notes=True)
    assert answers(studio) == ()


# Versions.


def test_learning_keeps_a_version_only_if_it_is_another(studio):
    stand_id = taught(studio)
    first = in_force(studio)
    assert first.told.changed == 8 and first.told.kept > 30 and first.told.parts == 1
    with studio.store.write() as db:
        db.execute("DELETE FROM setting WHERE key = 'learnt_from'")
    assert learn_now(studio) == "same"  # and bit by bit the same
    assert in_force(studio) == first
    lock_here(studio, stand_id, 80)
    learn_now(studio)
    noticed = what_is_noticed(studio)
    assert noticed.learnt.factors == factors_of(in_force(studio))
    assert noticed.examples == studio_examples(studio)


def test_undo_goes_back_one_version_and_redo_on(studio):
    stand_id = taught(studio)
    first = in_force(studio)
    assert undo_learnt(studio) is None
    assert in_force(studio) is None and can_redo_learnt(studio)
    learn_now(studio)  # nothing new was chosen: undone stays undone
    assert in_force(studio) is None
    redo_learnt(studio)
    assert in_force(studio) == first and not can_redo_learnt(studio)
    undo_learnt(studio)
    for note in range(64, 72):
        lock_here(studio, stand_id, note)
    assert learn_now(studio) == "learnt"
    assert in_force(studio).number == 1 and not can_redo_learnt(studio)


def test_parts_keep_the_version_that_they_were_opened_with(studio):
    old = part_of(studio)
    before = open_part(studio, old).routed.marks
    stand_id = taught(studio)
    marks = open_part(studio, stand_id).routed.marks
    assert open_part(studio, old).routed.marks == before
    new = part_of(studio, name="Ben Orr")
    part = open_part(studio, new)
    assert part.stand.learnt_id == in_force(studio).id and part.routed.marks != before
    beginner = stand_of(studio, name="Cleo Marsh", profile="beginner")
    assert open_part(studio, beginner).stand.learnt_id is None
    undo_learnt(studio)
    assert open_part(studio, new).routed.marks == part.routed.marks
    assert open_part(studio, stand_id).routed.marks == marks
    assert open_part(studio, part_of(studio, name="Dan Fox")).stand.learnt_id is None


def test_a_part_is_taken_to_the_newest_and_back(studio):
    stand_id = taught(studio)
    old = part_of(studio, name="Ben Orr")
    with studio.store.write() as db:
        db.execute("UPDATE stand SET learnt_id = NULL WHERE id = ?", (old,))
    before = open_part(studio, old)
    edited = take_newest(studio, old)
    assert edited.after.stand.learnt_id == in_force(studio).id
    assert edited.after.routed.marks != before.routed.marks
    assert undo(studio, old).after.routed.marks == before.routed.marks
    assert redo(studio, old).after.routed.marks == edited.after.routed.marks
    # What was looked at keeps its places; where another would be chosen, it is locked.
    was = open_part(studio, stand_id)
    after = take_newest(studio, stand_id).after
    assert after.stand.learnt_id == in_force(studio).id
    seen = [n for n in was.routed.places if n <= SEEN]
    assert [after.routed.places[n] for n in seen] == [was.routed.places[n] for n in seen]
    assert set(was.locks) <= set(after.locks)


def test_what_takes_too_long_changes_nothing(studio, monkeypatch):
    stand_id = taught(studio)
    before = in_force(studio)
    lock_here(studio, stand_id, 80)
    monkeypatch.setattr(apart, "_LEASH", Leash(Limits(seconds=0.05, children=1, kept=0)))
    assert learn_now(studio) == "fallen"
    assert in_force(studio) == before
    assert "took too long" in client(studio).get("/learning").text


# Forgetting.


def test_a_part_a_note_and_all_can_be_forgotten(studio):
    stand_id = taught(studio)
    other = part_of(studio, name="Ben Orr")
    lock_here(studio, other, 3)
    lock_here(studio, other, 4)
    forget_note(studio, other, 3)
    assert (f"stand:{other}", 3) not in hows(studio)
    locked = len(open_part(studio, stand_id).locks)
    forget_part(studio, stand_id)
    assert set(hows(studio)) == {(f"stand:{other}", 4)}
    part = open_part(studio, stand_id)
    assert part.seen_to is None and len(part.locks) == locked == 8
    keep_answer(studio, asked(studio, other), 1)
    forget_all(studio)
    assert studio_examples(studio) == type(studio_examples(studio))()
    assert in_force(studio) is None and not can_redo_learnt(studio)
    with studio.store.read() as db:
        # What a part is marked with stays as long as the part is.
        left = db.execute("SELECT id FROM learnt").fetchall()
    held = {open_part(studio, one).stand.learnt_id for one in (stand_id, other)}
    assert {row["id"] for row in left} == held - {None}


def test_a_merged_students_choices_arent_this_teachers(studio, tmp_path):
    import io

    from handslide.studio.care.archive import export_archive
    from handslide.studio.care.archiveimport import add_students, read_archive
    from handslide.studio.studio import open_studio
    from handslide.words.speech import speech

    stand_id = taught(studio)
    take_newest(studio, stand_id)
    export_archive(studio, packed := io.BytesIO(), speech())
    other = open_studio(tmp_path / "other")
    try:
        give_consent(other, earlier=False)
        enrol(other, StudentValues("Zoe Hart"), "tenor")
        add_students(other, read_archive(other, packed).token)
        (merged,) = [open_part(other, row) for (row,) in _stands(other)]
        assert len(merged.locks) >= 8 and merged.stand.learnt_id is None and merged.seen_to is None
        assert hows(other) == {} and in_force(other) is None
        while open_part(other, merged.stand.id).can_undo:
            assert undo(other, merged.stand.id).after.stand.learnt_id is None
    finally:
        other.close()


def _stands(studio):
    with studio.store.read() as db:
        return [tuple(row) for row in db.execute("SELECT id FROM stand")]


# As a profile file.


def test_what_was_learnt_is_a_profile_that_all_commands_take(studio):
    with pytest.raises(BadUsage, match="nothing is learnt at present"):
        save_profile(studio, "mine")
    stand_id = taught(studio)
    path = save_profile(studio, "mine")
    assert path.name == "mine.toml" and not list(path.parent.glob("*.json"))
    part = open_part(studio, part_of(studio, name="Ben Orr"))
    horn = part.routed.setup.horn
    saved = load_profile("mine", horn)
    assert replace(saved, name="", title="") == replace(
        part.routed.setup.profile, name="", title=""
    )
    change_student(
        studio, open_part(studio, stand_id).student.id, StudentValues("Ada Quill", profile="mine")
    )
    assert save_profile(studio, "mine") == path
    for name in ("classical", "../mine", ""):
        with pytest.raises(BadUsage):
            save_profile(studio, name)


# Pages.


@pytest.mark.sample
@pytest.mark.parametrize("code", ["en", "de", "es", "fr"])
def test_pages_in_each_language(studio, code):
    set_setting(studio, "language", code)
    at = client(studio)
    first = at.get("/learning")
    assert first.status_code == 200 and 'value="yes"' in first.text
    assert at.post("/learning/consent", data={"said": "no"}).status_code == 303
    assert 'value="no"' not in at.get("/learning").text
    stand_id = taught(studio)
    shown = at.get("/learning")
    assert "Lanterns" in shown.text and "/learning/noticed" in shown.text
    noticed = at.get("/learning/noticed")
    assert noticed.status_code == 200 and f"/stands/{stand_id}?note=" in noticed.text
    beside = at.get(f"/stands/{stand_id}/learnt")
    assert beside.status_code == 200 and f"/stands/{stand_id}/learnt/music" in beside.text
    assert at.get(f"/stands/{stand_id}/learnt/music").headers["Content-Type"] == "image/svg+xml"
    assert f"/stands/{stand_id}/newest" in at.get(f"/stands/{stand_id}").text


def test_what_the_page_sends(studio):
    at = client(studio)
    stand_id = taught(studio)
    base = f"/stands/{stand_id}"
    answer = at.post(f"{base}/seen", json={"i": 7}, headers={"Accept": "application/json"})
    assert answer.json()["seen_to"] == 7
    assert 'data-act="seen"' not in at.get(f"{base}/notes/7").text
    assert 'data-act="seen"' in at.get(f"{base}/notes/8").text
    saved = at.post("/learning/profile", data={"name": "as-i-do"})
    assert saved.status_code == 200 and "as-i-do.toml" in saved.text
    assert at.post("/learning/profile", data={"name": "../x"}).status_code == 400
    assert at.post("/learning/undo").status_code == 303 and in_force(studio) is None
    assert at.get(f"{base}/learnt").status_code == 400
    assert at.post("/learning/redo").status_code == 303 and in_force(studio) is not None
    assert at.post(f"{base}/newest").headers["Location"] == base
    note = min(open_part(studio, stand_id).locks)
    at.post("/learning/forget", data={"stand": stand_id, "note": note})
    assert (f"stand:{stand_id}", note) not in hows(studio)
    at.post("/learning/forget", data={"stand": stand_id})
    assert hows(studio) == {}
    at.post("/learning/forget", data={"all": "1"})
    assert in_force(studio) is None
    for data in ({}, {"said": "maybe"}):
        assert at.post("/learning/consent", data=data).status_code == 400
    for data in ({}, {"stand": "99"}, {"stand": "x"}):
        assert at.post("/learning/forget", data=data).status_code in (400, 404)
