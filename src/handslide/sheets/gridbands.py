"""Which pitches no tube of a horn sounds, and which a student doesn't reach yet.

Conventions: pitches are MIDI numbers in equal temperament at the horn's A4, fractions for cents.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.horn import Horn
from handslide.instrument.places import REACH_TOLERANCE, TOP_PARTIAL, Limits

# How far below the lowest note the grid goes on to show a gap.
_GAP_ROWS = 6


@dataclass(frozen=True, slots=True)
class Band:
    """Pitches from ``low`` to ``high`` that no curve reaches; ``ever`` also not by growing."""

    low: float
    high: float
    ever: bool


def missing_bands(horn: Horn, low: float, high: float, limits: Limits | None = None) -> list[Band]:
    """Bands between two pitches that hold notes which the horn, or the student, hasn't."""
    never = list(_gaps(horn, low, high, Limits()))
    bands = [Band(*gap, ever=True) for gap in never]
    if limits is None:
        return bands
    # Some gaps of the student are gaps of the horn that reach a little further.
    whole = {midi for gap in never for midi in rows_in(*gap)}
    for gap in _gaps(horn, low, high, limits):
        rest = [midi for midi in rows_in(*gap) if midi not in whole]
        for first, last in _runs(rest):
            bands.append(Band(max(gap[0], first - 0.5), min(gap[1], last + 0.5), ever=False))
    return bands


def _runs(rows: list[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for row in rows:
        if runs and row == runs[-1][1] + 1:
            runs[-1] = runs[-1][0], row
        else:
            runs.append((row, row))
    return runs


def _gaps(horn: Horn, low: float, high: float, limits: Limits) -> Iterable[tuple[float, float]]:
    far = furthest_m(horn, limits)
    spans = []
    for valves in horn.valve_sets:
        top = limits.top_partial_valve if valves else limits.top_partial
        if not limits.learned_all(valves):
            continue
        for partial in range(1, min(top, TOP_PARTIAL) + 1):
            ends = [sounding(horn, partial, x, valves) for x in (0.0, far)]
            spans.append((min(ends), max(ends[0] + horn.lip_up_cents / 100.0, ends[1])))
    reached = low
    for first, last in [*sorted(spans), (high, high)]:
        end = min(first, high)
        if end > reached and rows_in(reached, end):
            yield reached, end
        reached = max(reached, last)


def rows_in(low: float, high: float) -> range:
    """The notes between two pitches, their ends left out."""
    # An extension at the very end of the slide still counts as reached.
    return range(math.ceil(low + 1e-4), math.floor(high - 1e-4) + 1)


def furthest_m(horn: Horn, limits: Limits) -> float:
    """Extension in metres that the student reaches, at most the travel."""
    if limits.reach is None:
        return horn.travel_m
    return min(horn.travel_m, max(0.0, horn.extension_m(limits.reach + REACH_TOLERANCE)))


def sounding(horn: Horn, partial: int, extension_m: float, valves: tuple[str, ...]) -> float:
    """Pitch of a partial at an extension in metres."""
    hz = horn.frequency_hz(partial, extension_m, valves)
    return A4_MIDI + cents(hz / horn.a4_hz) / 100.0


def gap_rows(horn: Horn, lowest: int) -> int:
    """Rows to add below, so that a gap under the lowest note and its other side are seen."""
    gap = {
        midi
        for ends in _gaps(horn, lowest - _GAP_ROWS - 0.5, lowest + 0.5, Limits())
        for midi in rows_in(*ends)
    }
    rows = 0
    while rows < _GAP_ROWS and lowest - rows - 1 in gap:
        rows += 1
    # A gap without another side is the end of the horn.
    return rows + 1 if 0 < rows < _GAP_ROWS else 0
