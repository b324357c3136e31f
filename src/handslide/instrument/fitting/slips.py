"""Notes that don't belong to the others: which of them is most likely a slip.

Each note is held against what all others say (leave-one-out predictive density, exact here for each
combination of the mixture; Gelfand, Dey and Chang 1992, "Model determination using predictive
distributions", in Bayesian Statistics 4). A slip is as likely as not when its density under a wide
normal, times the share of slips among notes, is as large: the contaminated normal of Box and Tiao
1968, "A Bayesian approach to some outlier problems", Biometrika 55.
"""

from collections.abc import Sequence

import numpy as np

from handslide.ground.facts import fact
from handslide.instrument.fitting.model import Design, FloatArray, Spot
from handslide.instrument.fitting.posterior import Posterior
from handslide.instrument.fitting.rows import FitRow, LeftOut

# Of a hundred notes so many are slips, and they lie so far off.
SLIP_SHARE = 0.02
SLIP_SD_CENTS = 50.0
# A note that stands alone at an extension, so near one where several were played: who moves the
# slide away for one note, in the midst of those at that mark, and back? Before or after them a
# place of its own is as likely meant as not.
NEAR_MARK_M = 0.065
LEAST_SHARED = 3
MISTYPED_AMONG = 0.7
MISTYPED_BESIDE = 0.35


def find_slip(found: Posterior, rows: Sequence[FitRow]) -> LeftOut | None:
    """The note that is most likely a slip, if one is more likely than not.

    One partial far off on a horn that is else harmonic is a fact, not a slip, so only horns count
    that are at least as far from harmonic as most.
    """
    wide = [part for part in found.parts if part.spread >= 1.0] or list(found.parts)
    apart = np.array([part.apart for part in wide])
    sd = np.array([part.apart_sd for part in wide])
    density = _normal(apart, sd)
    # Weights without the note itself, from p(y) = p(y_i | others)·p(others).
    weights = np.array([part.weight for part in wide])[:, None] / np.maximum(density, 1e-300)
    weights = weights / weights.sum(axis=0)
    expected = (weights * density).sum(axis=0)
    slip = (weights * _normal(apart, np.hypot(sd, SLIP_SD_CENTS))).sum(axis=0)
    odds = SLIP_SHARE / (1.0 - SLIP_SHARE) * slip / np.maximum(expected, 1e-300)
    k = int(np.argmax(odds))
    alone = _alone(rows)
    for i, mark_m in alone.items():
        moved = apart[:, i] - _further(found, rows[i], mark_m)
        there = (weights[:, i] * _normal(moved, sd[:, i])).sum()
        share = MISTYPED_AMONG if _among(rows, i, mark_m) else MISTYPED_BESIDE
        likely = share / (1.0 - share) * there / max(expected[i], 1e-300)
        if likely > max(1.0, odds[k]):
            why = fact("fitting.alone_at_mark", mark_mm=1000.0 * mark_m)
            return LeftOut(rows[i], why)
    if odds[k] <= 1.0:
        return None
    off = float(weights[:, k] @ apart[:, k])
    return LeftOut(rows[k], fact("fitting.off_the_others", off_cents=off))


def _normal(x: FloatArray, sd: FloatArray) -> FloatArray:
    density: FloatArray = np.exp(-0.5 * (x / sd) ** 2) / (np.sqrt(2.0 * np.pi) * sd)
    return density


def _alone(rows: Sequence[FitRow]) -> dict[int, float]:
    # Index of each row that stands alone near a mark that several share, and that mark.
    at = [row.extension_m for row in rows]
    shared = [mark for mark in set(at) if mark and at.count(mark) >= LEAST_SHARED]
    found = {}
    for i, x in enumerate(at):
        near = min(shared, key=lambda mark: abs(mark - x), default=None)
        if x and near is not None and at.count(x) == 1 and abs(near - x) <= NEAR_MARK_M:
            found[i] = near
    return found


def _among(rows: Sequence[FitRow], i: int, mark_m: float) -> bool:
    # Whether the notes played just before and after row i are at the mark.
    return 0 < i < len(rows) - 1 and all(rows[k].extension_m == mark_m for k in (i - 1, i + 1))


def _further(found: Posterior, row: FitRow, mark_m: float) -> float:
    # Cents by which the row's note sounds higher at the mark than where it is said to be.
    group = row.valves, row.partial or 1
    spots = tuple(Spot(*group, x) for x in (mark_m, row.extension_m))
    y, _ = Design(found.layout, spots).predict(found.theta)
    return float(y[0] - y[1])
