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
# A line is played in one breath no longer than this, after the first year, or than this on to the
# note that it arrives on; there, two bars.
_BREATH_S, _TO_ARRIVE_S = 8.0, 11.0
BARS_TOGETHER = 2
_LONG_BEATS, _LONG_ALONE = 3, 2
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
                with_breaths(voice, _together(one, level), on=_goes_on(one, level)),
                loudness[number % len(loudness)],
            )
            for voice in (one.bars, one.teacher)
        )
        found.append(replace(one, bars=bars, teacher=teacher))
    return tuple(found)


def _together(piece: Piece, level: Level) -> int:
    """How many bars are played in one breath."""
    if level.name == FIRST_YEAR:
        return BARS_TOGETHER
    return max(BARS_TOGETHER, int(_BREATH_S / _bar_s(piece)))


def _goes_on(piece: Piece, level: Level) -> bool:
    """Whether there is breath for one bar more, where the line arrives in it."""
    bars = _together(piece, level) + 1
    return level.name != FIRST_YEAR and bars * _bar_s(piece) <= _TO_ARRIVE_S


def _bar_s(piece: Piece) -> float:
    return float(piece.bar_beats) * 60.0 / piece.tempo_qpm


def with_breaths(bars: Sequence[Bar], together: int, *, on: bool = False) -> tuple[Bar, ...]:
    """A breath or a rest in at least every so many bars, after a note that doesn't lead on.

    Never before the note that a line arrives on: there it is taken a bar earlier, or, where the
    line goes ``on`` to it, after it. A long last note ends a beat earlier for it.
    """
    found = list(bars)
    since = 0
    for number, bar in enumerate(found):
        since = 0 if _is_airy(bar) else since + 1
        if since < together:
            continue
        last = number == len(found) - 1
        arrives = _arrives(found, number if last else number + 1)
        if arrives and on:
            continue
        if last and (shorter := _ends_earlier(bar)) is not None:
            found[number] = shorter
            break
        since = _breathe(found, number, since, earlier=last or arrives)
    return tuple(found)


def _arrives(bars: Sequence[Bar], number: int) -> bool:
    """Whether a bar has one note, and then a rest or the end."""
    bar = bars[number]
    alone = bar[0].pitch is not None and all(note.pitch is None for note in bar[1:])
    return alone and (len(bar) > 1 or number == len(bars) - 1)


def _ends_earlier(bar: Bar) -> Bar | None:
    """A last bar with a rest at its end; None where its last note is too short for one."""
    *rest, last = bar
    least = _LONG_BEATS if rest else _LONG_ALONE
    if last.beats < least or last.fermata:
        return None
    return (*rest, replace(last, beats=last.beats - 1), DrillNote(None, Fraction(1)))


def _breathe(found: list[Bar], number: int, since: int, *, earlier: bool) -> int:
    """A breath at the end of a bar or as soon before as there is a place for one, ``earlier``: at
    the end of the bar before at the latest. How many bars there are since then."""
    latest = number - 1 if earlier and since > 1 else number
    near = range(latest, max(-1, number - since), -1)
    ends = ((back, _end_of_phrase(found[back])) for back in near)
    back, at = next((end for end in ends if end[1] is not None), (latest, None))
    # A slur over all of it ends here.
    some, at = found[back], len(found[back]) - 1 if at is None else at
    if some[at].gliss or some[at].tie:
        return since
    found[back] = (*some[:at], replace(some[at], breath=True, slur=False), *some[at + 1 :])
    return number - back


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
