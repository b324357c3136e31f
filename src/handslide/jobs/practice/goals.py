"""Tempos of an excerpt: what a level makes of the part's own, and the steps up to it."""

import math

from handslide.drills.levels import Level
from handslide.drills.placed import FASTEST_M_S
from handslide.instrument.effort import PEAK_SPEED
from handslide.jobs.mark.excerpts import Spot
from handslide.jobs.mark.mark import MarkedPart

# The usual steps of a mechanical metronome, 40 to 208 (common practice; from memory), and on both
# sides what others go on with.
METRONOME = (
    *range(10, 20), *range(20, 60, 2), *range(60, 72, 3), *range(72, 120, 4), *range(120, 144, 6),
    *range(144, 401, 8),
)  # fmt: skip
_STEPS = 5
# A move at half the speed at which the slide no longer arrives is an easy one.
_EASY_M_S = 0.5 * FASTEST_M_S
_SLOWEST, _FIRST = 0.5, 0.75


def goal_qpm(marked: MarkedPart, spot: Spot, own_qpm: float, level: Level) -> float:
    """The tempo to reach this week, in quarter notes a minute: never quicker than the part's own,
    nor than the level allows for so many notes a beat."""
    part = marked.part
    inside = [n for n in part.notes if spot.first <= n.measure_index <= spot.last and n.beats > 0]
    beats = sum(note.beats for note in inside)
    if not beats:
        return own_qpm
    return min(own_qpm, level.tempo_for(max(len(inside) / beats, 0.25)))


def steps_to(goal: float, first: float) -> tuple[int, ...]:
    """About five tempos of the metronome from ``first`` up to the goal, which is the last, to the
    nearest quarter note a minute.

    Where the metronome has too few on the way they are even ones.
    """
    last = max(1, round(goal))
    between = [step for step in METRONOME if first <= step < last]
    if len(between) < _STEPS - 1:
        between = list(range(max(1, min(math.ceil(first), last - 1)), last))
    count = min(_STEPS - 1, len(between))
    picked = [between[math.floor(k * len(between) / count)] for k in range(count)]
    return (*picked, last)


def tempo_steps(marked: MarkedPart, spot: Spot, own_qpm: float, goal: float) -> tuple[int, ...]:
    """About five tempos (`steps_to`), from one at which the quickest move of the spot is easy."""
    notes = marked.part.notes
    speeds = [
        PEAK_SPEED * move.length_m / move.time_s
        for move in marked.routed.moves()
        if all(spot.first <= notes[n].measure_index <= spot.last for n in (move.first, move.second))
    ]
    quickest = max(speeds, default=0.0)
    easy = own_qpm * _EASY_M_S / quickest if quickest > 0.0 else goal
    first = max(min(easy, _FIRST * goal), _SLOWEST * goal)
    return steps_to(goal, first)
