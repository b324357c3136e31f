"""Where the slide was, from a heard pitch and the place that the note was played in.

Conventions: extensions in metres from the closed stop, in the playing model's own terms; a value
below 0 or beyond the travel means that this place can't have sounded so by the slide alone.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from handslide.ground.facts import Fact, fact
from handslide.ground.units import cents
from handslide.instrument.horn import Horn
from handslide.instrument.places import TOP_PARTIAL, Place

# An extension this far inside the stop or beyond the slide is more than a lip or a hot horn does.
OUTSIDE_M = 0.015
# At the stop: a shorter move than this isn't one.
CLOSED_M = 0.005
_FAR_OFF_CENTS = 25.0
_SAME_CENTS = 6.0


@dataclass(frozen=True, slots=True)
class HeardPlace:
    """The slide as a pitch implies it. ``off_m`` is how far it was beyond the place (positive = too
    far out = flat), ``m_per_cent`` what a cent is worth there (positive)."""

    extension_m: float
    off_m: float
    m_per_cent: float


def extension_of(horn: Horn, f0_hz: float, partial: int, valves: tuple[str, ...]) -> float:
    """The extension in metres at which a partial sounds ``f0_hz``; the inverse of
    :meth:`Horn.frequency_hz`, not bounded by the slide.

    L + ΣV + 2x = n·c/(2f) · 2^((δ + s·x)/1200), solved by Newton's method where s isn't 0.
    """
    tube = horn.length_m + horn.loops_m(valves)
    dev, slope = horn.deviation(valves, partial)
    whole = partial * horn.speed_m_s / (2.0 * f0_hz)
    x = (whole * math.pow(2.0, dev / 1200.0) - tube) / 2.0
    rate = math.log(2.0) / 1200.0 * slope
    for _ in range(30 if slope else 0):
        now = whole * math.pow(2.0, (dev + slope * x) / 1200.0)
        step = (tube + 2.0 * x - now) / (2.0 - now * rate)
        x -= step
        if abs(step) < 1e-12:
            break
    return x


def m_per_cent(horn: Horn, place: Place) -> float:
    """How far the slide moves for one cent near a place, in metres (positive)."""
    here = horn.frequency_hz(place.partial, place.extension_m, place.valves)
    down = here * math.pow(2.0, -1.0 / 1200.0)
    return extension_of(horn, down, place.partial, place.valves) - place.extension_m


def heard_place(horn: Horn, place: Place, f0_hz: float, target_hz: float) -> HeardPlace:
    """Where the slide was if ``f0_hz`` was played in ``place`` and ``target_hz`` was meant.

    Of a place that is lipped up the lip is taken off both: what is left is the slide's part.
    """
    where = extension_of(horn, f0_hz, place.partial, place.valves)
    meant = extension_of(horn, target_hz, place.partial, place.valves)
    return HeardPlace(where, where - meant, m_per_cent(horn, place))


def why_not_there(
    horn: Horn, place: Place, f0_hz: float, target_hz: float, others: Iterable[Place]
) -> Fact | None:
    """Why a pitch can't come, or hardly comes, from the slide in ``place``.

    None where the slide explains it.
    """
    there = heard_place(horn, place, f0_hz, target_hz)
    off = cents(f0_hz / target_hz)
    if there.extension_m > horn.travel_m + OUTSIDE_M:
        return _elsewhere(horn, f0_hz, off, others) or fact("hearing.below_slide")
    sharp_closed = off > 0 and there.extension_m < -CLOSED_M
    if sharp_closed and place.extension_m <= CLOSED_M:
        other = None
        if there.extension_m < -OUTSIDE_M and off > _FAR_OFF_CENTS:
            other = _elsewhere(horn, f0_hz, off, others)
        return other or fact("hearing.lip_or_tuning")
    if abs(off) > _FAR_OFF_CENTS:
        return _closed_partial(horn, place, f0_hz)
    return None


def _elsewhere(horn: Horn, f0_hz: float, off: float, others: Iterable[Place]) -> Fact | None:
    """The other place of the note that explains the pitch best: the one with the least error."""
    fitting = []
    for other in others:
        where = extension_of(horn, f0_hz, other.partial, other.valves)
        if -CLOSED_M <= where <= horn.travel_m and other.extension_m > CLOSED_M:
            fitting.append((abs(where - other.extension_m), where - other.extension_m, other))
    if not fitting:
        return None
    _, by_m, other = min(fitting, key=lambda row: row[0])
    return fact(
        "hearing.elsewhere",
        low=off < 0,
        position=other.position,
        valves=other.valves,
        slide_mm=1000.0 * by_m,
    )


def _closed_partial(horn: Horn, place: Place, f0_hz: float) -> Fact | None:
    """Whether the pitch is just another partial of the closed slide."""
    for valves in horn.valve_sets:
        for partial in range(1, TOP_PARTIAL + 1):
            if (valves, partial) == (place.valves, place.partial):
                continue
            if abs(cents(f0_hz / horn.frequency_hz(partial, 0.0, valves))) <= _SAME_CENTS:
                return fact("hearing.closed_partial", partial=partial, valves=valves)
    return None
