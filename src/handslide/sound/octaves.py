"""Which octave a note is in: a comb asks the harmonics that only a lower pitch would have.

A period and its half are told apart by the odd harmonics alone. Where they are weak (a telephone's
band, a mute, some low notes), a track takes the half: all that it loses is their share of the
power. Their lines stand in the spectrum nevertheless, clear of the noise beside them. Own method;
its thresholds are from takes of known truth (``benchmarks/hearing_takes.py``): at the true pitch
the lines between the harmonics have at most 0.6 % of the power or few of them are clear, at twice
the pitch they have more and most are.

Conventions: samples mono, shape (n,); pitches in Hz.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Floats = NDArray[np.float64]

_WINDOW_S = 0.25
_SIZE = 8192
_HIGHEST_HZ = 2500.0
_HIGHEST_SHARE = 0.42
_SHARE = 0.006
_CLEAR_SHARE = 0.58
# Less power will do where every line is there.
_TRACE = 0.0004
_ALL_CLEAR = 0.92
# Much of the power needs fewer lines, and little time: few of them are clear in a quick note.
_MUCH = 0.03
_SOME_CLEAR = 0.42
_CLEAR = 6.0
_SAME_SHARE = 0.015  # of a pitch
_NEITHER = 0.03  # of the power
_LEAST_PERIODS, _FEWEST_PERIODS, _TRACE_PERIODS = 6.0, 4.0, 15.0
_LOWEST_HZ = 25.0
_WIDEST = 8.0
_LEAST_LINES = 4.0


def octave_of(samples: Floats, rate_hz: float, f0_hz: float, reach: float = 0.0) -> float:
    """The pitch of a steady sound that was heard as ``f0_hz``: that, or a half or third of it.

    ``reach`` is how far its pitch moves each way, as a share of it. What stands between the
    harmonics must stand there in both halves of the sound: the end of the note before doesn't.
    """
    count = min(len(samples) // 2, round(_WINDOW_S * rate_hz))
    middle = len(samples) // 2
    windows = None
    highest_hz = min(_HIGHEST_HZ, _HIGHEST_SHARE * rate_hz)
    for parts in (2, 3):
        lower = f0_hz / parts
        periods = count / rate_hz * lower
        if lower < _LOWEST_HZ or periods < _FEWEST_PERIODS:
            continue
        # Where the pitch moves, the lines of high harmonics are as wide as what is between them.
        most = min(highest_hz, lower / max(_WIDEST * reach, 1e-9))
        if most < _LEAST_LINES * lower:
            continue
        if windows is None:
            windows = _power(samples[middle - count : middle + count].reshape(2, count))
        found = [between(power, rate_hz, f0_hz, parts, most) for power in windows]
        if _is_lower(found, parts, periods):
            return octave_of(samples, rate_hz, lower, reach)
    return f0_hz


def _is_lower(found: Sequence[tuple[float, float]], parts: int, periods: float) -> bool:
    share = min(one for one, _ in found)
    clear = min(one for _, one in found)
    if parts == 2 and share > _MUCH and clear > _SOME_CLEAR:
        return True
    if periods < _LEAST_PERIODS:
        return False
    lines = share > _SHARE and clear > _CLEAR_SHARE
    return lines or (periods > _TRACE_PERIODS and share > _TRACE and clear > _ALL_CLEAR)


def later_of(samples: Floats, rate_hz: float, f0_hz: float, earlier_hz: Sequence[float]) -> float:
    """The pitch of a sound that was heard as ``f0_hz`` where notes at ``earlier_hz`` ring on.

    The end of a note and the next one, a fifth or a fourth apart, have the period of a note below
    both. That is told by what such a note would have besides: lines that neither of the two has.
    """
    for before_hz in earlier_hz:
        above = round(before_hz / f0_hz)
        if above < 2 or abs(before_hz / f0_hz / above - 1.0) > _SAME_SHARE:
            continue
        count = min(len(samples), round(2.0 * _WINDOW_S * rate_hz))
        middle = len(samples) // 2
        power = _power(samples[middle - count // 2 : middle + count // 2])
        highest_hz = min(_HIGHEST_HZ, _HIGHEST_SHARE * rate_hz)
        number: Floats = np.arange(1.0, int(highest_hz / f0_hz) + 1)
        half = max(1, int(f0_hz / 8.0 * _SIZE / rate_hz))
        lines = _around(power, number * f0_hz * _SIZE / rate_hz, half).max(axis=1)
        for parts in (2, 3, 4):
            own = (number % parts == 0) & (number % above != 0)
            neither = (number % parts != 0) & (number % above != 0)
            if parts == above or not own.any():
                continue
            alone = float(lines[own].sum() - lines[own].max())  # a beep has one line
            if lines[neither].sum() < _NEITHER * lines.sum() < alone:
                return f0_hz * parts
    return f0_hz


def lower_share(samples: Floats, rate_hz: float, f0_hz: float) -> float:
    """How much of the power of a sound at ``f0_hz`` is at the odd multiples of its half."""
    highest_hz = min(_HIGHEST_HZ, _HIGHEST_SHARE * rate_hz)
    return between(_power(samples[:_SIZE]), rate_hz, f0_hz, 2, highest_hz)[0]


def between(
    power: Floats, rate_hz: float, f0_hz: float, parts: int, highest_hz: float
) -> tuple[float, float]:
    """What stands between the harmonics of ``f0_hz``, at the other multiples of its ``parts``-th.

    Returns their share of the power above the noise, and which share of them is clear of it.
    """
    step = rate_hz / _SIZE
    lower = f0_hz / parts
    number: Floats = np.arange(1.0, int(highest_hz / lower) + 1)
    half = max(1, int(lower / 8.0 / step))
    lines = _around(power, number * lower / step, half).max(axis=1)
    beside = np.minimum(
        _around(power, (number - 0.5) * lower / step, half).mean(axis=1),
        _around(power, (number + 0.5) * lower / step, half).mean(axis=1),
    )
    other = number % parts != 0
    if not other.any():
        return 0.0, 0.0
    above = np.maximum(lines[other] - 2.0 * beside[other], 0.0)
    clear = lines[other] > _CLEAR * beside[other]
    return float(above.sum() / max(float(lines.sum()), 1e-30)), float(clear.mean())


def _power(samples: Floats) -> Floats:
    """Power spectrum of each window (..., n), shape (..., _SIZE / 2 + 1)."""
    spectrum = fft.rfft(samples * np.hanning(samples.shape[-1]), _SIZE)
    power: Floats = spectrum.real**2 + spectrum.imag**2
    return power


def _around(power: Floats, middle: Floats, half: int) -> Floats:
    index = np.rint(middle).astype(np.int64)[:, None] + np.arange(-half, half + 1)
    around: Floats = power[np.clip(index, 0, len(power) - 1)]
    return around
