"""The playing model as a regression: what a note at a known extension says of a horn.

Conventions: a sounding pitch is counted in cents from the base horn's closed first partial.
With K = 1200/ln 2 cents,

    y = u + 1200·log2(n) - K·ln(1 + Σρ + 2(x + a + m)/L) + w·t + δ + s·x + b·bow(x)
    L = c / (2·F),   F = F_base·2^(u/1200),   c = c_air·2^(k/1200)

which is f = n·c / (2·(L + ΣV + 2x))·2^(δ/1200) with ρ = V/L. The unknowns are u (how far the
closed open horn sounds from the base horn, cents), k (speed of sound or scale of the millimetres
against the air formula, cents), K·ρ for each valve, w (how much sharper the horn got from the first
note, t = -½, to the last, t = ½: a warmer horn sounds higher by the same cents everywhere, since c
multiplies all), an error a that all marks share and an error m for each of them (mm), and for each
valve set and partial δ (cents, closed), s (cents per metre) and b (bend, cents half-way to 450 mm).

Priors (documented constants below) draw all of them towards the harmonic model.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from handslide.instrument.horn import Horn

CENTS_PER_NEPER = 1200.0 / math.log(2.0)
# Deviations at the closed slide and 450 mm out: normal, mean 0, the same spread, correlation ½.
# With ½, taking a closed-slide deviation along to 450 mm helps as often as it harms, which is what
# computed bores showed (docs/physics.md, "Fitting a horn").
DEVIATION_SD_CENTS = 12.0
FAR_M = 0.45
FAR_CORRELATION = 0.5
# Of the variance of slopes so much is common to all partials: a slide whose tubes are wider than
# the base horn's bends all of them alike, as marks do that are all off.
COMMON_SLOPE_SHARE = 0.06
# The pedal isn't near any resonance of the tube and follows the model less closely.
PEDAL_SD_CENTS = 30.0
# Departure of a deviation from a straight line, half-way to 450 mm.
BEND_SD_CENTS = 1.5
# Horns differ in how far they are from harmonic. All spreads above are multiplied by one factor of
# the horn, log-normal around 1, and the fit averages over it with the weight that the notes give.
SPREADS = (0.5, 0.7, 1.0, 1.4, 2.0)
SPREAD_SD_NEPER = 0.35
# Base horn against the real one: main slide and loops pulled or pushed, another A4.
TUNING_SD_CENTS = 60.0
LOOP_SD_CENTS = 30.0
# A thermometer in the room says this much of the air in the horn: 3 °C at 2.9 cents each, and
# humidity and CO2 of breath. Without one: anything from a cold church to a summer stage.
AIR_SD_CENTS = math.hypot(3.0 * 2.9, 3.0)
UNKNOWN_AIR_SD_CENTS = 25.0
# Where a mark really is that was set with a ruler, and the slide on it.
MARK_SD_MM = 0.5
# A ruler laid on at the wrong end of a ferrule puts all marks off alike, and one may be mistyped.
TRUE_RULER_SD_MM = 0.3
OFF_MARK_SD_MM = 25.0
# How much sharper a horn gets from the first note to the last: some two degrees of warming.
DRIFT_SD_CENTS = 5.0

Group = tuple[tuple[str, ...], int]
FloatArray = np.ndarray


@dataclass(frozen=True, slots=True)
class Spot:
    """A way to sound a note: valves, partial, extension; ``marked`` where a ruler gave it.

    ``when`` is the moment in the session, from -½ (first note) to ½ (last).
    """

    valves: tuple[str, ...]
    partial: int
    extension_m: float
    marked: bool = False
    when: float = 0.0

    @property
    def group(self) -> Group:
        """Valve set and partial: what has a deviation of its own."""
        return self.valves, self.partial


@dataclass(frozen=True, slots=True)
class Doubt:
    """What may be wrong with the marks.

    ``offset_sd_mm`` is the standard deviation of the error that all share, ``mark_m`` a mark that
    is out of line with the others; ``share`` is the probability of this before any note.
    """

    share: float = 1.0
    offset_sd_mm: float = TRUE_RULER_SD_MM
    mark_m: float | None = None


NO_DOUBT = Doubt()


@dataclass(frozen=True, eq=False)
class Layout:
    """Which column of the regression is which unknown.

    ``base`` is the horn that the fit starts from, in the air of the notes; ``spread`` multiplies
    the prior standard deviations of all deviations. ``doubt`` says how far marks may be off.
    """

    base: Horn
    marks_m: tuple[float, ...]
    groups: tuple[Group, ...]
    air_sd_cents: float = AIR_SD_CENTS
    spread: float = 1.0
    doubt: Doubt = NO_DOUBT

    @cached_property
    def size(self) -> int:
        """Number of unknowns."""
        return self.first_group + 3 * len(self.groups)

    @cached_property
    def drift(self) -> int:
        """Column of the horn's drift."""
        return 2 + len(self.base.valves)

    @cached_property
    def offset(self) -> int:
        """Column of the error that all marks share."""
        return self.drift + 1

    @cached_property
    def first_mark(self) -> int:
        """Column of the first mark's own error."""
        return self.offset + 1

    @cached_property
    def first_group(self) -> int:
        """Column of the first group's deviation; its slope and bend follow."""
        return self.first_mark + len(self.marks_m)

    @cached_property
    def group_columns(self) -> dict[Group, int]:
        """Column of each group's deviation."""
        return {group: self.first_group + 3 * k for k, group in enumerate(self.groups)}

    @cached_property
    def prior_mean(self) -> FloatArray:
        """Base horn, dry formula of the air, no deviations."""
        mean = np.zeros(self.size)
        for k, valve in enumerate(self.base.valves):
            mean[2 + k] = CENTS_PER_NEPER * valve.loop_m / self.base.length_m
        return mean

    @cached_property
    def prior_cov(self) -> FloatArray:
        """Covariance of the unknowns before any note."""
        cov = np.zeros((self.size, self.size))
        cov[0, 0] = TUNING_SD_CENTS**2
        cov[1, 1] = self.air_sd_cents**2
        for k, valve in enumerate(self.base.valves):
            tube = (self.base.length_m + valve.loop_m) / self.base.length_m
            cov[2 + k, 2 + k] = (LOOP_SD_CENTS * tube) ** 2
        cov[self.drift, self.drift] = DRIFT_SD_CENTS**2
        cov[self.offset, self.offset] = self.doubt.offset_sd_mm**2
        for k, mark_m in enumerate(self.marks_m):
            own = OFF_MARK_SD_MM if mark_m == self.doubt.mark_m else MARK_SD_MM
            cov[self.first_mark + k, self.first_mark + k] = own**2
        for group, column in self.group_columns.items():
            block = slice(column, column + 3)
            cov[block, block] = deviation_prior(group[1], self.spread)
        slopes = [column + 1 for column in self.group_columns.values()]
        sds = np.sqrt(cov[slopes, slopes])
        common = COMMON_SLOPE_SHARE * np.outer(sds, sds)
        np.fill_diagonal(common, sds**2)
        cov[np.ix_(slopes, slopes)] = common
        return cov


def deviation_prior(partial: int, spread: float) -> FloatArray:
    """Prior covariance of (δ, slope, bend) of one partial on a horn with this ``spread``."""
    sd = spread * (PEDAL_SD_CENTS if partial == 1 else DEVIATION_SD_CENTS)
    # δ(FAR) = δ + s·FAR has the same sd and correlation r with δ:
    #   var(s) = 2·sd²·(1 - r)/FAR²,   cov(δ, s) = -sd²·(1 - r)/FAR
    rest = 1.0 - FAR_CORRELATION
    cov = -(sd**2) * rest / FAR_M
    return np.array(
        [
            [sd**2, cov, 0.0],
            [cov, 2.0 * sd**2 * rest / FAR_M**2, 0.0],
            [0.0, 0.0, (spread * BEND_SD_CENTS) ** 2],
        ]
    )


def bow(extension_m: FloatArray) -> FloatArray:
    """Shape of a bend: 0 at the closed slide and at 450 mm, 1 half-way, quadratic."""
    x = extension_m / FAR_M
    return 4.0 * x * (1.0 - x)


@dataclass(frozen=True, eq=False)
class Design:
    """Spots in a layout, ready for repeated prediction."""

    layout: Layout
    spots: tuple[Spot, ...]

    @cached_property
    def extension_m(self) -> FloatArray:
        """Extension of each spot."""
        return np.array([spot.extension_m for spot in self.spots], dtype=float)

    @cached_property
    def when(self) -> FloatArray:
        """Moment of each spot in the session, -½ to ½."""
        return np.array([spot.when for spot in self.spots], dtype=float)

    @cached_property
    def engaged(self) -> FloatArray:
        """Which valves are down, shape (spots, valves), 0 or 1."""
        names = [valve.name for valve in self.layout.base.valves]
        rows = [[float(name in spot.valves) for name in names] for spot in self.spots]
        return np.array(rows, dtype=float).reshape(len(self.spots), len(names))

    @cached_property
    def harmonic_cents(self) -> FloatArray:
        """1200·log2 of each spot's partial."""
        return 1200.0 * np.log2([float(spot.partial) for spot in self.spots])

    @cached_property
    def mark_column(self) -> FloatArray:
        """Column of each spot's mark, -1 where the extension is exact."""
        marks = self.layout.marks_m
        return np.array(
            [
                self.layout.first_mark + marks.index(spot.extension_m) if spot.marked else -1
                for spot in self.spots
            ],
            dtype=int,
        )

    @cached_property
    def group_column(self) -> FloatArray:
        """Column of each spot's deviation, -1 where the layout has none for it."""
        columns = self.layout.group_columns
        return np.array([columns.get(spot.group, -1) for spot in self.spots], dtype=int)

    def deviations(self, theta: FloatArray) -> FloatArray:
        """(δ, slope, bend) of each spot, shape (3, spots); 0 where the layout has none."""
        column = np.maximum(self.group_column, 0)
        found = np.stack([theta[column], theta[column + 1], theta[column + 2]])
        return np.where(self.group_column >= 0, found, 0.0)

    def predict(self, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(y in cents, shape (spots,); its derivatives, shape (spots, unknowns))."""
        layout, x = self.layout, self.extension_m
        two_x, two_over_l = self.two_x(theta)
        loops = self.engaged @ theta[2 : layout.drift] / CENTS_PER_NEPER
        q = 1.0 + loops + two_x
        first, slope, bend = self.deviations(theta)
        y = theta[0] + self.harmonic_cents - CENTS_PER_NEPER * np.log(q)
        y = y + theta[layout.drift] * self.when + first + slope * x + bend * bow(x)
        jac = np.zeros((len(x), layout.size))
        jac[:, 0] = 1.0 - two_x / q
        jac[:, 1] = two_x / q
        jac[:, 2 : layout.drift] = -self.engaged / q[:, None]
        marked = np.flatnonzero(self.mark_column >= 0)
        per_mm = -CENTS_PER_NEPER * 0.001 * two_over_l / q
        jac[:, layout.drift] = self.when
        jac[marked, layout.offset] = jac[marked, self.mark_column[marked]] = per_mm[marked]
        own = np.flatnonzero(self.group_column >= 0)
        for k, shape in enumerate((np.ones_like(x), x, bow(x))):
            jac[own, self.group_column[own] + k] = shape[own]
        return y, jac

    def two_x(self, theta: FloatArray) -> tuple[FloatArray, float]:
        """(2(x + m)/L of each spot, 2/L in 1/m)."""
        base = self.layout.base
        two_over_l = 2.0 / base.length_m * math.pow(2.0, (theta[0] - theta[1]) / 1200.0)
        marked = self.mark_column >= 0
        error_mm = theta[np.where(marked, self.mark_column, 0)] + theta[self.layout.offset]
        error_m = np.where(marked, 0.001 * error_mm, 0.0)
        return two_over_l * (self.extension_m + error_m), two_over_l

    def cents_per_m(self, theta: FloatArray) -> FloatArray:
        """dy/dx of each spot: how fast its pitch falls along the slide (negative)."""
        layout, x = self.layout, self.extension_m
        two_x, two_over_l = self.two_x(theta)
        q = 1.0 + self.engaged @ theta[2 : layout.drift] / CENTS_PER_NEPER + two_x
        _, slope, bend = self.deviations(theta)
        bowed = bend * 4.0 * (1.0 - 2.0 * x / FAR_M) / FAR_M
        per_m: FloatArray = -CENTS_PER_NEPER * two_over_l / q + slope + bowed
        return per_m
