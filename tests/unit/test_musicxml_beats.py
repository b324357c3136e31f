"""Where the metronome beats along a part."""

import pytest
from musicxml_build import attributes, notes, part, read, repeat, score, tempo

from handslide.edges.musicxml.read import read_score


def beats(found):
    return " ".join(f"{'>' if first else ''}{second:g}" for second, first in found.beats_s)


def test_every_measure_begins_with_a_strong_beat_and_repeats_are_followed():
    found = read(notes("C3 C3 C3 C3") + repeat(), notes("D3 D3 D3 D3"))
    assert beats(found) == ">0 1 2 3 >4 5 6 7 >8 9 10 11"


@pytest.mark.parametrize(
    ("count", "unit", "expected"),
    [
        (6, 8, ">0 1.5 >3 4.5"),
        (2, 2, ">0 2 >4 6"),
        (3, 8, ">0 0.5 1 >1.5 2 2.5"),
        (5, 4, ">0 1 2 3 4 >5 6 7 8 9"),
    ],
)
def test_the_beat_is_that_of_the_meter(count, unit, expected):
    length = round(count * 8 / unit)
    row = notes("C3", duration=length, kind="")
    found = read(attributes(2, count, unit) + row, row)
    assert beats(found) == expected


def test_an_upbeat_counts_from_its_end():
    found = read(notes("C3"), notes("C3 C3 C3 C3"))
    assert beats(found) == "0 >1 2 3 4"


def test_an_upbeat_of_half_a_beat_has_no_beat_of_its_own():
    first = attributes(2) + notes("C3", duration=1, kind="eighth")
    found = read(first, notes("C3 C3 C3 C3", duration=2))
    assert beats(found) == ">0.5 1.5 2.5 3.5"


def test_a_new_tempo_changes_the_distance():
    found = read_score(
        score(part(tempo(60) + notes("C3 C3 C3 C3"), tempo(120) + notes("C3 C3 C3 C3")))
    ).read_part()
    assert beats(found) == ">0 1 2 3 >4 4.5 5 5.5"
