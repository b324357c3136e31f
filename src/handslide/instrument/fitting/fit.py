"""A horn from notes at known extensions: lengths, loops, deviations, and how sure they are.

The playing model (``model`` beside this) as a regression whose unknowns have priors: few notes
leave the harmonic model standing, many replace it. How far the notes scatter isn't taken from what
is typed: notes played again tell it, and without them what the model leaves over (``posterior``).
A drift of the horn and an error of the marks are unknowns like others. Slips are named and left out
(``slips``), what else was seen is told (``noticed``).

An interval is 95 %: so often the truth lies inside it, for horns that the priors describe, at a
moment of the session that isn't known. What it is worth on simulated horns is in docs/physics.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from handslide.ground.errors import BadData
from handslide.ground.facts import Fact
from handslide.ground.units import cents
from handslide.instrument.air import Air
from handslide.instrument.fitting.model import (
    AIR_SD_CENTS,
    CENTS_PER_NEPER,
    UNKNOWN_AIR_SD_CENTS,
    Design,
    FloatArray,
    Group,
    Layout,
    Spot,
    bow,
    deviation_prior,
)
from handslide.instrument.fitting.noticed import noticed, scatter
from handslide.instrument.fitting.posterior import Part, Posterior, half_widths, posterior
from handslide.instrument.fitting.rows import (
    DEFAULT_SE_CENTS,
    FitRow,
    LeftOut,
    check_rows,
    sort_out,
)
from handslide.instrument.fitting.slips import find_slip
from handslide.instrument.horn import (
    Closed,
    Deviation,
    Horn,
    HornDescription,
    Uncertainty,
    ValveDescription,
)

# Fewer say nothing about single partials: one wrong note couldn't be told from a right one.
LEAST_CLOSED = 3
# More rows than this left out: the rows contradict each other, and who is right can't be said.
MOST_LEFT_OUT = 1.0 / 3.0
# Without a thermometer millimetres need a mark at least this far out.
LEAST_MARK_M = 0.15
FARTHEST_TUNING_CENTS = 120.0
GRID_MM = 50.0
# Cents and cents per metre that a horn file may hold; only pedals of odd notes come near.
_FILE_BOUNDS = ((-100.0, -300.0), (100.0, 300.0))


@dataclass(frozen=True, slots=True, eq=False)
class PlaceRows:
    """Places: error of each in mm = jac·(error of theta) plus an own normal error.

    ``jac`` has shape (places, unknowns); ``own``, shape (parts, places), is the variance in mm²
    that doesn't come from theta: a partial that was never played has its prior deviation, a fitted
    bend isn't in a horn file, and the horn drifts.
    """

    jac: FloatArray
    own: FloatArray


@dataclass(frozen=True, eq=False)
class Fit:
    """A fitted horn: ``theta`` and ``cov`` in the columns of ``layout``.

    ``rows`` were used (with their partials), ``left_out`` weren't. ``thermometer`` is false when
    only the marks give the scale of the millimetres. ``parts`` are the combinations of which
    ``theta`` and ``cov`` are mean and covariance.
    """

    base: HornDescription
    layout: Layout
    theta: FloatArray
    cov: FloatArray
    rows: tuple[FitRow, ...]
    left_out: tuple[LeftOut, ...]
    thermometer: bool
    parts: tuple[Part, ...]

    @cached_property
    def mixture(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """(weights, unknowns, covariances) of the parts, the parts along the first axis."""
        return (
            np.array([part.weight for part in self.parts]),
            np.array([part.theta for part in self.parts]),
            np.array([part.cov for part in self.parts]),
        )

    @property
    def scatter_cents(self) -> tuple[float, float, float]:
        """How much the notes scatter: (median, ends of the 80 % interval)."""
        return scatter(self.parts, self._stated_cents)

    @property
    def noticed(self) -> tuple[Fact, ...]:
        """What the fit noticed of scatter, warming and marks."""
        return noticed(self.layout, self.parts, self._stated_cents)

    @property
    def _stated_cents(self) -> FloatArray:
        # Standard errors of the notes; before any note, that of a usual one.
        return np.array([row.se_cents for row in self.rows] or [DEFAULT_SE_CENTS])

    @property
    def wander_cents(self) -> float:
        """Standard deviation of the horn's pitch over the session, from its drift.

        A place holds for a moment of the session of which no one knows which: evenly distributed,
        so the drift divided by √12.
        """
        column = self.layout.drift
        return math.sqrt((self.theta[column] ** 2 + self.cov[column, column]) / 12.0)

    @property
    def measured(self) -> tuple[Group, ...]:
        """Valve sets and partials that were played, in the horn's order."""
        sets = self.layout.base.valve_sets
        groups = {(row.valves, row.partial or 0) for row in self.rows}
        return tuple(sorted(groups, key=lambda group: (sets.index(group[0]), group[1])))

    @property
    def closed_hz(self) -> float:
        """First partial of the closed open horn as the model has it."""
        base = self.layout.base
        return base.speed_m_s / (2.0 * base.length_m) * math.pow(2.0, self.theta[0] / 1200.0)

    @property
    def scale(self) -> float:
        """Speed of sound that the marks ask for, divided by the air formula's."""
        return self.base.speed_scale * math.pow(2.0, float(self.theta[1]) / 1200.0)

    def closed_with(self, valves: Sequence[str]) -> float:
        """First partial of the closed horn with ``valves``, in Hz."""
        loops = sum(
            self.theta[2 + k] / CENTS_PER_NEPER
            for k, valve in enumerate(self.layout.base.valves)
            if valve.name in valves
        )
        return self.closed_hz / (1.0 + float(loops))

    def deviation(self, group: Group) -> Deviation:
        """Deviation of a measured valve set and partial, rounded and bounded as in a horn file."""
        column = self.layout.group_columns[group]
        closed, slope = np.clip(self.theta[column : column + 2], *_FILE_BOUNDS).tolist()
        return Deviation(*group, round(closed, 2), round(slope, 2))

    def deviation_se(self, group: Group) -> tuple[float, float]:
        """Standard errors of a deviation: (cents, cents per metre)."""
        column = self.layout.group_columns[group]
        variance = np.diag(self.cov)
        return math.sqrt(variance[column]), math.sqrt(variance[column + 1])

    def description(self, name: str, title: str) -> HornDescription:
        """The horn as a horn file holds it, with its uncertainties."""
        return replace(self._described(name, title), uncertainties=self.uncertainties())

    def _described(self, name: str, title: str) -> HornDescription:
        base = self.base
        needed = {valve.name: valve.needs for valve in base.valves}
        valves = []
        for valve in base.valves:
            with_it = [valve.name] if needed[valve.name] is None else [valve.name, valve.needs]
            closed = Closed(hz=round(self.closed_with([v for v in with_it if v]), 5))
            valves.append(ValveDescription(valve.name, closed, valve.needs))
        return HornDescription(
            name=name,
            title=title,
            model=base.model or ("" if base.title else base.name),
            closed=Closed(hz=round(self.closed_hz, 5)),
            travel_m=base.travel_m,
            valves=tuple(valves),
            deviations=tuple(self.deviation(group) for group in self.measured),
            lip_up_cents=base.lip_up_cents,
            temp_c=self.layout.base.air.temp_c,
            speed_scale=round(self.scale, 6),
        )

    def horn(self, name: str = "", title: str = "") -> Horn:
        """The fitted horn in the air of the notes, without its uncertainties."""
        base = self.layout.base
        stored = self._described(name or self.base.name, title or self.base.title)
        return stored.tuned(base.a4_hz, base.air)

    def uncertainties(self) -> tuple[Uncertainty, ...]:
        """Half-widths of the 95 % intervals along the slide, for every valve set and partial."""
        last = 1000.0 * self.layout.base.travel_m
        at_mm = (*np.arange(0.0, last, GRID_MM).tolist(), round(last, 3))
        rows = []
        for valves in self.layout.base.valve_sets:
            played = [group[1] for group in self.measured if group[0] == valves]
            for partial in (*sorted({1, *played}), None):
                widths = half_widths_mm(self, valves, partial, [x / 1000.0 for x in at_mm])
                rounded = tuple(round(float(width), 2) for width in widths)
                rows.append(Uncertainty(valves, partial, at_mm, rounded))
        return tuple(rows)


def fit_horn(
    base: HornDescription,
    rows: Sequence[FitRow],
    *,
    a4_hz: float = 440.0,
    temp_c: float = 25.0,
    thermometer: bool = True,
) -> Fit:
    """Fit a horn like ``base`` to notes at known extensions.

    ``temp_c`` is the air in the horn while the notes were played; with ``thermometer`` false it is
    only a first guess and the marks must give the scale.

    Raises
    ------
    BadData
        When the rows can't come from such a horn, are too few, or contradict each other.
    """
    if not rows:
        raise BadData("fitting.no_rows")
    fit = fit_so_far(base, rows, a4_hz=a4_hz, temp_c=temp_c, thermometer=thermometer)
    _enough(fit.rows, fit.left_out)
    far = max((row.extension_m for row in fit.rows), default=0.0)
    if not thermometer and far < LEAST_MARK_M:
        raise BadData("fitting.mark_needed", least_mm=1000.0 * LEAST_MARK_M)
    if abs(fit.theta[0]) > FARTHEST_TUNING_CENTS:
        raise BadData(
            "fitting.far_from_base",
            off_cents=float(fit.theta[0]),
            base=base.called,
            most_cents=FARTHEST_TUNING_CENTS,
        )
    return fit


def fit_so_far(
    base: HornDescription,
    rows: Sequence[FitRow],
    *,
    a4_hz: float = 440.0,
    temp_c: float = 25.0,
    thermometer: bool = True,
) -> Fit:
    """As `fit_horn`, from however few notes: with none it is what a horn like ``base`` may be.

    Its intervals are honest, but it isn't a horn to keep before `fit_horn` takes the same rows.
    Raises BadData for rows that can't come from such a horn.
    """
    horn = base.tuned(a4_hz, Air(temp_c=temp_c))
    check_rows(horn, rows)
    good, left_out = sort_out(horn, rows)
    while True:
        found = _fit_once(horn, good, thermometer=thermometer)
        if not good or _contradictory(good, left_out):
            break
        worst = find_slip(found, good)
        if worst is None:
            break
        left_out.append(worst)
        good = [row for row in good if row is not worst.row]
    return Fit(
        base,
        found.layout,
        found.theta,
        found.cov,
        tuple(good),
        tuple(left_out),
        thermometer,
        found.parts,
    )


def _enough(good: Sequence[FitRow], left_out: Sequence[LeftOut]) -> None:
    if _contradictory(good, left_out):
        first = left_out[0]
        raise BadData(
            "fitting.contradictory",
            left_out=len(left_out),
            total=len(good) + len(left_out),
            row=first.row.told,
            why=first.why,
        )
    closed = [row for row in good if not row.valves and not row.extension_m]
    if not closed:
        raise BadData("fitting.no_closed_note")
    if len(closed) < LEAST_CLOSED or len({row.partial for row in closed}) < 2:
        raise BadData("fitting.few_closed_notes", usable=len(closed), least=LEAST_CLOSED)


def _contradictory(good: Sequence[FitRow], left_out: Sequence[LeftOut]) -> bool:
    return len(left_out) > MOST_LEFT_OUT * (len(good) + len(left_out))


def _fit_once(horn: Horn, rows: Sequence[FitRow], *, thermometer: bool) -> Posterior:
    spots = session(rows)
    air_sd = AIR_SD_CENTS if thermometer else UNKNOWN_AIR_SD_CENTS
    marks = tuple(sorted({row.extension_m for row in rows if row.extension_m}))
    layout = Layout(horn, marks, tuple(dict.fromkeys(spot.group for spot in spots)), air_sd)
    first_hz = horn.speed_m_s / (2.0 * horn.length_m)
    y = np.array([cents(row.frequency_hz / first_hz) for row in rows])
    se = np.array([row.se_cents for row in rows])
    return posterior(layout, spots, y, se, thermometer=thermometer)


def session(rows: Sequence[FitRow]) -> tuple[Spot, ...]:
    """The spots of rows whose partials are known, in the order in which they were played."""
    moments = np.linspace(-0.5, 0.5, len(rows)) if len(rows) > 1 else np.zeros(len(rows))
    return tuple(replace(spot_of(row), when=float(when)) for row, when in zip(rows, moments))


def spot_of(row: FitRow) -> Spot:
    """The spot of a row whose partial is known."""
    assert row.partial is not None
    return Spot(row.valves, row.partial, row.extension_m, row.extension_m > 0.0)


def place_rows(fit: Fit, spots: Sequence[Spot]) -> PlaceRows:
    """Places at ``spots``, whether their partials were played or not."""
    design = Design(fit.layout, tuple(spots))
    _, jac = design.predict(fit.theta)
    x, played = design.extension_m, design.group_column >= 0
    _, _, bend = design.deviations(fit.theta)
    shape = np.stack([np.ones_like(x), x, bow(x)], axis=1)
    prior = np.array([deviation_prior(spot.partial, 1.0) for spot in spots])
    unit = np.einsum("ij,ijk,ik->i", shape, prior, shape)
    own = np.where(played, (bend * bow(x)) ** 2, 0.0)
    unplayed = np.outer([part.spread**2 for part in fit.parts], np.where(played, 0.0, unit))
    per_mm = np.abs(design.cents_per_m(fit.theta)) / 1000.0
    return PlaceRows(jac / per_mm[:, None], (unplayed + own + fit.wander_cents**2) / per_mm**2)


def half_widths_at(fit: Fit, spots: Sequence[Spot]) -> FloatArray:
    """Half-widths in mm of the 95 % intervals of the places at ``spots``."""
    rows = place_rows(fit, spots)
    weights, thetas, covs = fit.mixture
    sds = np.sqrt(((rows.jac @ covs) * rows.jac).sum(axis=2) + rows.own)
    return half_widths(weights, (thetas - fit.theta) @ rows.jac.T, sds)


def half_widths_mm(
    fit: Fit, valves: tuple[str, ...], partial: int | None, extensions_m: Sequence[float]
) -> FloatArray:
    """`half_widths_at` on one valve set and partial; None stands for any that wasn't played."""
    if partial is None:
        columns = fit.layout.group_columns
        partial = next(n for n in range(2, 99) if (valves, n) not in columns)
    return half_widths_at(fit, [Spot(valves, partial, float(x)) for x in extensions_m])


def place_uncertainty_mm(
    fit: Fit, valves: tuple[str, ...], partial: int, extension_m: float
) -> float:
    """Half-width in mm of the 95 % interval of one place: it lies within ± this."""
    return float(half_widths_mm(fit, valves, partial, [extension_m])[0])
