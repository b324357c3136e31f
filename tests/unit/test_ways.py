"""Two ways of a question side by side: the same music, each with its own marks and path."""

import re
from pathlib import Path

import pytest
from lxml import etree
from questions import question_about

from handslide.edges.engraving.screen import for_screen
from handslide.edges.musicxml.marks import write_marks
from handslide.edges.musicxml.read import open_score
from handslide.edges.typesetting.screen import screen_svg
from handslide.jobs.profile.ways import Ways, WaysInPart, question_png, ways_words
from handslide.sheets.shapes import Circle, Picture
from handslide.sheets.ways import Ruler, WayNote, WayRow, way_shapes
from handslide.words.speech import speech

SCORES = Path(__file__).parents[1] / "scores"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def slama():
    """C3 in the middle of a scale: with the valve in 1st, or in 6th."""
    score = open_score(SCORES / "Slama_01.musicxml")
    part = score.read_part(None, None)
    question, setup = question_about(part, 50)
    return WaysInPart(Ways(setup, question), score, part)


def marks_and_heads(svg):
    """The marks of a way by the note that they stand over, from their place on the page."""
    root = etree.fromstring(svg)
    heads = {}
    for group in root.iter(f"{SVG}g"):
        if (group.get("class") or "").split()[:1] == ["note"]:
            use = next(group.iter(f"{SVG}use"))
            heads[group.get("data-note")] = float(re.findall(r"-?[\d.]+", use.get("transform"))[0])
    found = {}
    for text in root.iter(f"{SVG}text"):
        if (text.get("class") or "").startswith("mark"):
            middle = float(text.get("x")) + 100
            note = min(heads, key=lambda name: abs(heads[name] + 100 - middle))
            found[note] = text.text
            assert note == text.get("data-note")
    return found


def test_each_way_has_its_marks_over_the_notes_that_differ_and_their_neighbours(slama):
    first, second = slama.engraved(150.0)
    assert len(first) == len(second) == 1
    one, other = marks_and_heads(first[0].svg), marks_and_heads(second[0].svg)
    assert list(one.values()) == ["T♭2", "T1", "4"]
    assert list(other.values()) == ["T♭2", "6", "4"]
    assert list(one) == list(other)


def test_both_ways_are_laid_out_alike_and_have_names_of_their_own(slama):
    (first,), (second,) = slama.engraved(150.0)
    assert (first.width_mm, first.height_mm) == (second.width_mm, second.height_mm)
    assert [note.x_mm for note in first.notes] == [note.x_mm for note in second.notes]
    names = [set(re.findall(r'\bid="([^"]+)"', row.svg)) for row in (first, second)]
    assert names[0] and not names[0] & names[1]
    for row, ids in zip((first, second), names):
        assert set(re.findall(r'href="#([^"]+)"', row.svg)) <= ids


def test_the_path_goes_where_the_slide_goes(slama):
    (first,), (second,) = slama.engraved(150.0)
    at = next(k for k, note in enumerate(first.notes) if note.differs)
    assert [note.differs for note in second.notes].count(True) == 1
    # C3 on a tenor horn: the closed stop with the F valve, 6th position without.
    assert first.notes[at].extension_mm < 20 < 480 < second.notes[at].extension_mm
    assert (first.notes[at].sign, second.notes[at].sign) == ("T", "")
    xs = [note.x_mm for note in first.notes]
    assert xs == sorted(xs)


def test_fingerings_that_stand_in_the_part_give_nothing_away():
    score = open_score(SCORES / "Slama_01.musicxml")
    part = score.read_part(None, None)
    write_marks(score, part, dict.fromkeys(range(len(part.notes)), "5"))
    question, setup = question_about(part, 50)
    (row,), _ = WaysInPart(Ways(setup, question), score, part).engraved(150.0)
    assert list(marks_and_heads(row.svg).values()) == ["T♭2", "T1", "4"]
    assert ">5<" not in row.svg


def test_a_narrow_screen_breaks_the_line():
    score = open_score(SCORES / "School_for_Trombone_006.musicxml")
    part = score.read_part(None, None)
    question, setup = question_about(part, 30)
    ways = WaysInPart(Ways(setup, question), score, part)
    wide, _ = ways.engraved(150.0)
    narrow, _ = ways.engraved(60.0)
    assert len(narrow) > len(wide)
    assert all(row.width_mm <= 60.0 for row in narrow)
    assert sum(len(row.notes) for row in narrow) == sum(len(row.notes) for row in wide)


def test_the_png_is_a_picture_of_sane_size(slama):
    ways = slama.ways
    png = question_png(speech("en"), ways.setup, ways.question, slama.score, slama.part)
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = (int.from_bytes(png[at : at + 4], "big") for at in (16, 20))
    assert 400 <= width <= 1400
    assert 400 <= height <= 1500


@pytest.mark.parametrize(
    ("code", "first", "second"),
    [
        ("en", "C3 in 1st with the F valve", "C3 in 6th"),
        ("de", "c in der 1.\u00a0Lage mit F-Ventil", "c in der 6.\u00a0Lage"),
    ],
)
def test_the_ways_are_told_in_words(slama, code, first, second):
    told = ways_words(speech(code), slama.ways.setup, slama.ways.question)
    assert [way.split(", ")[1] for way in told] == [first, second]


def test_a_screen_gets_the_music_within_the_drawing(slama):
    (row,), _ = slama.engraved(150.0)
    row = WayRow(for_screen(row.svg), row.width_mm, row.height_mm, row.notes)
    shapes, height = way_shapes([row], slama.ruler)
    drawn = etree.fromstring(screen_svg(shapes, row.width_mm, height, label="1"))
    inner = drawn.find(f"{SVG}svg")
    assert float(inner.get("width")) == pytest.approx(row.width_mm, abs=0.01)
    assert len(list(inner.iter(f"{SVG}text"))) >= 3
    assert len(list(drawn.iter(f"{SVG}circle"))) == len(row.notes)


def test_further_out_is_lower():
    ruler = Ruler(((1, 0.0), (7, 600.0)), 620.0)
    notes = (WayNote(20.0, 0.0, "", False), WayNote(30.0, 600.0, "", True))
    shapes, height = way_shapes([WayRow("<svg/>", 60.0, 10.0, notes)], ruler)
    near, far = [shape for shape in shapes if isinstance(shape, Circle)]
    assert near.y_mm < far.y_mm < height
    assert far.radius_mm > near.radius_mm
    assert [shape.height_mm for shape in shapes if isinstance(shape, Picture)] == [10.0]
