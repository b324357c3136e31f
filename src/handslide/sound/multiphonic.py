"""Whether a low tone is two: a player who sings into the horn is heard as their common divisor.

A played and a sung note in a simple ratio, with their sums and differences, have the lines of a
tone that nobody plays, an octave or two below. Two things give them away together: their own
multiples stand out from the lines between them, and they drift against each other, as two sources
do. In single low notes one of them may be so, in soft or muted ones; not both. Own method; its
thresholds are from takes of known truth (``benchmarks/hearing_takes.py``).
"""

import numpy as np
from numpy.typing import NDArray

from handslide.sound.refine import CENTS, Blocks

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_RATIOS = ((2, 3), (3, 4), (3, 5), (4, 5))
_HIGHEST_PLAYED_HZ = 250.0
_FROM_HARMONIC = 5  # below, the spectrum of a single tone rises as steeply
_HEARD_SHARE = (1e-4, 1e-3)  # of the strongest line's power: to stand out, to drift
_STANDS_OUT_DB = 3.0
_DRIFT_CENTS = 0.12  # a pitch apart by √12 times that, all along
_TIMES_WITHIN = 1.7
# Of both together, in dB times a ratio. Short plain notes come near it and stray little: a room's
# and an attack's phases, no drift of two sources. So do notes above 85 Hz, which are often played.
_EVIDENCE, _EVIDENCE_SHORT, _EVIDENCE_HIGH = 9.0, 25.0, 17.0
_SHORT_S, _HIGH_HZ = 0.62, 85.0
_STRAYS_CENTS_S = 0.45


def is_multiphonic(blocks: Blocks, f0_hz: float) -> bool:
    """Whether the steady part of a note at ``f0_hz`` is two tones whose common divisor that is."""
    power = np.mean(np.abs(blocks.parts) ** 2, axis=1)
    tried = [ratio for ratio in _RATIOS if ratio[0] * f0_hz <= _HIGHEST_PLAYED_HZ]
    above = [_stands_out_db(power, *ratio) for ratio in tried]
    if not tried or max(above) < _STANDS_OUT_DB:
        return False
    apart, within = _drift(blocks, f0_hz, power, *tried[int(np.argmax(above))])
    length_s = float(np.ptp(blocks.time_s))
    if apart < _DRIFT_CENTS * length_s or apart < _TIMES_WITHIN * within:
        return False
    least, strays = _EVIDENCE, apart > _STRAYS_CENTS_S
    if f0_hz > _HIGH_HZ:
        if not strays:
            return False
        least = _EVIDENCE_HIGH
    elif length_s < _SHORT_S and not strays:
        least = _EVIDENCE_SHORT
    return max(above) * apart > least * within


def _lines(count: int, one: int, other: int) -> tuple[Flags, Flags, Flags]:
    """Which of ``count`` harmonics are multiples of ``one`` only, of ``other`` only, of neither."""
    number = np.arange(1, count + 1)
    of_one, of_other = number % one == 0, number % other == 0
    return of_one & ~of_other, of_other & ~of_one, ~of_one & ~of_other


def _stands_out_db(power: Floats, one: int, other: int) -> float:
    """How far the lines (k,) of either tone, the fainter, are above those of neither around."""
    number = np.arange(1, len(power) + 1)
    *both, neither = _lines(len(power), one, other)
    level = 10.0 * np.log10(np.maximum(power, 1e-30))
    above = level - np.interp(number, number[neither], level[neither])
    heard = (power > _HEARD_SHARE[0] * power.max()) & (number >= _FROM_HARMONIC)
    if not all((lines & heard).any() for lines in both):
        return -np.inf
    return min(float(above[lines & heard].mean()) for lines in both)


def _drift(
    blocks: Blocks, f0_hz: float, power: Floats, one: int, other: int
) -> tuple[float, float]:
    """How far the phase of one tone strays from the other's, and that of lines from their tone's.

    Standard deviations in cents·s: the integral of the difference of their pitches.
    """
    number = np.arange(1, len(power) + 1)[:, None]
    path = np.unwrap(np.angle(blocks.parts), axis=1) / number
    path -= path.mean(axis=1, keepdims=True)
    weight = power[:, None] * number**2
    heard = power > _HEARD_SHARE[1] * power.max()
    *both, _ = _lines(len(power), one, other)
    if not all((lines & heard).any() for lines in both):
        return 0.0, 0.0
    shared, strays, total = [], 0.0, 0.0
    for lines in both:
        own, heavy = path[lines & heard], weight[lines & heard]
        mean = np.sum(heavy * own, axis=0) / heavy.sum()
        shared.append(mean)
        strays += float(np.sum(heavy * (own - mean) ** 2))
        total += float(heavy.sum()) * path.shape[1]
    to_cents_s = CENTS / (2.0 * np.pi * f0_hz)
    return float(np.std(shared[1] - shared[0])) * to_cents_s, (strays / total) ** 0.5 * to_cents_s
