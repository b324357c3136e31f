"""The studio and parts that came as PDF: taken in, shown, put right, printed."""

import re

import pytest
from pdf_sheets import SCORES, SLAMA, duet, sheet
from studio_pages import client, words

from handslide.edges.store.learnt import select_unlearnt
from handslide.edges.store.stands import select_locks
from handslide.edges.store.students import StudentValues
from handslide.ground.errors import BadUsage, NotFound, ScoreError
from handslide.studio.choosing.consent import give_consent
from handslide.studio.parts.edits import lock_place, look_to
from handslide.studio.parts.files import marked_score, stand_pdf
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.reading import (
    corrections_of,
    open_source,
    read_pdf_part,
    redo_correction,
    say_clef,
    say_key,
    say_note,
    say_right,
    say_sign,
    steps_of,
    undo_correction,
)
from handslide.studio.parts.scores import add_score, get_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student
from handslide.words.speech import speech


@pytest.fixture
def row(studio):
    return add_score(studio, sheet(), "etude.pdf").score


@pytest.fixture
def stand(studio, row):
    student = add_student(studio, StudentValues("Mira Holt"))
    add_horn(studio, student.id, "tenor-f")
    return open_stand(studio, student.id, row.id)


def names(studio, row):
    return [note.sounding.name for note in open_source(studio, row).score.read_part().notes]


def test_a_pdf_is_a_part_as_any_other(studio, row, stand):
    assert row.pdf and row.title == "Etude"
    assert add_score(studio, sheet(), "again.pdf").known
    score = add_score(studio, SLAMA.read_bytes(), "slama.musicxml").score
    assert not score.pdf
    assert names(studio, row) == names(studio, score)
    part = open_part(studio, stand)
    printed = stand_pdf(speech("en"), studio, part)
    assert printed.name.endswith(".pdf") and printed.data.startswith(b"%PDF-")
    file = marked_score(studio, part)
    assert file.name.endswith(".musicxml") and b"<fingering" in file.data


def test_what_is_said_holds_whenever_it_is_read_and_can_be_taken_back(studio, row):
    before = names(studio, row)
    say_note(studio, row, "1.1.1.1", "Bb1")
    assert names(studio, row)[0] == "Bb1"
    say_clef(studio, row, "1.2", "tenor")
    say_key(studio, row, "1.2", "-3")
    assert steps_of(studio, row).done == 3
    said = corrections_of(studio, row)
    assert [value for _, value in said.clefs] == ["C4"]
    assert [value for _, value in said.keys] == [-3]
    for _ in range(2):
        undo_correction(studio, row)
    assert names(studio, row) == ["Bb1", *before[1:]]
    undo_correction(studio, row)
    assert names(studio, row) == before
    undo_correction(studio, row)  # nothing more
    redo_correction(studio, row)
    assert names(studio, row)[0] == "Bb1"
    say_note(studio, row, "1.1.1.1", "")  # as it is read
    assert names(studio, row) == before
    assert steps_of(studio, row) == steps_of(studio, get_score(studio, row.id))


def test_what_is_not_there_cannot_be_put_right(studio, row):
    with pytest.raises(NotFound):
        say_note(studio, row, "1.1.1.99", "Bb1")
    with pytest.raises(NotFound):
        say_clef(studio, row, "7.1", "tenor")
    with pytest.raises(NotFound):
        say_sign(studio, row, "never-seen", "clef.F")
    with pytest.raises(BadUsage):
        say_clef(studio, row, "1.1", "mezzo")
    other = add_score(studio, SLAMA.read_bytes(), "slama.musicxml").score
    with pytest.raises(BadUsage):
        read_pdf_part(studio, other)
    assert steps_of(studio, row).done == 0


def test_locks_follow_their_notes(studio, row, stand):
    part = open_part(studio, stand)
    number = next(
        n
        for n in range(3, len(part.prepared.pitches))
        if len(part.prepared.setup.book.places(part.prepared.pitches[n].midi)) > 1
    )
    place = part.prepared.setup.book.places(part.prepared.pitches[number].midi)[-1]
    lock_place(studio, stand, number, place.valves, place.partial)
    give_consent(studio, earlier=False)  # what was locked before isn't learnt from
    look_to(studio, stand, number + 2)
    say_note(studio, row, "1.1.1.1", "none")
    with studio.store.read() as db:
        locks = select_locks(db, stand)
        assert select_unlearnt(db, stand) == {number - 1}
    assert locks == {number - 1: (place.valves, place.partial)}
    assert open_part(studio, stand).seen_to == number + 1
    undo_correction(studio, row)
    with studio.store.read() as db:
        assert list(select_locks(db, stand)) == [number]
    assert open_part(studio, stand).seen_to == number + 2


def test_the_page_shows_all_notes_and_puts_them_right(studio, row, stand):
    page = client(studio)
    answer = page.get(f"/parts/{row.id}/read")
    assert answer.status_code == 200
    assert len(re.findall(r'class="spot', answer.text)) == 93 + 3  # three systems
    assert "bass clef" in words(answer)
    shown = page.get(f"/parts/{row.id}/read/pages/1.png")
    assert shown.content.startswith(b"\x89PNG")
    tag = shown.headers["ETag"]
    again = page.get(f"/parts/{row.id}/read/pages/1.png", headers={"If-None-Match": tag})
    assert again.status_code == 304
    assert page.get(f"/parts/{row.id}/read/pages/9.png").status_code == 404
    said = {"kind": "note", "place": "1.1.1.1", "value": "Bb1"}
    answer = page.post(f"/parts/{row.id}/read", data=said)
    assert answer.headers["Location"] == f"/parts/{row.id}/read?at=1.1.1.1#at-1.1.1.1"
    chosen = page.get(answer.headers["Location"])
    assert "B♭1" in words(chosen) and "as it is read" in words(chosen)
    assert "not a note" in words(page.get(f"/parts/{row.id}/read?at=1.1.1.2"))
    assert "Clef of this system" in words(page.get(f"/parts/{row.id}/read?at=1.2"))
    assert page.get(f"/parts/{row.id}/read?at=nothing").status_code == 200
    assert page.post(f"/parts/{row.id}/read/undo").status_code == 303
    assert steps_of(studio, row).done == 0
    assert page.post(f"/parts/{row.id}/read", data={"kind": "joke"}).status_code == 400
    assert "What was read from the PDF" in words(page.get(f"/stands/{stand}"))
    assert "What was read from the PDF" in words(page.get(f"/parts/{row.id}"))


def test_a_pdf_that_is_no_part_is_told_at_the_door(studio):
    page = client(studio)
    files = {"files": ("scan.pdf", b"%PDF-1.4\nnothing", "application/pdf")}
    answer = page.post("/parts", files=files)
    assert answer.status_code == 400
    assert "scan.pdf" in words(answer)


def test_a_pdf_with_unknown_signs_is_asked_about_inside(studio):
    data = (SCORES / "pdf" / "Marchesi_Op13_Vocalise_06-abcm2ps.pdf").read_bytes()
    row = add_score(studio, data, "vocalise.pdf").score
    page = client(studio)
    answer = page.get(f"/parts/{row.id}")
    assert answer.headers["Location"] == f"/parts/{row.id}/read"
    asked = page.get(f"/parts/{row.id}/read")
    assert "Say first what the signs below are" in words(asked)
    with pytest.raises(ScoreError, match="aren't known"):
        open_source(studio, row)
    unknown = read_pdf_part(studio, row).reading.unknown
    clef = next(sign for sign in unknown if sign.guess == "clef.F")
    said = {"kind": "sign", "place": clef.mark, "value": "clef.F"}
    assert page.post(f"/parts/{row.id}/read", data=said).status_code == 303
    assert page.get(f"/parts/{row.id}").status_code == 200
    assert len(names(studio, row)) == 121
    undo_correction(studio, row)
    assert page.get(f"/parts/{row.id}").status_code == 303


def test_doubtful_notes_are_said_to_be_right(studio):
    data = (SCORES / "pdf" / "Slama_01-musixtex.pdf").read_bytes()
    row = add_score(studio, data, "etude.pdf").score
    doubtful = len(read_pdf_part(studio, row).doubtful)
    assert doubtful > 20
    say_right(studio, row, "1.1")
    assert 0 < len(read_pdf_part(studio, row).doubtful) < doubtful
    say_right(studio, row, "")
    assert not read_pdf_part(studio, row).doubtful
    with pytest.raises(NotFound):
        say_right(studio, row, "")
    for _ in range(2):
        undo_correction(studio, row)
    assert len(read_pdf_part(studio, row).doubtful) == doubtful


def test_another_staff_of_a_score_is_read(studio):
    row = add_score(studio, duet(), "duet.pdf").score
    page = client(studio)
    first = names(studio, row)
    assert "Which staff of each system is the part?" in words(page.get(f"/parts/{row.id}/read"))
    said = {"kind": "staff", "value": "2"}
    assert page.post(f"/parts/{row.id}/read", data=said).status_code == 303
    answer = page.get(f"/parts/{row.id}/read").text
    assert re.search(r'<option value="2" selected>', answer)
    second = names(studio, row)
    assert second != first and len(second) > 3
    assert page.post(f"/parts/{row.id}/read", data={**said, "value": "9"}).status_code == 400
