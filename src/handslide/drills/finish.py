"""What every exercise gets before it is printed: breaths, a dynamic, a fitting signature."""

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, permutations
from typing import TypeVar

from handslide.drills.levels import FIRST_YEAR, Level
from handslide.drills.piece import DrillNote, Piece
from handslide.drills.signs import Bar, in_best_key

Row = TypeVar("Row")
# Tritones, sevenths, ninths in semitones: what nobody should have to find from one exercise to the
# next, nor a first year at all.
HARD_STEPS = frozenset((6, 10, 11, 13, 14))
# A line is played in one breath no longer than this, after the first year; there, two bars.
_BREATH_S = 8.0
_BARS_TOGETHER = 2
_LONG_BEATS = 3
_MOST_ORDERED = 6
# How loud an exercise is played, by level: mostly in the middle.
_LOUDNESS = {
    "first-year": ("mf", "mf", "mp", "f"),
    "second-year": ("mf", "mp", "f", "p"),
    "advanced": ("mf", "p", "f", "mp"),
}


def finished(
    pieces: Sequence[Piece], level: Level, rng: random.Random, shift: int = 0
) -> tuple[Piece, ...]:
    """The pieces with breath marks, a dynamic, and where they have none the signature that needs
    the fewest accidentals (``shift`` as in `handslide.drills.signs.in_best_key`)."""
    loudness = list(_LOUDNESS[level.name])
    rng.shuffle(loudness)
    found = []
    for number, one in enumerate(pieces):
        if one.key.mode == "none" and not one.key.fifths:
            one = in_best_key(one, shift=shift)
        bars, teacher = (
            _with_dynamic(
                with_breaths(voice, _together(one, level)), loudness[number % len(loudness)]
            )
            for voice in (one.bars, one.teacher)
        )
        found.append(replace(one, bars=bars, teacher=teacher))
    return tuple(found)


def _together(piece: Piece, level: Level) -> int:
    """How many bars are played in one breath."""
    if level.name == FIRST_YEAR:
        return _BARS_TOGETHER
    bar_s = float(piece.bar_beats) * 60.0 / piece.tempo_qpm
    return max(_BARS_TOGETHER, int(_BREATH_S / bar_s))


def with_breaths(bars: Sequence[Bar], together: int) -> tuple[Bar, ...]:
    """A breath or a rest in at least every so many bars, after a note that doesn't lead on.

    A long last note ends a beat earlier for it.
    """
    found = list(bars)
    since = 0
    for number, bar in enumerate(found):
        since = 0 if _is_airy(bar) else since + 1
        if since < together:
            continue
        if number == len(found) - 1:
            *rest, last = bar
            if last.beats >= _LONG_BEATS and not last.fermata:
                end = replace(last, beats=last.beats - 1), DrillNote(None, Fraction(1))
                found[number] = (*rest, *end)
                break
            number -= 1
            since -= 1
        near = range(number, max(-1, number - since), -1)
        ends = ((back, _end_of_phrase(found[back])) for back in near)
        back, at = next((end for end in ends if end[1] is not None), (number, None))
        # A slur over all of it ends here.
        some, at = found[back], len(found[back]) - 1 if at is None else at
        if not (some[at].gliss or some[at].tie):
            here = replace(some[at], breath=True, slur=False)
            found[back] = (*some[:at], here, *some[at + 1 :])
            since = number - back
    return tuple(found)


def _is_airy(bar: Bar) -> bool:
    return any(note.pitch is None or note.breath for note in bar)


def _end_of_phrase(bar: Bar) -> int | None:
    """The note of a bar after which one breathes: the last one that doesn't lead to the next."""
    free = [k for k, note in enumerate(bar) if not (note.slur or note.gliss or note.tie)]
    return free[-1] if free else None


def _with_dynamic(bars: Sequence[Bar], dynamic: str) -> tuple[Bar, ...]:
    """The bars with a dynamic at their first note, unless they have one somewhere."""
    if any(note.dynamic for bar in bars for note in bar):
        return tuple(bars)
    if not bars:
        return ()
    first: list[DrillNote] = list(bars[0])
    at = next((k for k, note in enumerate(first) if note.pitch is not None), None)
    if at is None:
        return tuple(bars)
    first[at] = replace(first[at], dynamic=dynamic)
    return (tuple(first), *bars[1:])


def well_joined(rows: Sequence[Row], ends: Callable[[Row], tuple[int, int]]) -> list[Row]:
    """The rows in the order nearest to their own in which the fewest begin with a hard step from
    the last note of the one before. ``ends`` gives the first and the last MIDI note of a row."""

    def hard(order: Sequence[Row]) -> int:
        return sum(abs(ends(b)[0] - ends(a)[1]) in HARD_STEPS for a, b in pairwise(order))

    found: list[Row] = []
    for first in range(0, len(rows), _MOST_ORDERED):
        some = list(rows[first : first + _MOST_ORDERED])
        if not hard([*found[-1:], *some]):
            found += some
            continue
        found += min(permutations(some), key=lambda order: hard([*found[-1:], *order]))
    return found


def ends_of(piece: Piece) -> tuple[int, int]:
    """The first and the last MIDI note of a piece."""
    midis = [note.pitch.midi for note in piece.notes if note.pitch is not None]
    return midis[0], midis[-1]
