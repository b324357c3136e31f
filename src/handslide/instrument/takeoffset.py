"""What a whole take is off by, so that no single note is blamed for it.

Conventions: cents above (+) or below (-) the note.
"""

from collections.abc import Sequence

import numpy as np

from handslide.ground.hearing import TRAINED_EAR_CENTS

_LEAST_NOTES = 5
_SURE, _LEAST_SPREAD_CENTS = 3.0, 4.0
_AGREE_SHARE = 0.8
_LEAST_CLOSED = 2


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
