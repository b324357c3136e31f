"""The statistics of progress: means and trends over takes that are honest about how few they are.

The notes of one take aren't independent: a day has its own lip and its own tuning. So a take gives
one value and how sure it is, and the takes, not the notes, are what is counted.

- Mean and trend: random effects over takes, y = X·b + take + noise. The variance between takes is
  that of Paule and Mandel (J. Res. NBS 87, 1982), the intervals are those of Knapp and Hartung
  (Stat. Med. 22, 2003): Student's t with takes minus parameters degrees of freedom; the scale is
  never below 1 for shares, whose noise is known from the counts.
- The variance of few takes leans on the player's usual one where many groups are judged (Smyth,
  Stat. Appl. Genet. Mol. Biol. 3, 2004).
- Many tests at once: Benjamini and Hochberg (J. R. Stat. Soc. B 57, 1995).
- Whether something came nearer to 0: both early - late and early + late must have the same sure
  sign (an intersection-union test; Berger, Technometrics 24, 1982).
- Spread from few notes: mean absolute deviation from the median, by what the expected order
  statistics of as many normal values give (Blom's approximation, 1958).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, chdtrc, digamma, ndtri, polygamma, stdtr, stdtrit

CONFIDENCE = 0.95
POWER = 0.8
MAD_EFFICIENCY = 0.37
_ALIKE = 0.5
_LEAST_GROUPS, _MOST_DF = 5, 60.0
MOST_TAKES = 60
_ROUNDS = 60
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its standard error; ``df`` are the degrees of freedom of its interval."""

    value: float
    se: float
    df: int

    @property
    def half_width(self) -> float:
        """Half of the 95 % interval; infinite without degrees of freedom."""
        if self.df < 1:
            return math.inf
        return float(stdtrit(self.df, 0.5 + CONFIDENCE / 2)) * self.se

    @property
    def low(self) -> float:
        return self.value - self.half_width

    @property
    def high(self) -> float:
        return self.value + self.half_width

    @property
    def p(self) -> float:
        """Two-sided p-value against 0."""
        if self.df < 1:
            return 1.0
        return float(2.0 * stdtr(self.df, -abs(self.value) / max(self.se, 1e-12)))

    def nearer_to_0(self, limit: float = 0.0) -> float:
        """The end of the interval nearer to 0, beyond ``limit``; 0 if the interval reaches it."""
        if math.isinf(self.half_width):
            return 0.0
        sure = max(abs(self.value) - self.half_width, 0.0)
        return math.copysign(sure, self.value) if sure > limit else 0.0


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted ``b`` with its covariance; ``between`` is the standard deviation between takes."""

    b: Floats
    covariance: Floats
    df: int
    between: float

    def at(self, row: Sequence[float]) -> Estimate:
        """The estimate of a linear function of ``b``."""
        x = np.asarray(row, float)
        variance = float(x @ self.covariance @ x)
        return Estimate(float(x @ self.b), math.sqrt(max(variance, 0.0)), self.df)


@dataclass(frozen=True, slots=True)
class Trend:
    """A straight line through takes: its values ``early`` and ``late``, and their difference
    (late - early)."""

    early: Estimate
    late: Estimate
    change: Estimate
    total: Estimate
    """early + late: of a value that may change its sign."""
    between: float

    @property
    def nearer(self) -> Estimate:
        """How far the value came away from 0 (negative: nearer to it), |late| - |early|.

        Of late - early and late + early the smaller is what |.| changed by.
        """
        least = min(self.change, self.total, key=lambda one: abs(one.value))
        gap = abs(self.late.value) - abs(self.early.value)
        return Estimate(math.copysign(abs(least.value), gap), least.se, least.df)

    @property
    def nearer_p(self) -> float:
        """p-value of |late| differing from |early|: both sides of the product must be sure."""
        return max(self.change.p, self.total.p)


def fit_takes(design: Floats, y: Floats, variance: Floats, *, counted: bool = False) -> Fit:
    """Random-effects regression over takes: ``design`` (takes, parameters), ``y`` and its
    ``variance`` (takes,). There must be at least as many takes as parameters.

    ``counted``: the variances are those of counts, so the takes can't lie closer than these say.
    """
    takes, parameters = design.shape
    df = takes - parameters
    tau2 = _between(design, y, variance) if df > 0 else 0.0
    w = 1.0 / (variance + tau2)
    weighted = design.T * w
    inverse = np.linalg.inv(weighted @ design)
    b = inverse @ (weighted @ y)
    left = float(w @ (y - design @ b) ** 2)
    scale = left / df if df > 0 else 1.0
    if counted:
        scale = max(scale, 1.0)
    return Fit(b, inverse * scale, df, math.sqrt(tau2))


def _between(design: Floats, y: Floats, variance: Floats) -> float:
    """Paule and Mandel's variance between takes: where the weighted rest is what is expected."""
    excess = _excess(design, y, variance)
    if excess(0.0) <= 0.0:
        return 0.0
    low, high = 0.0, 4.0 * float(np.var(y)) + 1e-9
    while excess(high) > 0.0:
        low, high = high, 2.0 * high
    for _ in range(_ROUNDS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if excess(middle) > 0.0 else (low, middle)
        if high - low < 1e-5 * max(high, 1e-5):
            break
    return (low + high) / 2.0


def _excess(design: Floats, y: Floats, variance: Floats) -> Callable[[float], float]:
    """By how much the weighted rest is more than expected, for any variance between takes.

    With z = (X, y) all of it is in the moments Zᵀ·W·Z, of which the products are made once; of y
    only what the unweighted fit leaves, so that nothing cancels. A mean or a straight line.
    """
    takes, parameters = design.shape
    df = takes - parameters
    rest = y - design @ np.linalg.solve(design.T @ design, design.T @ y)
    if parameters == 1:
        (x,) = design.T
        products = np.array([x * x, x * rest, rest * rest])

        def of_mean(tau2: float) -> float:
            xx, xy, yy = (products @ (1.0 / (variance + tau2))).tolist()
            return float(yy - xy * xy / xx - df)

        return of_mean
    x, t = design.T
    products = np.array([x * x, x * t, t * t, x * rest, t * rest, rest * rest])

    def of_line(tau2: float) -> float:
        xx, xt, tt, xy, ty, yy = (products @ (1.0 / (variance + tau2))).tolist()
        explained = xy * xy * tt - 2.0 * xy * ty * xt + ty * ty * xx
        return float(yy - explained / (xx * tt - xt * xt) - df)

    return of_line


def mean_over(y: Floats, variance: Floats, *, counted: bool = False) -> tuple[Estimate, float]:
    """The mean over takes, and the standard deviation between them."""
    fit = fit_takes(np.ones((len(y), 1)), y, variance, counted=counted)
    return fit.at([1.0]), fit.between


def trend_over(
    when: Floats,
    y: Floats,
    variance: Floats,
    ends: tuple[float, float],
    *,
    counted: bool = False,
) -> Trend:
    """The straight line through takes at ``when``, read at the two times ``ends``."""
    middle = float(when.sum()) / len(when)
    design = np.array([np.ones(len(y)), when - middle]).T
    fit = fit_takes(design, y, variance, counted=counted)
    early, late = (ends[0] - middle, ends[1] - middle)
    return Trend(
        early=fit.at([1.0, early]),
        late=fit.at([1.0, late]),
        change=fit.at([0.0, late - early]),
        total=fit.at([2.0, late + early]),
        between=fit.between,
    )


def thirds(when: Sequence[float] | Floats) -> tuple[float, float]:
    """The mean times of the first and the last third of takes (at least one take each)."""
    ordered = np.sort(np.asarray(when, float))
    share = max(len(ordered) // 3, 1)
    return float(ordered[:share].sum()) / share, float(ordered[-share:].sum()) / share


def adjusted(p_values: Sequence[float]) -> list[float]:
    """p-values after Benjamini and Hochberg: those below 0.05 hold at most 5 % false alarms."""
    p = np.asarray(p_values, float)
    order = np.argsort(p)
    ranked = p[order] * len(p) / np.arange(1, len(p) + 1)
    ranked = np.minimum(np.minimum.accumulate(ranked[::-1])[::-1], 1.0)
    found = np.empty(len(p))
    found[order] = ranked
    return [float(value) for value in found]


# How much more would tell.


@lru_cache(maxsize=512)
def takes_for_mean(sd: float, wanted: float) -> int | None:
    """How many takes make the 95 % interval of a mean ±``wanted``; None: more than 60.

    ``sd`` is that of one take's value.
    """
    for takes in range(2, MOST_TAKES + 1):
        if float(stdtrit(takes - 1, 0.975)) * sd / math.sqrt(takes) <= wanted:
            return takes
    return None


@lru_cache(maxsize=512)
def takes_for_change(sd: float, wanted: float) -> int | None:
    """How many takes, evenly spread, show a change of ``wanted`` four times in five."""
    for takes in range(4, MOST_TAKES + 1):
        if _change_shown(takes) * sd <= wanted:
            return takes
    return None


@lru_cache(maxsize=MOST_TAKES)
def _change_shown(takes: int) -> float:
    """The change that so many takes show four times in five, in standard deviations of a take."""
    when = np.linspace(0.0, 1.0, takes)
    early, late = thirds(when)
    se = (late - early) / math.sqrt(float(np.sum((when - 0.5) ** 2)))
    return float(stdtrit(takes - 2, 0.975) + stdtrit(takes - 2, POWER)) * se


# Spread.


@lru_cache(maxsize=512)
def _expected_deviation(count: int) -> float:
    """Mean absolute deviation from the median of ``count`` standard normal values, expected."""
    ranks = np.arange(1, count + 1)
    return float(np.mean(np.abs(ndtri((ranks - 0.375) / (count + 0.25)))))


def median(values: Floats) -> float:
    """The median of one or more numbers: of few in a third of the time of `numpy.median`."""
    ordered = np.sort(values)
    return 0.5 * float(ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2])


def spread_of(values: Floats) -> float:
    """The standard deviation of two or more values, as their mean absolute deviation tells it."""
    away = np.abs(values - median(values))
    return float(away.sum()) / len(away) / _expected_deviation(len(away))


def spread_variance(sd: float, count: int) -> float:
    """Variance of `spread_of` for normal values: about 0.57·sd²/(n-1), 0.5 for the best one."""
    return 0.57 * sd**2 / max(count - 1, 1)


def robust_sd(values: Floats) -> float:
    """1.4826 times the median absolute deviation from the median."""
    return 1.4826 * median(np.abs(values - median(values)))


def spread_p(sd: float, count: int, takes: int, usual: float) -> float:
    """How likely `robust_sd` of ``count`` normal values is as large where theirs is ``usual``.

    Its variance is that of a standard deviation of 37 % as many values (F. Hampel, "The influence
    curve and its role in robust estimation", J. Am. Stat. Assoc. 69, 1974; from memory). Values of
    one take are alike: with half of the variance between takes, n values in takes of m are worth
    n / (1 + (m - 1)/4), as variances go by the correlation's square.
    """
    alike = 1.0 + (max(count / max(takes, 1), 1.0) - 1.0) * _ALIKE**2
    df = MAD_EFFICIENCY * (count / alike - 1.0)
    return float(chdtrc(df, df * (sd / usual) ** 2)) if df > 0.0 else 1.0


def share_p(count: int, tried: int, se: float, usual: float) -> float:
    """How likely as many of ``tried`` would be by chance where the share is ``usual``: the binomial
    tail, of as many fewer as the share's own ``se`` over takes says that they are worth."""
    if count == 0:
        return 1.0
    share = (count + 0.5) / (tried + 1.0)
    worth = min(share * (1.0 - share) / max(se, 1e-9) ** 2, tried) / tried
    return float(betainc(count * worth, (tried - count) * worth + 1.0, usual))


@dataclass(frozen=True, slots=True)
class UsualVariance:
    """What a player's takes differ by in most groups: ``variance`` of one take's value, and how
    many degrees of freedom it is worth beside a group's own."""

    variance: float
    df: float

    def p(self, mean: Estimate) -> float:
        """Two-sided p-value of a mean over takes against 0, with a variance near the usual."""
        df, takes = self.df + mean.df, mean.df + 1
        if mean.df < 1:
            return 1.0
        own = mean.se**2 * takes
        leaning = (self.df * self.variance + mean.df * own) / df
        return float(2.0 * stdtr(df, -abs(mean.value) / math.sqrt(max(leaning / takes, 1e-12))))


def usual_variance(means: Sequence[Estimate]) -> UsualVariance:
    """The usual variance by all means over takes of a player: G. K. Smyth, "Linear models and
    empirical Bayes methods for assessing differential expression", Stat. Appl. Genet. Mol. Biol. 3
    (2004) no. 3, section 6.2 (read as implemented by others).

    Of few takes a group's own variance is small by chance now and then, and looks sure then.
    """
    known = [(one.se**2 * (one.df + 1), one.df) for one in means if one.df > 0 and one.se > 0]
    if len(known) < _LEAST_GROUPS:
        return UsualVariance(1.0, 0.0)
    variance, df = np.array(known).T
    logs = np.log(variance) - digamma(df / 2.0) + np.log(df / 2.0)
    beyond = float(np.var(logs, ddof=1) - np.mean(polygamma(1, df / 2.0)))
    prior = _MOST_DF if beyond <= 0.0 else min(2.0 * _trigamma_inverse(beyond), _MOST_DF)
    usual = math.exp(float(np.mean(logs)) + float(digamma(prior / 2.0)) - math.log(prior / 2.0))
    return UsualVariance(usual, prior)


def _trigamma_inverse(value: float) -> float:
    """Where the trigamma function has this value, by bisection in the logarithm."""
    low, high = -10.0, 10.0
    for _ in range(_ROUNDS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if polygamma(1, math.exp(middle)) > value else (low, middle)
    return math.exp(0.5 * (low + high))


def heard_share(bias: float, sd: float, limit: float) -> float:
    """The share of normal values further from 0 than ``limit``: what a listener notices."""
    if sd <= 0.0:
        return float(abs(bias) > limit)
    high = 0.5 * math.erfc((limit - bias) / (sd * math.sqrt(2.0)))
    low = 0.5 * math.erfc((limit + bias) / (sd * math.sqrt(2.0)))
    return high + low
