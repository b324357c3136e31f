"""A fit note by note: how sure each place is so far, which note to ask for next, and when to stop.

Bands are those of `fit_so_far`: before any note the prior's, after each note narrower. The next
note is the A-optimal one of `advice`, among those that the player can reach with the slide closed
or at a mark that is set already; where another tells nearly as much, the hand stays where it is.
"""

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch
from handslide.instrument.fitting.advice import (
    NEXT_WHEN,
    NO_LIMITS,
    NextNote,
    PlaceReport,
    Search,
    named,
    place_reports,
    usual_places,
)
from handslide.instrument.fitting.fit import Fit
from handslide.instrument.fitting.model import Spot
from handslide.instrument.fitting.noticed import KNOWN_RATIO
from handslide.instrument.horn import Horn
from handslide.instrument.places import REACH_TOLERANCE, Limits

# Fine enough: a fifth of a semitone, what an ear and a lip put right by themselves.
FINE_CENTS = 20.0
# So many notes played again show how evenly somebody plays; before that an unsteady player's bands
# are too narrow, since notes at places of their own can't tell scatter from an uneven horn.
LEAST_REPEATS = 4
# A note where the hand is counts as the best one while it tells so much of what that one tells.
STAY_SHARE = 0.8
# Two marks tell how a deviation goes on along the slide, one only where it is half-way.
_FAR_MARK_M, _MARK_STEP_M = 0.60, 0.05


@dataclass(frozen=True, slots=True)
class AskedNote:
    """The note to play next, and why it is asked for.

    The values of ``why`` are the usual place that it tells most of (``pitch``, ``valves``), and its
    half-width before and after, in mm.
    """

    note: NextNote
    why: Fact


@dataclass(frozen=True, slots=True)
class Band:
    """Where a usual place lies in 95 % of cases: ``extension_m`` ± ``half_width_mm``.

    ``fine``: whether that is well enough.
    """

    pitch: Pitch
    valves: tuple[str, ...]
    partial: int
    extension_m: float
    half_width_mm: float
    fine: bool


def fine_mm(place: PlaceReport) -> float:
    """Half-width within which a place is known well enough, `FINE_CENTS`, in mm of its slide."""
    return FINE_CENTS * place.cent_mm


def is_fine(place: PlaceReport) -> bool:
    """Whether a place is known well enough."""
    return place.half_width_mm <= fine_mm(place)


def lesson_marks(horn: Horn, limits: Limits = NO_LIMITS) -> tuple[float, ...]:
    """Extensions in m to set with a ruler: one far out within reach, one half-way."""
    steps = int(min(_FAR_MARK_M, 0.93 * reach_m(horn, limits)) / _MARK_STEP_M + 1e-9)
    return tuple(sorted({_MARK_STEP_M * k for k in (steps // 2, steps) if k}))


def reach_m(horn: Horn, limits: Limits) -> float:
    """How far out a player can hold the slide, in m."""
    if limits.reach is None:
        return horn.travel_m
    return min(horn.travel_m, horn.extension_m(limits.reach + REACH_TOLERANCE))


def bands(places: Sequence[PlaceReport]) -> tuple[Band, ...]:
    """The map of the slide: valve set by valve set, partial by partial, closed slide first."""
    found = [
        Band(
            report.pitch, report.place.valves, report.place.partial,
            report.place.extension_m, report.half_width_mm, is_fine(report),
        )
        for report in places
    ]  # fmt: skip
    sets = list(dict.fromkeys(sorted((band.valves for band in found), key=len)))
    return tuple(sorted(found, key=lambda b: (sets.index(b.valves), b.partial, b.extension_m)))


def repeats_wanted(fit: Fit, places: Sequence[PlaceReport]) -> int:
    """How many notes are to be played again before bands so narrow are to be believed; else 0."""
    if not fit.rows or not all(map(is_fine, places)):
        return 0
    _, low, high = fit.scatter_cents
    spots = {(row.valves, row.partial, row.extension_m) for row in fit.rows}
    return 0 if high <= KNOWN_RATIO * low else max(0, LEAST_REPEATS + len(spots) - len(fit.rows))


def fine_enough(fit: Fit, places: Sequence[PlaceReport]) -> bool:
    """Whether every place is known well enough, and how evenly the notes were played."""
    return bool(fit.rows) and all(map(is_fine, places)) and not repeats_wanted(fit, places)


def ask(
    fit: Fit,
    marks_m: Sequence[float],
    *,
    limits: Limits = NO_LIMITS,
    skipped: Collection[tuple[tuple[str, ...], int, float]] = (),
    places: Sequence[PlaceReport] | None = None,
) -> AskedNote | None:
    """The note to play next; None where there is no other than those ``skipped``.

    ``skipped`` are valves, partial and extension of notes that the player can't or won't play. The
    note that was played last isn't asked for again at once. Where every place is known well enough,
    but not how evenly the player plays, it is a note that was played once.
    """
    horn = fit.horn()
    known = place_reports(fit, horn, limits) if places is None else places
    last = fit.rows[-1] if fit.rows else None
    spots = _askable(horn, marks_m, limits)
    passed = set(skipped)
    if last is not None:
        passed.add((last.valves, last.partial or 0, last.extension_m))
    left = tuple(s for s in spots if (s.valves, s.partial, s.extension_m) not in passed)
    if not left or not known:
        return None
    if repeats_wanted(fit, known):
        left = _played_least(fit, left)
    search, se_cents = Search.of(fit, left, known), fit.scatter_cents[0]
    told = search.gains(search.cov, left, se_cents)
    at = 0.0 if last is None else last.extension_m
    here = np.array([spot.extension_m == at for spot in left])
    best = int(np.argmax(told))
    if here.any():
        stay = int(np.argmax(np.where(here, told, -1.0)))
        best = stay if told[stay] >= STAY_SHARE * told[best] else best
    return _asked(fit, search, left[best], known)


def _askable(horn: Horn, marks_m: Sequence[float], limits: Limits) -> tuple[Spot, ...]:
    groups = dict.fromkeys((place.valves, place.partial) for _, place in usual_places(horn, limits))
    far = reach_m(horn, limits)
    return tuple(
        Spot(*group, extension_m, extension_m > 0.0, NEXT_WHEN)
        for extension_m in (0.0, *(mark for mark in marks_m if mark <= far))
        for group in groups
    )


def _played_least(fit: Fit, spots: tuple[Spot, ...]) -> tuple[Spot, ...]:
    """Those of ``spots`` that were played, but least often; all where none was."""
    counts = Counter((row.valves, row.partial, row.extension_m) for row in fit.rows)
    played = [counts[spot.valves, spot.partial, spot.extension_m] for spot in spots]
    least = min((count for count in played if count), default=0)
    return tuple(spot for spot, count in zip(spots, played) if count == least)


def _asked(fit: Fit, search: Search, spot: Spot, known: Sequence[PlaceReport]) -> AskedNote:
    after = search.after(search.cov, spot, fit.scatter_cents[0])
    before_mm = np.array([report.half_width_mm for report in known])
    lower = search.variances(after) + search.own
    # Half-widths count in standard deviations; the mixture's are a little more than 1.96 of them.
    after_mm = before_mm * np.sqrt(lower / (search.variances(search.cov) + search.own))
    most = int(np.argmax(before_mm - after_mm))
    why = fact(
        _why(fit, spot),
        pitch=known[most].pitch,
        valves=known[most].place.valves,
        before_mm=float(before_mm[most]),
        after_mm=float(after_mm[most]),
        asks_valves=spot.valves,
        asks_partial=spot.partial,
    )
    whole = [float(np.sqrt(np.mean(np.square(one)))) for one in (before_mm, after_mm)]
    # Called as on a horn in tune: a name that changes with each note heard only confuses.
    return AskedNote(named(fit.layout.base, spot, *whole), why)


def _why(fit: Fit, spot: Spot) -> str:
    played = {(row.valves, row.partial, row.extension_m) for row in fit.rows}
    if not played:
        return "fitting.asks_length"
    heard = {valve for valves, _, _ in played for valve in valves}
    if not heard.issuperset(spot.valves):
        return "fitting.asks_loop"
    if spot.extension_m not in {extension_m for _, _, extension_m in played}:
        return "fitting.asks_mark"
    if (spot.valves, spot.partial, spot.extension_m) in played:
        return "fitting.asks_again"
    if spot.group in {(valves, partial) for valves, partial, _ in played}:
        return "fitting.asks_along"
    return "fitting.asks_partial"
