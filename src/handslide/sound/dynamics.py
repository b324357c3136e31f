"""How wide a take's loudness is, whether its written dynamics are told apart, and its brightness.

- The range is from the 10th to the 95th percentile of the notes' levels: what EBU Tech 3342 takes
  of short-term loudness for its loudness range (from memory), taken of notes.
- Two written dynamics are told apart by the share of pairs, one note of each, in which the louder
  sign's note is the louder: A. Vargha and H. D. Delaney's measure of stochastic superiority
  (J. Educ. Behav. Stat. 25, 101, 2000, seen: the abstract), 0.5 for chance. Contrast in dB between
  signs is what studies of performances measure (J. M. Geringer, Bull. Counc. Res. Music Educ. 112,
  1992, seen: the abstract).
- Brightness against loudness: the rise of the spectral centroid, in per cent for 10 dB, from a
  straight line through the notes beside their pitch. Only within one take, or one set-up.

Conventions: levels in dB, one of each note.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST_EACH = 3
_RANGE_PERCENTILES = (10.0, 95.0)
_LEAST_BRIGHT = 8
_LEAST_SPAN_DB = 4.0


@dataclass(frozen=True, slots=True)
class Contrast:
    """Two written dynamics that follow each other in loudness: how much louder the ``loud`` notes
    are than the ``soft`` ones, with its standard error, and in which ``share`` of pairs."""

    soft: str
    loud: str
    difference_db: float
    se_db: float
    share: float
    notes: int


@dataclass(frozen=True, slots=True)
class Slope:
    """A rise with its standard error, from how many notes."""

    value: float
    se: float
    notes: int


def loudness_range_db(levels: Sequence[float]) -> float | None:
    """How wide the levels are; None for fewer than two."""
    if len(levels) < 2:
        return None
    low, high = np.percentile(np.array(levels, float), _RANGE_PERCENTILES)
    return float(high - low)


def contrasts(groups: Mapping[str, Sequence[float]], order: Sequence[str]) -> tuple[Contrast, ...]:
    """Neighbouring dynamics, softest first, of those in ``order`` that have three notes or more."""
    present = [sign for sign in order if len(groups.get(sign, ())) >= LEAST_EACH]
    found = []
    for soft, loud in pairwise(present):
        a, b = (np.array(groups[sign], float) for sign in (soft, loud))
        share = float(np.mean(np.sign(b[:, None] - a[None, :]) * 0.5 + 0.5))
        se = float(np.hypot(a.std(ddof=1) / len(a) ** 0.5, b.std(ddof=1) / len(b) ** 0.5))
        difference = float(b.mean() - a.mean())
        found.append(Contrast(soft, loud, difference, se, share, len(a) + len(b)))
    return tuple(found)


def brightness_slope(
    levels: Sequence[float], centroids_hz: Sequence[float], f0_hz: Sequence[float]
) -> Slope | None:
    """Per cent by which the centroid rises for 10 dB; None where the levels hardly differ."""
    level = np.array(levels, float)
    if len(level) < _LEAST_BRIGHT or float(np.ptp(level)) < _LEAST_SPAN_DB:
        return None
    pitch = np.log(np.array(f0_hz, float))
    design = np.stack((np.ones_like(level), level - level.mean(), pitch - pitch.mean()), axis=1)
    if np.linalg.matrix_rank(design) < 3:
        design = design[:, :2]
    bright = np.log(np.array(centroids_hz, float))
    fitted, _, rank, _ = np.linalg.lstsq(design, bright, rcond=None)
    left = bright - design @ fitted
    variance = float(left @ left) / max(len(level) - rank, 1)
    se = float(np.sqrt(variance * np.linalg.pinv(design.T @ design)[1, 1]))
    rise = 100.0 * (np.exp(10.0 * fitted[1]) - 1.0)
    return Slope(float(rise), 1000.0 * se * float(np.exp(10.0 * fitted[1])), len(level))
