"""What a whole take is off by, so that no single note is blamed for it.

Conventions: cents above (+) or below (-) the note.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from handslide.ground.hearing import IN_TUNE_CENTS, TRAINED_EAR_CENTS

_LEAST_NOTES = 5
_SURE, _LEAST_SPREAD_CENTS = 3.0, 4.0
_AGREE_SHARE = 0.8
_LEAST_CLOSED = 2
_LEAST_DRIFTING, _LEAST_OF_PLACE = 16, 4
_SURE_DRIFT, _SHARED = 4.0, 0.5


def take_offset(rows: Sequence[tuple[float, bool | None]]) -> float:
    """How far a take is off as a whole; 0.0 where it isn't, or where nobody can tell.

    ``rows`` are the cents of its notes, each with whether the slide was closed (None: not known).
    The offset is the median. It counts where a trained ear would hear it, it is three of its
    standard errors (1.2533·s/√n, s from the median absolute deviation; from memory) from 0, four of
    five notes lie on its side, and the closed slide is off, too, if it was played: else it is the
    slide that is short or far, and not the horn.
    """
    if len(rows) < _LEAST_NOTES:
        return 0.0
    cents = np.array([row[0] for row in rows], float)
    middle = float(np.median(cents))
    spread = max(1.4826 * float(np.median(np.abs(cents - middle))), _LEAST_SPREAD_CENTS)
    least = max(TRAINED_EAR_CENTS, _SURE * 1.2533 * spread / len(rows) ** 0.5)
    if abs(middle) < least or float(np.mean(np.sign(cents) == np.sign(middle))) < _AGREE_SHARE:
        return 0.0
    for wanted in (True, False):
        some = [off for off, closed in rows if closed is wanted]
        if len(some) >= _LEAST_CLOSED and float(np.median(some)) / middle <= 0.5:
            return 0.0
    return middle


def take_drift(rows: Sequence[tuple[float, float, bool | None]]) -> float:
    """By how many cents a take climbs (+) or sinks (-) for each second, as a horn warms; 0.0 where
    it doesn't, or where nobody can tell.

    ``rows`` are the notes' seconds, cents and whether the slide was closed. The slope is the median
    of those between all pairs (Theil 1950, Sen 1968; from memory). It counts where it makes more
    over the take than a listener notices, four of its standard errors, goes on in both halves, and
    the closed slide climbs as the others do: else it is the slide, and where the part goes.
    """
    if len(rows) < _LEAST_DRIFTING:
        return 0.0
    time_s, cents = np.array([row[:2] for row in rows], float).T
    closed = np.array([row[2] is True for row in rows])
    span_s = float(np.ptp(time_s))
    slope = _slope(time_s, cents)
    left = cents - slope * time_s
    spread = 1.4826 * float(np.median(np.abs(left - np.median(left))))
    # Of a line through n points of this spread over its span: √12·σ/√n; 1.2533 as of a median.
    se = 1.2533 * 12.0**0.5 * max(spread, _LEAST_SPREAD_CENTS) / len(rows) ** 0.5
    if abs(slope) * span_s < max(IN_TUNE_CENTS, _SURE_DRIFT * se):
        return 0.0
    thirds = [float(np.median(third)) for third in np.array_split(cents[time_s.argsort()], 3)]
    if min(np.diff(thirds) * np.sign(slope)) <= 0.0:
        return 0.0
    for some in (closed, ~closed):
        if some.sum() < _LEAST_OF_PLACE or _slope(time_s[some], cents[some]) / slope < _SHARED:
            return 0.0
    return slope


def _slope(x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    one, other = np.triu_indices(len(x), 1)
    apart = x[other] - x[one]
    known = apart != 0.0
    return float(np.median((y[other] - y[one])[known] / apart[known])) if known.any() else 0.0
