"""What a mark says: every mark that we write is read as its place, and what people type."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handslide.edges.files.horns import HORN_FILES, load_horn
from handslide.ground.pitch import parse_pitch
from handslide.instrument.markreading import names_valve, read_mark, says_position
from handslide.instrument.marks import UNPLAYABLE, mark
from handslide.instrument.markstyle import COUNTINGS, NUMERALS, VALVE_SIGNS, MarkStyle
from handslide.instrument.places import find_places

STYLES = [
    MarkStyle(signs, counting, numerals)
    for signs, counting, numerals in itertools.product((None, *VALVE_SIGNS), COUNTINGS, NUMERALS)
]
HORNS = {name: load_horn(name).tuned() for name in HORN_FILES.ours}


def ascii_of(text):
    """As it is typed on a plain keyboard."""
    return text.replace("♭", "b").replace("♯", "#").replace("½", ".5").replace("·", "")


@pytest.mark.sample
@pytest.mark.parametrize("name", HORNS)
def test_every_mark_of_every_style_is_read_as_its_place(name):
    horn = HORNS[name]
    for midi in range(22, 85):
        places = find_places(horn, midi)
        for style in STYLES if midi % 3 == 0 else STYLES[:1]:
            texts = [mark(horn, place, style) for place in places]
            for place, text in zip(places, texts):
                twins = tuple(other for other, its in zip(places, texts) if its == text)
                # In the style in force a mark means the place that it was written for.
                assert read_mark(horn, places, text, style)[: len(twins)] == twins
                # In another style it can mean that place.
                assert place in read_mark(horn, places, ascii_of(text))
                assert says_position(text) and says_position(ascii_of(text))
                assert place.valves or not names_valve(text)


@pytest.mark.parametrize(
    ("horn", "note", "texts", "valves", "partial"),
    [
        ("tenor", "C3", "6 VI vi ６ 6. 6th (6) [6] 6.0", (), 3),
        ("tenor", "Gb4", "♯3 #3 3# 3+ +3 3- 3 III 2.69", (), 7),
        ("tenor", "D4", "1 I", (), 5),
        ("tenor", "D4", "4 IV 4+ b4 4.1", (), 6),
        ("tenor-f", "Eb2", "T3½ T3.5 F3.5 F·3½ V3½ V·3½ V·III½ 3½T T3 t3,5 F31/2 tr3.5", ("F",), 2),
        ("tenor-f", "E2", "T2 F2 V2 F·♭2 Fb2 T♭2 Tb2 Q2 V·♭II T♭II F2.3 F-2", ("F",), 2),
        ("tenor-f", "E2", "7 VII", (), 2),
        ("tenor-f", "C2", "T7½ T7 V7.5 T6", ("F",), 2),
        ("tenor-f", "C3", "T1 F1 V1 V·I TI F·I", ("F",), 3),
        ("bass-independent", "D2", "D1 D·1 FGb1 F+Gb1 V12·1 TM1 V1+2·1 F/Gb1", ("F", "Gb"), 2),
        ("bass-independent", "F2", "F1 F·1 V1·1 T1", ("F",), 2),
    ],
)  # fmt: skip
def test_how_people_and_programs_write_it(horn, note, texts, valves, partial):
    places = find_places(HORNS[horn], parse_pitch(note).midi)
    for text in texts.split():
        first, *_ = read_mark(HORNS[horn], places, text) or (None,)
        assert first is not None and (first.valves, first.partial) == (valves, partial), text


def test_a_text_with_two_readings_has_both():
    horn = HORNS["tenor-f"]
    read = read_mark(horn, find_places(horn, parse_pitch("C3").midi), "VI")
    assert {place.valves for place in read} == {(), ("F",)}


def test_a_half_in_three_spellings():
    horn = HORNS["tenor-f"]
    places = find_places(horn, parse_pitch("Eb2").midi)
    for text in ("T3½", "T 3 1/2", "F 3 ½", "T31/2"):
        assert [p.valves for p in read_mark(horn, places, text)] == [("F",)], text


@pytest.mark.parametrize(
    ("horn", "note", "text"),
    [
        ("tenor", "C3", "4"), ("tenor", "C3", "1"), ("tenor", "C3", "T1"), ("tenor", "F3", "2"),
        ("tenor-f", "F2", "T3"), ("tenor", "Bb3", "0"), ("tenor", "Bb3", ""), ("tenor", "D3", "x"),
        ("tenor", "D3", "p.23"), ("tenor", "C3", UNPLAYABLE), ("tenor", "C3", "1/2"),
        ("tenor", "C3", "6 6"), ("tenor", "C3", "♭6♭"), ("tenor", "Bb3", "10"),
    ],
)  # fmt: skip
def test_what_is_no_place_of_its_note(horn, note, text):
    assert read_mark(HORNS[horn], find_places(HORNS[horn], parse_pitch(note).midi), text) == ()


def test_what_is_written_as_a_mark():
    for text in ("4", "T1", "F·♭2", "V12·3", "Gb3", "VI", "3 1/2", "7½", "2b", "(3)", "tr4"):
        assert says_position(text), text
    for text in ("", "x", UNPLAYABLE, "p.23", "legato", "1/2", "a tempo", "T", "6 6"):
        assert not says_position(text), text
    assert [names_valve(text) for text in ("T1", "F2", "VI", "4", "x")] == [
        True, True, False, False, False,
    ]  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=6), st.integers(34, 72))
def test_no_text_is_too_strange(text, midi):
    horn = HORNS["bass-dependent"]
    places = find_places(horn, midi)
    assert set(read_mark(horn, places, text)) <= set(places)
    says_position(text)
