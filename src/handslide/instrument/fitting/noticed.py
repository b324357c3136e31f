"""What a fit noticed of the notes, the marks and the horn's warming, worth telling.

Each is told where its posterior probability says so, not where its size alone would.
"""

from collections.abc import Sequence

import numpy as np
from scipy.special import ndtr

from handslide.ground.facts import Fact, fact
from handslide.instrument.fitting.model import FloatArray, Layout
from handslide.instrument.fitting.posterior import Part

SURE = 0.9
# Less than this isn't worth a word: what a breath of warm air does, and a thick paper mark.
LEAST_DRIFT_CENTS = 1.0
LEAST_OFFSET_MM = 4.0
# The scatter is known when its 80 % interval is no wider than this, high against low.
KNOWN_RATIO = 2.5


def scatter(parts: Sequence[Part], se_cents: FloatArray) -> tuple[float, float, float]:
    """The notes' scatter in cents: (median, ends of its 80 % interval).

    ``se_cents`` are the stated standard errors; their root mean square stands for them.
    """
    typical = float(np.sqrt(np.mean(np.square(se_cents))))
    scales = np.array(sorted({part.scale for part in parts}))
    share = np.array([sum(p.weight for p in parts if p.scale == scale) for scale in scales])
    # Shares of grid points, spread half-way to the neighbours (log scale).
    middle = np.cumsum(share) - 0.5 * share
    low, median, high = np.exp(np.interp((0.1, 0.5, 0.9), middle, np.log(scales))) * typical
    return float(median), float(low), float(high)


def noticed(layout: Layout, parts: Sequence[Part], se_cents: FloatArray) -> tuple[Fact, ...]:
    """Facts of scatter, drift and marks; ``se_cents`` as in :func:`scatter`."""
    return (
        _scatter(parts, se_cents),
        *_drift(layout, parts),
        *_marks(layout, parts),
    )


def _scatter(parts: Sequence[Part], se_cents: FloatArray) -> Fact:
    median, low, high = scatter(parts, se_cents)
    if high <= KNOWN_RATIO * low:
        return fact("fitting.rows_scatter", cents=median, low_cents=low, high_cents=high)
    return fact("fitting.scatter_unsure", low_cents=low, high_cents=high)


def _drift(layout: Layout, parts: Sequence[Part]) -> tuple[Fact, ...]:
    mean, sure = _beyond(parts, layout.drift, LEAST_DRIFT_CENTS)
    return (fact("fitting.horn_drifted", cents=mean),) if sure else ()


def _marks(layout: Layout, parts: Sequence[Part]) -> tuple[Fact, ...]:
    found = []
    if layout.marks_m:
        mean, sure = _beyond(parts, layout.offset, LEAST_OFFSET_MM)
        if sure:
            marks_mm = tuple(1000.0 * mark for mark in layout.marks_m)
            found.append(fact("fitting.marks_off", off_mm=mean, marks_mm=marks_mm))
    for k, mark_m in enumerate(layout.marks_m):
        doubting = [part for part in parts if part.doubt.mark_m == mark_m]
        if sum(part.weight for part in doubting) > 0.5:
            column = layout.first_mark + k
            share = np.array([part.weight for part in doubting])
            off = float(share @ [part.theta[column] for part in doubting] / share.sum())
            if abs(off) >= LEAST_OFFSET_MM:
                found.append(fact("fitting.mark_off", off_mm=off, mark_mm=1000.0 * mark_m))
    return tuple(found)


def _beyond(parts: Sequence[Part], column: int, least: float) -> tuple[float, bool]:
    # Mean of an unknown, and whether it is surely beyond ``least`` on its side of nothing.
    weights = np.array([part.weight for part in parts])
    means = np.array([part.theta[column] for part in parts])
    sds = np.sqrt([part.cov[column, column] for part in parts])
    mean = float(weights @ means)
    chance = float(weights @ ndtr((np.sign(mean) * means - least) / sds))
    return mean, chance >= SURE
