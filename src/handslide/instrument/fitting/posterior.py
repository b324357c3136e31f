"""What notes say of a horn, averaged over what isn't known of the notes and of the marks.

Four things decide how much a note counts: how much the player scatters, how far the horn is from
harmonic, whether all marks share an error, whether one mark is mistyped. None of them is known, so
the fit is done for each combination on a grid and averaged with the weight that the notes give it
(integrating over nuisance parameters: Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, ch. 3
and 5). Normal errors of unknown scale make a Student t of the average (there, sec. 3.2), so with
few notes the intervals are wider than 1.96 standard deviations. For one combination the problem is
linear and normal, hence the posterior and the evidence are exact, but for the linearisation.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from handslide.instrument.fitting.model import (
    TRUE_RULER_SD_MM,
    Design,
    Doubt,
    FloatArray,
    Layout,
    Spot,
)

# Horns differ in how far they are from harmonic. All spreads of deviations are multiplied by one
# factor of the horn, log-normal around 1.
SPREADS = (0.5, 0.7, 1.0, 1.4, 2.0)
SPREAD_SD_NEPER = 0.35
# The notes' true scatter over what their standard errors say, log-normal: with the usual 2 cents
# two players of three lie between 1.9 and 14 (own guess, wide on purpose).
SCALES = (0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0)
USUAL_SCALE = 2.6
SCALE_SD_NEPER = 1.0
# Marks before any note: one out of line with the others (probability); of the rest all are off
# alike, by a little or by much (probability, standard deviation in mm), or as good as the ruler.
OFFSETS = ((0.2, 5.0), (0.7, 15.0))
OFF_MARK_SHARE = 0.1
# A mark with fewer notes can't be told from wrong notes.
LEAST_AT_MARK = 3
MOST_MARKS_DOUBTED = 6
LEAST_WEIGHT = 1e-3
INSIDE = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One combination: its weight, unknowns and covariance.

    ``apart`` is how far each note lies from what all *others* say, ``apart_sd`` the standard
    deviation that it should have, in cents.
    """

    weight: float
    doubt: Doubt
    spread: float
    scale: float
    theta: FloatArray
    cov: FloatArray
    apart: FloatArray
    apart_sd: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """The unknowns: ``theta`` and ``cov`` are mean and covariance of the mixture of ``parts``.

    ``layout`` holds the root mean square spread, which is what partials that weren't played are
    taken to have.
    """

    layout: Layout
    theta: FloatArray
    cov: FloatArray
    parts: tuple[Part, ...]


def posterior(
    layout: Layout,
    spots: Sequence[Spot],
    y: FloatArray,
    se: FloatArray,
    *,
    thermometer: bool = True,
) -> Posterior:
    """The unknowns given pitches ``y`` (cents) whose stated standard errors are ``se`` (cents).

    ``se`` counts up to one factor that the notes themselves show. Without a ``thermometer`` a
    single mark is taken at its word: its error can't be told from the speed of sound.
    """
    design = Design(layout, tuple(spots))
    vague = replace(layout, doubt=Doubt(offset_sd_mm=OFFSETS[-1][1]))
    at = mode(vague, design, y, USUAL_SCALE * se)
    got, jac = design.predict(at)
    linear = y - got + jac @ (at - layout.prior_mean)
    grid = [
        Scales.of(replace(layout, doubt=doubt, spread=spread), jac, linear, se)
        for doubt in _doubts(layout, spots, thermometer=thermometer)
        for spread in SPREADS
    ]
    logs = np.array([scales.logs for scales in grid])
    weights = np.exp(logs - logs.max())
    keep = weights >= LEAST_WEIGHT * weights.max()
    weights = weights / weights[keep].sum()
    kept = tuple(
        grid[row].part(column, float(weights[row, column])) for row, column in np.argwhere(keep)
    )
    share = np.array([part.weight for part in kept])
    thetas = np.array([part.theta for part in kept])
    theta = share @ thetas
    away = thetas - theta
    cov = sum(part.weight * part.cov for part in kept) + (away.T * share) @ away
    spread = math.sqrt(sum(part.weight * part.spread**2 for part in kept))
    return Posterior(replace(layout, spread=spread), theta, cov, kept)


def mode(layout: Layout, design: Design, y: FloatArray, se: FloatArray) -> FloatArray:
    """The most probable unknowns for one spread and one scatter: Gauss-Newton's iteration."""
    mean, weights = layout.prior_mean, 1.0 / se**2
    inverse_prior = np.linalg.inv(layout.prior_cov)
    theta = mean.copy()
    for _ in range(30):
        got, jac = design.predict(theta)
        information = inverse_prior + (jac.T * weights) @ jac
        pull = inverse_prior @ (mean - theta) + jac.T @ (weights * (y - got))
        step = np.linalg.solve(information, pull)
        theta = theta + step
        if float(np.max(np.abs(step), initial=0.0)) < 1e-6:
            break
    return theta


def _doubts(layout: Layout, spots: Sequence[Spot], *, thermometer: bool) -> tuple[Doubt, ...]:
    if not layout.marks_m or (not thermometer and len(layout.marks_m) == 1):
        return (Doubt(),)
    at = [spot.extension_m for spot in spots if spot.marked]
    several = [mark for mark in layout.marks_m if at.count(mark) >= LEAST_AT_MARK]
    single = several[:MOST_MARKS_DOUBTED] if len(layout.marks_m) > 1 else []
    left = OFF_MARK_SHARE if single else 0.0
    return (
        Doubt(share=(1.0 - left) * (1.0 - sum(share for share, _ in OFFSETS))),
        *(Doubt(share=(1.0 - left) * share, offset_sd_mm=sd_mm) for share, sd_mm in OFFSETS),
        *(Doubt(share=left / len(single), mark_m=mark) for mark in single),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Scales:
    """All combinations of one doubt and one spread: ``logs`` are the logarithms of the weights of
    each of `SCALES`.

    linear = J·(theta - mean) + error, error ~ N(0, (scale·se)²). With P = R·Rᵀ and the singular
    values s of J·R/se = U·s·Vᵀ every scale follows from one decomposition.
    """

    layout: Layout
    se: FloatArray
    white: FloatArray
    along: FloatArray
    u: FloatArray
    s: FloatArray
    turned: FloatArray
    logs: FloatArray

    @classmethod
    def of(cls, layout: Layout, jac: FloatArray, linear: FloatArray, se: FloatArray) -> "Scales":
        """The decomposition, and the evidence of each scale."""
        root = np.linalg.cholesky(layout.prior_cov)
        u, s, vt = np.linalg.svd((jac / se[:, None]) @ root, full_matrices=False)
        white, scales = linear / se, np.array(SCALES)
        along = u.T @ white
        beyond = max(float(white @ white - along @ along), 0.0)
        total = s**2 + scales[:, None] ** 2
        fit = np.log(total).sum(axis=1) + (along**2 / total).sum(axis=1)
        fit += (len(se) - len(s)) * 2.0 * np.log(scales) + beyond / scales**2
        off = np.log(scales / USUAL_SCALE) / SCALE_SD_NEPER
        spread = math.log(layout.spread) / SPREAD_SD_NEPER
        logs = math.log(layout.doubt.share) - 0.5 * (spread**2 + off**2 + fit)
        return cls(layout, se, white, along, u, s, root @ vt.T, logs)

    def part(self, number: int, weight: float) -> Part:
        """The combination with one of `SCALES`."""
        scale, prior = SCALES[number], self.layout
        total = self.s**2 + scale**2
        gain = self.s**2 / total
        rest = np.maximum(1.0 - (self.u**2) @ gain, 1e-9)
        return Part(
            weight,
            prior.doubt,
            prior.spread,
            scale,
            prior.prior_mean + self.turned @ (self.s / total * self.along),
            prior.prior_cov - (self.turned * gain) @ self.turned.T,
            self.se * (self.white - self.u @ (gain * self.along)) / rest,
            self.se * scale / np.sqrt(rest),
        )


def offset_sd_mm() -> float:
    """Standard deviation of the error that all marks share, before any note at a mark."""
    true = (1.0 - sum(share for share, _ in OFFSETS), TRUE_RULER_SD_MM)
    return math.sqrt(sum(share * sd_mm**2 for share, sd_mm in (true, *OFFSETS)))


def half_widths(weights: FloatArray, shifts: FloatArray, sds: FloatArray) -> FloatArray:
    """Half-widths of the symmetric 95 % intervals of mixtures of normals.

    ``weights`` has shape (parts,), ``shifts`` (the parts' means from the middle of the interval)
    and ``sds`` (parts, places). By bisection, to 1 in 10⁴.
    """
    low: FloatArray = np.zeros(sds.shape[1])
    high: FloatArray = (np.abs(shifts) + 4.0 * sds).max(axis=0)
    for _ in range(14):
        middle = 0.5 * (low + high)
        inside = ndtr((middle - shifts) / sds) - ndtr((-middle - shifts) / sds)
        enough = weights @ inside >= INSIDE
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return high
