"""Trills: the upper note by key and accidental, and how a slide-brass player makes them."""

import pytest
from musicxml_build import attributes, note, notes, part, score

from handslide.edges.musicxml.read import read_score
from handslide.edges.musicxml.trills import read_trills
from handslide.ground.pitch import parse_pitch
from handslide.instrument.trills import trill_way
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.mark.markjson import mark_json
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

SAY = speech("en")
TRILL = "<ornaments><trill-mark/>{}</ornaments>"


def trilled(name, inside=""):
    return note(name, notations=TRILL.format(inside))


def uppers(content):
    opened = read_score(score(part(content)))
    return [trill.upper.name for trill in read_trills(opened, opened.read_part())]


def test_the_upper_note_is_the_next_letter_as_the_key_has_it():
    line = trilled("D4") + trilled("E4") + trilled("A3") + trilled("B3")
    assert uppers(line) == ["E4", "F4", "B3", "C4"]
    flats = attributes().replace("<time>", "<key><fifths>-3</fifths></key><time>", 1)
    assert uppers(flats + line) == ["Eb4", "F4", "Bb3", "C4"]


def test_an_accidental_over_the_trill_or_before_it_counts():
    mark = '<wavy-line type="start"/><accidental-mark>{}</accidental-mark>'
    line = trilled("D4", mark.format("flat")) + trilled("E4", mark.format("sharp"))
    assert uppers(line + notes("r r")) == ["Eb4", "F#4"]
    assert uppers(note("F#4") + trilled("E4") + trilled("E4") + notes("r")) == ["F#4", "F#4"]
    shake = note("D4", notations="<ornaments><shake/></ornaments>")
    assert uppers(shake + notes("r r r")) == ["E4"]


def test_a_transposed_part_trills_to_what_sounds():
    shift = "<transpose><diatonic>-8</diatonic><chromatic>-14</chromatic></transpose>"
    content = attributes().replace("</attributes>", f"{shift}</attributes>")
    assert uppers(content + trilled("E5") + notes("r r r")) == ["Eb4"]


def way(horn, low, valves, partial, high):
    book = make_setup(horn).book
    midi = parse_pitch(low).midi
    (place,) = [p for p in book.places(midi) if (p.valves, p.partial) == (valves, partial)]
    return trill_way(book, midi, place, parse_pitch(high).midi)


@pytest.mark.parametrize(
    ("low", "partial", "high", "kind"),
    [
        # The whole-tone lip trills of the tenor (common practice): 8th to 9th and 9th to 10th
        # partials, so B flat 4 to C5 in 1st, A4 to B4 in 2nd, F4 to G4 in 6th.
        ("Bb4", 8, "C5", "lip"), ("A4", 8, "B4", "lip"), ("F4", 8, "G4", "lip"),
        ("C5", 9, "D5", "lip"),
        # Two positions to and fro are too far for an arm.
        ("Bb3", 4, "C4", "impossible"), ("F3", 3, "G3", "impossible"),
    ],
)  # fmt: skip
def test_lip_and_impossible_trills(low, partial, high, kind):
    assert way("tenor", low, (), partial, high).kind == kind


def test_a_slide_trill_says_how_far_and_how_quick():
    found = way("tenor", "A3", (), 4, "Bb3")
    assert found.kind == "slide" and found.way_m == pytest.approx(0.08, abs=0.01)
    # Minimum-jerk moves: the peak speed is 1.875 times the mean.
    assert found.notes_s == pytest.approx(2.0 / (1.875 * found.way_m))


def test_a_valve_can_trill():
    # C3 with the F valve in 1st and, on the same spot, B flat 2 open are a whole tone apart.
    found = way("tenor-f", "Bb2", (), 2, "C3")
    assert found.kind == "valve" and found.upper.valves == ("F",)


def test_trills_in_the_report_and_in_json():
    content = (
        trilled("Bb4") + trilled("Bb2") + trilled("A3", "<accidental-mark>flat</accidental-mark>")
    )
    one = choose_for(
        read_score(score(part(content + trilled("B1")))), make_setup("tenor"), MarkOptions()
    )
    rows = mark_json(SAY, one)["trills"]
    assert [(row["note"], row["upper"], row["kind"]) for row in rows] == [
        ("Bb4", "C5", "lip"), ("Bb2", "C3", "impossible"), ("A3", "Bb3", "slide"),
        ("B1", "C2", "impossible"),
    ]  # fmt: skip
    assert rows[0]["upper_place"]["partial"] == 9 and rows[0]["way_mm"] == 0.0
    sections = {section.heading: section for section in one.report(SAY)}
    texts = [row[1] for row in sections["Trills"].rows]
    assert texts[0] == "B♭4 to C5: with the lip, in 1st"
    assert "can't be played" in texts[3] and "not possible" in texts[1]


def test_an_upper_note_that_only_a_valve_gives_is_said_to_lie_there():
    # B flat 1 is the open pedal; C2 lies on the F valve only, at the slide's end.
    line = trilled("Bb1") + trilled("Eb1") + notes("r r")
    one = choose_for(read_score(score(part(line))), make_setup("tenor-f"), MarkOptions())
    texts = [SAY.fact(row.told) for row in one.trills]
    assert texts[0].startswith("B♭1 to C2: not possible in 1st; C2 would be ")
    assert "with the F valve" in texts[0]
    plain = choose_for(read_score(score(part(line))), make_setup("tenor"), MarkOptions())
    assert SAY.fact(plain.trills[0].told).endswith("there is no C2")
