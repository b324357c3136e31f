"""What a fit knows of each usual place, and which note to play next to learn most.

The next note is a Bayesian linear design: of all notes that could be played at an extension that is
easy to set, the one whose measurement lowers the sum of the places' variances (mm²) most (an
A-optimal design for the places: Chaloner and Verdinelli 1995, "Bayesian experimental design: a
review", Statistical Science 10). For a
regression with covariance C, places G and a note h with error variance r, the sum falls by
|G·C·h|² / (hᵀ·C·h + r) (rank-one update of the normal equations).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.fitting.fit import Fit, half_widths_at, place_rows
from handslide.instrument.fitting.model import Design, FloatArray, Layout, Spot
from handslide.instrument.fitting.posterior import offset_sd_mm
from handslide.instrument.fitting.slips import NEAR_MARK_M
from handslide.instrument.horn import Horn
from handslide.instrument.places import Limits, Place, find_places

# A note played next is played at the end of the session.
NEXT_WHEN = 0.5
# Usual notes reach from the lowest on partial 2 to the 8th partial of the closed horn.
USUAL_PARTIALS = range(2, 9)
# Extensions that a player sets with a ruler and finds again; the closed slide is always one.
EASY_MARKS_M = (0.15, 0.30, 0.45, 0.60)
NO_LIMITS = Limits()


@dataclass(frozen=True, slots=True)
class PlaceReport:
    """A usual place on the fitted horn, within ± ``half_width_mm`` in 95 % of cases.

    ``cent_mm`` is how far the slide goes there for a cent: the longer the tube, the further.
    """

    pitch: Pitch
    place: Place
    half_width_mm: float
    cent_mm: float


@dataclass(frozen=True, slots=True)
class NextNote:
    """A note worth playing next.

    ``pitch`` is the nearest name of what will sound, ``off_cents`` how far from it.
    ``typical_mm`` is the root mean square half-width of all usual places after it, ``before_mm``
    the one before.
    """

    valves: tuple[str, ...]
    partial: int
    extension_m: float
    pitch: Pitch
    off_cents: float
    before_mm: float
    typical_mm: float


@lru_cache(maxsize=16)
def usual_places(horn: Horn, limits: Limits = NO_LIMITS) -> tuple[tuple[Pitch, Place], ...]:
    """The plain places of all usual notes on a horn that a player can use, lowest note first.

    Plain: on the lowest partial that has the note in tune, and with a valve only where the open
    horn has no place up to 5th position. Pedals aren't among them.
    """
    first = A4_MIDI + cents(horn.speed_m_s / (2.0 * horn.length_m) / horn.a4_hz) / 100.0
    found = []
    for midi in range(round(first), round(first) + 37):
        for place in find_places(horn, midi):
            usual = place.partial in USUAL_PARTIALS and not place.alternate
            if usual and not place.lip_cents and limits.allows(place):
                found.append((from_midi(midi), place))
    return tuple(found)


def place_reports(
    fit: Fit, horn: Horn | None = None, limits: Limits = NO_LIMITS
) -> tuple[PlaceReport, ...]:
    """Every usual place that a player can use, with its uncertainty."""
    horn = fit.horn() if horn is None else horn
    usual = usual_places(horn, limits)
    widths = half_widths_at(fit, [_spot(place) for _, place in usual]).tolist() if usual else ()
    return tuple(
        PlaceReport(pitch, place, width, _cent_mm(horn, place))
        for (pitch, place), width in zip(usual, widths)
    )


def _spot(place: Place) -> Spot:
    return Spot(place.valves, place.partial, place.extension_m)


def _cent_mm(horn: Horn, place: Place) -> float:
    """From f = n·c/(2·(L + ΣV + 2x)): dx = (L + ΣV + 2x)/2 · ln 2/1200 for a cent."""
    tube_m = horn.length_m + horn.loops_m(place.valves) + 2.0 * place.extension_m
    return 1000.0 * tube_m / 2.0 * math.log(2.0) / 1200.0


def next_notes(
    fit: Fit,
    count: int = 3,
    *,
    horn: Horn | None = None,
    places: Sequence[PlaceReport] | None = None,
) -> tuple[NextNote, ...]:
    """The ``count`` notes to play next, in order, each chosen as if those before had been played.

    A note is expected to scatter as those of the fit do. ``places`` are those of the fit, where
    they are there already.
    """
    horn = fit.horn() if horn is None else horn
    known = place_reports(fit, horn) if places is None else places
    search, se_cents = Search.of(fit, candidates(fit, horn), known), fit.scatter_cents[0]
    cov, chosen = search.cov, []
    before = math.sqrt(sum(place.half_width_mm**2 for place in known) / len(known))
    # Half-widths count in standard deviations; the mixture's are a little more than 1.96 of them.
    half_width_sds = before / search.sd_mm(cov)
    for _ in range(count):
        spot, cov = search.best(cov, se_cents)
        after = half_width_sds * search.sd_mm(cov)
        chosen.append(named(horn, spot, before, after))
        before = after
    return tuple(chosen)


def named(horn: Horn, spot: Spot, before_mm: float, after_mm: float) -> NextNote:
    """A spot as a note to play, by what it sounds on ``horn``."""
    hz = horn.frequency_hz(spot.partial, spot.extension_m, spot.valves)
    midi = A4_MIDI + cents(hz / horn.a4_hz) / 100.0
    return NextNote(
        spot.valves, spot.partial, spot.extension_m, from_midi(round(midi)),
        100.0 * (midi - round(midi)), before_mm, after_mm,
    )  # fmt: skip


def gains(fit: Fit, spots: Sequence[Spot]) -> FloatArray:
    """By how much each of ``spots``, played next, would lower the places' total variance, mm²."""
    horn = fit.horn()
    search = Search.of(fit, candidates(fit, horn), place_reports(fit, horn))
    return search.gains(search.cov, tuple(spots), fit.scatter_cents[0])


def candidates(fit: Fit, horn: Horn) -> tuple[Spot, ...]:
    """Notes that could be played next: usual partials, closed and at easy or used marks.

    No new mark so near a used one that a note there would look mistyped.
    """
    used = fit.layout.marks_m
    easy = [x for x in EASY_MARKS_M if all(abs(x - mark) > NEAR_MARK_M for mark in used)]
    marks = sorted({*used, *easy})
    groups = dict.fromkeys((place.valves, place.partial) for _, place in usual_places(horn))
    spots = []
    for valves, partial in groups:
        spots.append(Spot(valves, partial, 0.0, when=NEXT_WHEN))
        for mark in marks:
            if mark <= horn.travel_m:
                spots.append(Spot(valves, partial, mark, True, NEXT_WHEN))
    return tuple(spots)


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """The fit's unknowns with those that new notes would bring in, and the places' errors.

    ``places_jac`` (places, unknowns) and ``own`` (places,) are as in `PlaceRows`, the parts of the
    mixture averaged.
    """

    layout: Layout
    theta: FloatArray
    cov: FloatArray
    places_jac: FloatArray
    own: FloatArray
    spots: tuple[Spot, ...]

    @classmethod
    def of(cls, fit: Fit, spots: tuple[Spot, ...], places: Sequence[PlaceReport]) -> "Search":
        """A search among ``spots`` for what tells most of ``places``."""
        marks = tuple(sorted({*fit.layout.marks_m, *(s.extension_m for s in spots if s.marked)}))
        usual = [report.place for report in places]
        groups = dict.fromkeys(
            (
                *fit.layout.groups,
                *(spot.group for spot in spots),
                *((place.valves, place.partial) for place in usual),
            )
        )
        layout = replace(fit.layout, marks_m=marks, groups=tuple(groups))
        theta, cov = _brought_in(fit, layout)
        if not fit.layout.marks_m:  # the first mark brings in what all may share
            cov[layout.offset, layout.offset] = offset_sd_mm() ** 2
        widened = replace(fit, layout=layout, theta=theta, cov=cov)
        rows = place_rows(widened, [_spot(place) for place in usual])
        weights = np.array([part.weight for part in fit.parts])
        return cls(layout, theta, cov, rows.jac, weights @ rows.own, spots)

    def gains(self, cov: FloatArray, spots: tuple[Spot, ...], se_cents: float) -> FloatArray:
        """By how much each of ``spots`` would lower the places' total variance, mm²."""
        _, jac = Design(self.layout, spots).predict(self.theta)
        spread = jac @ cov
        variance = np.einsum("ij,ij->i", spread, jac) + se_cents**2
        shares: FloatArray = ((spread @ self.places_jac.T) ** 2).sum(axis=1) / variance
        return shares

    def best(self, cov: FloatArray, se_cents: float) -> tuple[Spot, FloatArray]:
        """The best candidate, and the covariance after it."""
        spot = self.spots[int(np.argmax(self.gains(cov, self.spots, se_cents)))]
        return spot, self.after(cov, spot, se_cents)

    def after(self, cov: FloatArray, spot: Spot, se_cents: float) -> FloatArray:
        """The covariance after a spot was played."""
        _, jac = Design(self.layout, (spot,)).predict(self.theta)
        spread = cov @ jac[0]
        lower: FloatArray = cov - np.outer(spread, spread) / (jac[0] @ spread + se_cents**2)
        return lower

    def variances(self, cov: FloatArray) -> FloatArray:
        """Variance of each place in mm², from the unknowns alone."""
        found: FloatArray = ((self.places_jac @ cov) * self.places_jac).sum(axis=1)
        return found

    def sd_mm(self, cov: FloatArray) -> float:
        """Root mean square standard deviation of the places in mm."""
        return float(np.sqrt(self.variances(cov).mean()))


def _brought_in(fit: Fit, layout: Layout) -> tuple[FloatArray, FloatArray]:
    # The fit's unknowns at their columns in a wider layout. What is new hangs together with them as
    # it did before any note: new = B·old + rest, B = P_new,old·P_old⁻¹.
    prior, mean = layout.prior_cov, layout.prior_mean
    at = np.array(_columns(fit.layout, layout))
    new = np.setdiff1d(np.arange(layout.size), at)
    old = np.ix_(at, at)
    along = np.linalg.solve(prior[old], prior[np.ix_(at, new)]).T
    theta, cov = mean.copy(), prior.copy()
    theta[at], cov[old] = fit.theta, fit.cov
    theta[new] += along @ (fit.theta - mean[at])
    cov[np.ix_(new, at)] = along @ fit.cov
    cov[np.ix_(at, new)] = cov[np.ix_(new, at)].T
    cov[np.ix_(new, new)] += along @ (fit.cov - prior[old]) @ along.T
    return theta, cov


def _columns(old: Layout, new: Layout) -> list[int]:
    # Where the unknowns of the old layout stand in the new one.
    columns = list(range(old.first_mark))
    columns += [new.first_mark + new.marks_m.index(mark) for mark in old.marks_m]
    for group in old.groups:
        columns += range(new.group_columns[group], new.group_columns[group] + 3)
    return columns
