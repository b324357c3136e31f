"""How a place is written: whole within 0.2, ½ from 0.35 to 0.65, ♭ and ♯ in between."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handslide.edges.files.horns import HORN_FILES, load_horn
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import parse_pitch
from handslide.instrument.marks import (
    mark,
    position_text,
    split_position,
    valve_sign,
)
from handslide.instrument.markstyle import COUNTINGS, NUMERALS, VALVE_SIGNS, MarkStyle, parse_style
from handslide.instrument.places import Place, find_places
from handslide.words.marks import legend
from handslide.words.speech import speech

SAY = speech("en")

STYLES = [
    MarkStyle(signs, counting, numerals)
    for signs, counting, numerals in itertools.product((None, *VALVE_SIGNS), COUNTINGS, NUMERALS)
]


def place(horn, note, partial, valves=()):
    """The place of a note on one partial and valve set."""
    found = find_places(horn, parse_pitch(note).midi)
    (only,) = [p for p in found if p.partial == partial and p.valves == valves]
    return only


@pytest.mark.parametrize(
    ("position", "text"),
    [
        # Whole within 0.2 of it, both ends included.
        (1.0, "1"), (3.8, "4"), (4.0, "4"), (4.2, "4"), (6.016, "6"), (7.19, "7"),
        # ♭ further out than the nearest whole position, ♯ further in.
        (4.2001, "♭4"), (4.3499, "♭4"), (2.322, "♭2"), (3.6501, "♯4"), (3.7999, "♯4"),
        (1.69, "♯2"), (2.69, "♯3"),
        # ½ from 0.35 to 0.65, both ends included.
        (4.35, "4½"), (4.5, "4½"), (4.65, "4½"), (3.62, "3½"), (7.396, "7½"), (1.5, "1½"),
        # The 5th partial lies 0.14 further in: still whole.
        (1.863, "2"), (5.863, "6"), (0.99, "1"),
        # Rounding of the last bit doesn't move a boundary.
        (4.2 + 1e-12, "4"), (3.8 - 1e-12, "4"), (4.35 - 1e-12, "4½"), (4.65 + 1e-12, "4½"),
    ],
)  # fmt: skip
def test_how_a_position_is_written(position, text):
    assert position_text(position) == text


@pytest.mark.parametrize(
    ("position", "text"),
    [(1.0, "I"), (3.62, "III½"), (2.32, "♭II"), (1.69, "♯II"), (7.0, "VII"), (12.0, "VII½"),
     (4.0, "IV"), (6.0, "VI"), (7.3, "♭VII")],
)  # fmt: skip
def test_roman_numerals(position, text):
    assert position_text(position, "roman") == text


@given(st.floats(1.0, 7.34))
def test_what_is_written_is_near_what_is_meant(position):
    sign, number = split_position(position)
    centre = {"": 0.0, "½": 0.5, "♭": 0.275, "♯": -0.275}[sign]
    reach = {"": 0.2, "½": 0.15, "♭": 0.075, "♯": 0.075}[sign]
    assert abs(position - (number + centre)) <= reach + 1e-6


@pytest.mark.parametrize(
    ("horn_name", "note", "partial", "valves", "text"),
    [
        # Teachers say for the F valve: E in a long 2nd, E♭ in 3½, D in 5th, D♭ in 6th, C in 7½
        # (common practice).
        ("tenor-f", "F2", 2, ("F",), "T1"),
        ("tenor-f", "E2", 2, ("F",), "T♭2"),
        ("tenor-f", "Eb2", 2, ("F",), "T3½"),
        ("tenor-f", "D2", 2, ("F",), "T5"),
        ("tenor-f", "Db2", 2, ("F",), "T6"),
        ("tenor-f", "C2", 2, ("F",), "T7½"),
        ("tenor-f", "C3", 3, (), "6"),
        ("tenor-f", "G4", 7, (), "♯2"),
        ("tenor-f", "Gb4", 7, (), "♯3"),
        ("tenor-f", "D4", 5, (), "1"),
        ("tenor-f", "D4", 6, (), "4"),
        # Two valves are named by the note that the closed horn gives.
        ("bass-independent", "F2", 2, ("F",), "F·1"),
        ("bass-independent", "Gb2", 2, ("Gb",), "G♭·1"),
        ("bass-independent", "Db2", 2, ("F", "Gb"), "D·2½"),
        ("bass-dependent", "D2", 2, ("F", "D"), "D·1"),
        ("contrabass-f", "C2", 2, ("C",), "C·1"),
    ],
)
def test_marks_of_the_default_style(horn_name, note, partial, valves, text):
    horn = load_horn(horn_name).tuned()
    assert mark(horn, place(horn, note, partial, valves), MarkStyle()) == text


@pytest.mark.parametrize(
    ("words", "texts"),
    [
        ("", ("F·1", "G♭·1", "D·♭2", "6")),
        ("thumb", ("T1", "M1", "TM♭2", "6")),
        ("letter", ("F·1", "G♭·1", "D·♭2", "6")),
        ("number", ("V1·1", "V2·1", "V12·♭2", "6")),
        ("letter, roman", ("F·I", "G♭·I", "D·♭II", "VI")),
    ],
)
def test_signs_of_two_valves(words, texts):
    horn = load_horn("bass-independent").tuned()
    places = (
        Place(("F",), 2, 0.0, 1.0),
        Place(("Gb",), 2, 0.0, 1.0),
        Place(("F", "Gb"), 2, 0.1, 2.3),
        Place((), 3, 0.5, 6.0),
    )
    assert tuple(mark(horn, p, parse_style(words)) for p in places) == texts


def test_signs_of_one_valve():
    horn = load_horn("tenor-f").tuned()
    signs = {s: valve_sign(horn, ("F",), MarkStyle(s)) for s in (None, *VALVE_SIGNS)}
    assert signs == {None: "T", "thumb": "T", "letter": "F", "number": "V"}
    assert valve_sign(horn, (), MarkStyle()) == ""


def test_counting_along_the_valve():
    # Some schools number the valve's own semitones: F in 1st, E in 2nd ... C in 6th.
    horn = load_horn("tenor-f").tuned()
    style = parse_style("valve")
    notes = ("F2", "E2", "Eb2", "D2", "Db2", "C2")
    got = [mark(horn, place(horn, n, 2, ("F",)), style) for n in notes]
    assert got == ["T1", "T2", "T3", "T4", "T5", "T6"]
    assert mark(horn, place(horn, "C3", 3), style) == "6"  # the open horn counts as ever


@pytest.mark.parametrize("word", ["arrows", "letters", "+", "number,typo"])
def test_an_unknown_style_word(word):
    with pytest.raises(BadUsage, match="is not a mark style: combine words out of thumb, letter"):
        parse_style(word)


@pytest.mark.parametrize("name", HORN_FILES.ours)
def test_marks_never_have_plus_or_minus_and_the_legend_has_every_sign(name):
    horn = load_horn(name).tuned()
    places = [p for midi in range(28, 80) for p in find_places(horn, midi)]
    for style in STYLES:
        text = "".join(mark(horn, p, style) for p in places)
        text += "".join(sign + meaning for sign, meaning in legend(SAY, horn, places, style))
        assert not set(text) & set("+-−±")
        for p in places:
            signs = [sign for sign, _ in legend(SAY, horn, [p], style)]
            if p.valves:
                assert valve_sign(horn, p.valves, style) in signs
            written = mark(horn, p, style).removeprefix(valve_sign(horn, p.valves, style))
            for sign in "♭♯½":
                # A row of its own for the sign, beside an example number.
                rows = [s for s in signs if sign in s and s not in valve_rows(horn, style)]
                assert bool(rows) == (sign in written), (p, style)


def valve_rows(horn, style):
    return {valve_sign(horn, valves, style) for valves in horn.valve_sets}


def test_the_legend_leaves_out_what_is_not_used():
    horn = load_horn("tenor-f").tuned()
    rows = legend(SAY, horn, [place(horn, "F3", 3), place(horn, "F2", 2, ("F",))], MarkStyle())
    assert [sign for sign, _ in rows] == ["2, 3 …", "T"]
    assert [sign for sign, _ in legend(SAY, horn, [], MarkStyle())] == ["2, 3 …"]
    roman = legend(SAY, horn, [place(horn, "G4", 7)], parse_style("roman"))
    assert [sign for sign, _ in roman] == ["II, III …", "♯II"]


def test_the_legend_says_how_valve_positions_are_counted():
    horn = load_horn("tenor-f").tuned()
    with_valve = [place(horn, "E2", 2, ("F",))]
    signs = [sign for sign, _ in legend(SAY, horn, with_valve, parse_style("valve"))]
    assert "with a valve" in signs
    signs = [sign for sign, _ in legend(SAY, horn, [place(horn, "F3", 3)], parse_style("valve"))]
    assert "with a valve" not in signs


@pytest.mark.parametrize(
    ("note", "partial", "valves", "words"),
    [
        ("C3", 3, (), "6th"),
        ("E2", 2, ("F",), "a long 2nd with the F valve"),
        ("F2", 2, ("F",), "1st with the F valve"),
        ("G4", 7, (), "a raised 2nd"),
        ("Eb2", 2, ("F",), "halfway between 3rd and 4th with the F valve"),
    ],
)
def test_places_in_words(note, partial, valves, words):
    horn = load_horn("tenor-f").tuned()
    assert SAY.place(place(horn, note, partial, valves)) == words


@pytest.mark.parametrize(
    ("number", "word"),
    [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (7, "7th"), (10, "10th"), (11, "11th"),
     (12, "12th"), (13, "13th")],
)  # fmt: skip
def test_ordinals(number, word):
    assert SAY.partial(number) == word
    # There is no 8th position.
    assert (SAY.position(number) == word) == (number <= 7)
