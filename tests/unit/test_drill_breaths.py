"""Where an exercise breathes: a line goes on to the note that it arrives on (common practice), and
what the words over an exercise say stands in its notes."""

from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest

from handslide.drills import warmup
from handslide.drills.finish import with_breaths
from handslide.drills.levels import LEVELS, level_of
from handslide.drills.piece import DrillNote
from handslide.ground.pitch import parse_pitch
from handslide.jobs.practice.drill import DrillWishes, at_level, drill_pieces
from handslide.jobs.setup import make_setup


def bar(*beats):
    """Notes of so many quarters; a negative number is a rest."""
    note = parse_pitch("Bb2")
    return tuple(DrillNote(note if n > 0 else None, Fraction(abs(n))) for n in beats)


def airs(bars):
    """The bars, counted from 1, that end with a breath or a rest."""
    return [n for n, row in enumerate(bars, 1) if row[-1].breath or row[-1].pitch is None]


def test_nobody_breathes_before_the_note_that_a_line_arrives_on():
    scale = [bar(1, 1), bar(1, 1), bar(1, 1), bar(1, 1), bar(2)]
    short = with_breaths(scale, 2)
    assert airs(short) == [2, 3, 5] and short[-1] == bar(1, -1)
    assert airs(with_breaths(scale, 2, on=True)) == [2]
    figure = [bar(1, 1, 1, 1), bar(1, 1, 1, 1), bar(3, -1)]
    assert airs(with_breaths(figure, 2)) == [1, 3]
    assert airs(with_breaths(figure, 2, on=True)) == [3]
    # A long note that goes on isn't an arrival.
    assert airs(with_breaths([bar(2, 2), bar(2, 2), bar(4), bar(2, 2)], 2)) == [2, 3]


@pytest.mark.parametrize("kind", ["scales", "arpeggios", "patterns", "five-notes"])
@pytest.mark.parametrize("level", LEVELS)
def test_no_exercise_breathes_before_its_last_note(kind, level):
    for seed in range(6):
        pieces, _ = drill_pieces(make_setup("tenor"), kind, DrillWishes(level=level), seed)
        for one in pieces:
            played = [note for note in one.bars[-1] if note.pitch is not None]
            alone = len(played) == 1
            assert not (alone and one.bars[-2][-1].breath), (kind, level, seed, one.title)


def test_where_the_words_say_breathe_there_is_a_breath():
    pieces, _ = drill_pieces(make_setup("tenor"), "intonation", DrillWishes(), 1)
    for one in pieces:
        for last, first in pairwise(one.notes):
            if first.beats >= 3:
                assert last.breath or last.pitch is None


@pytest.mark.parametrize("seed", range(4))
def test_long_tones_of_a_warm_up_swell_as_it_says(seed):
    level = level_of("first-year")
    long, *_ = warmup.make(at_level(make_setup("tenor"), level), level, Random(seed))
    assert long.notes[0].dynamic == "p" and not len(long.bars) % 2
    for grows, dies in zip(long.bars[::2], long.bars[1::2]):
        assert {note.swell for note in grows} == {"<"} and {note.swell for note in dies} == {">"}
        assert dies[-1].breath


def test_a_short_arm_has_as_many_exercises_as_asked_for():
    for seed in range(6):
        setup = make_setup("tenor", reach=3)
        pieces, _ = drill_pieces(setup, "five-notes", DrillWishes(level="first-year"), seed)
        assert len(pieces) == 4


@pytest.mark.parametrize("kind", ["accuracy", "glissandi", "slurs"])
@pytest.mark.parametrize("tempo", [50, 160])
def test_every_second_bar_ends_with_a_breath_at_any_tempo(kind, tempo):
    pieces, _ = drill_pieces(make_setup("tenor-f"), kind, DrillWishes(tempo_qpm=tempo), 1)
    for one in pieces:
        assert set(range(2, len(one.bars), 2)) <= set(airs(one.bars)), one.title
