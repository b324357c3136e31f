"""Where a line that can't be played as it stands could be played: intervals, reach, valves."""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

from handslide.ground.intervals import Interval, of_semitones
from handslide.ground.pitch import from_midi
from handslide.instrument.line import Line
from handslide.instrument.obstacles import clear
from handslide.instrument.places import REACH_TOLERANCE, PlaceBook

SEARCH_SEMITONES = 36


def nearest_intervals(line: Line, book: PlaceBook, semitones: int = 0) -> tuple[Interval, ...]:
    """The nearest intervals below and above a move at which everything can be played."""
    midis, has = sorted(set(line.midi.tolist())), cache(book.has)
    found = []
    for way in (1, -1):
        for count in range(1, 2 * SEARCH_SEMITONES + 1):
            move = semitones + way * count
            if abs(move) > SEARCH_SEMITONES:
                break
            if all(has(midi + move) for midi in midis) and _all_clear(line, book, move):
                found.append((count, of_semitones(move)))
                break
    return tuple(interval for _, interval in sorted(found, key=lambda row: row[0]))


def _all_clear(line: Line, book: PlaceBook, move: int) -> bool:
    if not line.gliss.any():
        return True
    lifted = replace(line, midi=line.midi + move)
    return not clear(lifted, book, [from_midi(midi) for midi in lifted.midi.tolist()]).obstacles


def fewest_left(line: Line, book: PlaceBook) -> tuple[Interval, int]:
    """The move that leaves the fewest notes without a place, and how many these are."""
    midis, has = line.midi.tolist(), cache(book.has)
    left = {
        move: sum(not has(midi + move) for midi in midis)
        for move in range(-SEARCH_SEMITONES, SEARCH_SEMITONES + 1)
    }
    best = min(left, key=lambda move: (left[move], abs(move)))
    return of_semitones(best), left[best]


def least_reach(midis: Sequence[int], book: PlaceBook) -> float | None:
    """The least reach, in half positions, within which all notes can be played.

    None where no reach is enough, or none is set.
    """
    if book.limits.reach is None:
        return None
    wide = PlaceBook(book.horn, replace(book.limits, reach=None))
    nearest = []
    for midi in set(midis):
        positions = [place.position for place in wide.places(midi)]
        if not positions:
            return None
        nearest.append(min(positions))
    needed = max(nearest) - REACH_TOLERANCE
    return max(book.limits.reach, math.ceil(2.0 * round(needed, 6)) / 2.0)


def unlearned_valves(midis: Sequence[int], book: PlaceBook) -> tuple[str, ...]:
    """The fewest valves to learn with which all notes can be played; empty where none help."""
    learned = book.limits.learned
    if learned is None:
        return ()
    for valves in book.horn.valve_sets[1:]:
        new = tuple(name for name in valves if name not in learned)
        more = PlaceBook(book.horn, replace(book.limits, learned=learned | set(valves)))
        if new and all(more.has(midi) for midi in set(midis)):
            return new
    return ()


def playable_on(midis: Sequence[int], book: PlaceBook) -> bool:
    """Whether all notes have a place."""
    return all(book.has(midi) for midi in set(midis))
