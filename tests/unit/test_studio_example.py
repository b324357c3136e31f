"""The example studio: complete, true to the chain that heard it, and gone with one click."""

from datetime import UTC, datetime, timedelta
from statistics import median

import pytest
from invented import DEMO
from studio_pages import client, words

from handslide.edges.store.students import StudentValues
from handslide.jobs.hear.report import REPORT_FORM, report_from
from handslide.studio.care.example import add_example, has_example, remove_example, welcome
from handslide.studio.home.overview import cards
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.reading import score_data
from handslide.studio.parts.scores import add_score, list_scores, open_stored
from handslide.studio.parts.stand import list_stands, open_stand
from handslide.studio.people.horns import enrol
from handslide.studio.people.students import (
    get_student,
    list_horns_of,
    list_students,
    list_versions,
    main_horn,
    setup_for,
)
from handslide.studio.takes.takes import get_take, list_takes, take_notes, take_pdf
from handslide.words.speech import speech

KEPT = {"setting", "sqlite_sequence"}


def rows_of(studio):
    """How many rows each table has."""
    with studio.store.read() as db:
        names = [
            row["name"] for row in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
        ]
        return {
            name: db.execute(f"SELECT count(*) FROM {name}").fetchone()[0]
            for name in names
            if name not in KEPT
        }


def student_called(studio, name):
    return next(student for student in list_students(studio) if student.name == name)


def test_three_students_with_different_horns_and_limits(example):
    students = list_students(example)
    assert len(students) == 3
    assert all(student.example for student in students)
    bases = {main_horn(example, student.id).base for student in students}
    assert bases == {"tenor-f", "tenor-c-bb", "bass-independent"}
    assert {student.reach for student in students} == {None, 5.0}
    clara = student_called(example, "Clara Moreno")
    assert clara.learned == ("F",)
    assert len(list_horns_of(example, clara.id)) == 2
    assert not any(student.keep_recordings for student in students)


def test_parts_are_on_the_stands_and_can_be_marked(example):
    assert len(list_scores(example)) == 4
    for score in list_scores(example):
        part = open_stored(example, score).read_part()
        assert part.warnings == ()
    stands = list_stands(example)
    assert len(stands) == 6
    assert sum(stand.locks for stand in stands) == 2
    for stand in stands:
        opened = open_part(example, stand.id)
        assert opened.lost == ()
        assert len(opened.locks) == stand.locks
    boats = next(stand for stand in stands if stand.title == "Paper Boats")
    routed = open_part(example, boats.id).routed
    # A short arm finds every note of its part.
    assert all(place.position <= 5.2 for place in routed.places.values())
    assert len(routed.places) == len(routed.written)


def test_takes_lie_in_the_last_six_weeks(example):
    takes = list_takes(example)
    assert len(takes) == 12
    now = datetime.now(UTC)
    for take in takes:
        age = now - datetime.fromisoformat(take.recorded_at)
        assert timedelta(days=1) < age < timedelta(days=45)
        assert take.source == "example"
        assert not take.kept
    mira = student_called(example, "Mira Holt")
    assert len(list_takes(example, mira.id)) == 8
    for student in list_students(example):
        for horn in list_horns_of(example, student.id):
            for version in list_versions(example, horn.id):
                assert version.created_at < min(take.recorded_at for take in takes)


def test_the_rows_are_those_of_the_chain(example):
    """Places, cents and millimetres of every stored note agree with the horn's own model."""
    for line in list_takes(example):
        take, notes = get_take(example, line.id), take_notes(example, line.id)
        setup = setup_for(
            get_student(example, take.student_id), main_horn(example, take.student_id)
        )
        assert take.report["form"] == REPORT_FORM
        assert len(report_from(take.report).inside) == len(notes)
        right = [note for note in notes if note.played == "right"]
        assert len(right) >= 0.8 * len(notes)
        for note in notes:
            if note.partial is None:
                continue
            places = setup.book.places(note.midi)
            place = next(p for p in places if (p.valves, p.partial) == (note.valves, note.partial))
            assert 1000 * place.extension_m == pytest.approx(note.extension_mm, abs=0.01)
            if note.played == "right" and note.cents is not None:
                hz = setup.horn.frequency_hz(
                    note.partial, (note.extension_mm + note.slide_mm) / 1000, note.valves
                )
                # A closed slide that sounds low has no millimetres further in.
                assert note.f0_hz == pytest.approx(hz, rel=0.02)


def test_the_story_is_told_by_the_numbers(example):
    """3rd position comes right in six weeks; the notes with the valve stay flat."""
    mira = student_called(example, "Mira Holt")
    takes = [take_notes(example, take.id) for take in reversed(list_takes(example, mira.id))]

    def of(take, wanted):
        return median(
            wanted(note) for note in take if note.cents is not None and wanted(note) is not None
        )

    def third(note):
        return note.slide_mm if note.mark == "3" else None

    def valve(note):
        return note.cents if note.valves else None

    assert of(takes[0], third) < -14
    assert abs(of(takes[-1], third)) < 7
    for take in takes:
        assert -22 < of(take, valve) < -7
    last = report_from(get_take(example, list_takes(example, mira.id)[0].id).report)
    assert "habits.valve" in {habit.fact.kind for habit in last.habits}


def test_the_page_of_a_take_can_be_printed(example):
    assert take_pdf(example, list_takes(example)[0].id, speech("en")).startswith(b"%PDF")


def test_it_comes_once(example):
    before = rows_of(example)
    add_example(example)
    assert rows_of(example) == before


def test_welcome_is_said_once_and_to_nobody_who_is_here_already(studio):
    assert welcome(studio)
    assert not welcome(studio)
    remove_example(studio)
    assert not welcome(studio)
    assert not has_example(studio)
    add_example(studio)
    assert has_example(studio)


def test_no_welcome_beside_own_students(studio):
    enrol(studio, StudentValues("My own"), "tenor")
    assert not welcome(studio)
    assert not has_example(studio)


def test_one_post_removes_it_and_leaves_nothing(example):
    web = client(example)
    home = words(web.get("/"))
    assert "These people are invented" in home
    assert "Mira Holt" in home
    assert web.get("/example/remove").status_code == 405
    assert has_example(example)
    done = web.post("/example/remove")
    assert (done.status_code, done.headers["location"]) == (303, "/")
    assert set(rows_of(example).values()) == {0}
    assert "invented" not in words(web.get("/"))


def test_what_is_the_teachers_own_stays(example):
    own = enrol(example, StudentValues("My own"), "tenor-f")
    lanterns = next(score for score in list_scores(example) if "Lanterns" in score.title)
    stand = open_stand(example, own.id, lanterns.id)
    remove_example(example)
    assert list_students(example) == (own,)
    assert [score.title for score in list_scores(example)] == [lanterns.title]
    assert open_part(example, stand).routed.places
    assert not has_example(example)


def test_an_own_copy_of_its_part_is_not_removed(studio):
    mine = add_score(studio, DEMO.read_bytes(), DEMO.name).score
    add_example(studio)
    remove_example(studio)
    assert [score.id for score in list_scores(studio)] == [mine.id]


def test_the_first_page_tells_how_it_went(example):
    found = {card.student.name: card for card in cards(example)}
    last = found["Mira Holt"].last
    assert last is not None
    assert (last.title, last.notes) == ("Lanterns on the Quay", 67)
    assert last.right >= 60
    assert 0 < last.off_cents < 10
    assert found["Jonas Feld"].student.reach == 5.0


def test_its_demo_part_is_the_one_of_the_manual(example):
    lanterns = next(score for score in list_scores(example) if "Lanterns" in score.title)
    assert score_data(example, lanterns.id) == DEMO.read_bytes()
