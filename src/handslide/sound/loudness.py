"""How loud a sound is: loudness and true peak after ITU-R BS.1770-4, and setting them.

Loudness is K-weighted, in blocks of 0.4 s that overlap by three quarters, gated at -70 LUFS and
at 10 LU below the mean of what passed. The standard gives the two filters at 48 kHz only; other
rates take the same analogue prototypes, bilinearly transformed. The true peak is that of the
signal oversampled to at least 192 kHz.

Conventions: samples are of shape (n,) or, left and right, (2, n); full scale is 1. Each channel
counts once: a mono file has 3 dB less than a stereo file with the same on both sides.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from handslide.ground.errors import BadData

Samples = NDArray[np.float32] | NDArray[np.float64]
Floats = NDArray[np.float64]

HIGHEST_DBTP = -1.0
_OFFSET_LU = -0.691
_ABSOLUTE_LUFS, _RELATIVE_LU = -70.0, -10.0
_HOP_S, _HOPS = 0.1, 4
_BLOCK = 1 << 17
# The prototypes behind the coefficients of the standard's tables 1 and 2.
_SHELF_HZ, _SHELF_DB, _SHELF_Q, _SHELF_SLOPE = (
    1681.974450955533, 3.999843853973347, 0.7071752369554196, 0.4996667741545416,
)  # fmt: skip
_HIGH_PASS_HZ, _HIGH_PASS_Q = 38.13547087602444, 0.5003270373238773
_OVERSAMPLED_HZ = 192_000
_DIES_S = 0.15  # by then nothing is left of what the filters answer
_REACH = 16  # samples each way that the oversampling filter looks at


@dataclass(frozen=True, slots=True, eq=False)
class Levelled:
    """Samples, (n,) or (2, n), at a known level.

    ``held_back``: the peak didn't allow the level wanted.
    """

    samples: NDArray[np.float32]
    rate_hz: int
    lufs: float
    peak_dbtp: float
    held_back: bool

    @property
    def length_s(self) -> float:
        """Length in seconds."""
        return float(self.samples.shape[-1] / self.rate_hz)


def set_level(
    samples: NDArray[np.float32], rate_hz: int, lufs: float, most_dbtp: float = HIGHEST_DBTP
) -> Levelled:
    """``samples``, changed in place, at ``lufs``, or softer where the peak would be too high.

    Raises BadData for silence.
    """
    now = loudness_lufs(samples, rate_hz)
    if now == -np.inf:
        raise BadData("sounds.nothing_to_hear")
    peak = true_peak_dbtp(samples, rate_hz)
    gain_db = min(lufs - now, most_dbtp - peak)
    samples *= np.float32(10.0 ** (gain_db / 20.0))
    held_back = gain_db < lufs - now - 0.05
    return Levelled(samples, rate_hz, now + gain_db, peak + gain_db, held_back)


def loudness_lufs(samples: Samples, rate_hz: float) -> float:
    """Integrated loudness; minus infinity for silence. Less than 0.4 s is taken as one block."""
    powers: Floats = np.sum([_block_powers(one, rate_hz) for one in np.atleast_2d(samples)], axis=0)
    powers = powers[powers > 10.0 ** ((_ABSOLUTE_LUFS - _OFFSET_LU) / 10.0)]
    if not len(powers):
        return -np.inf
    powers = powers[powers > powers.mean() * 10.0 ** (_RELATIVE_LU / 10.0)]
    return float(_OFFSET_LU + 10.0 * np.log10(powers.mean()))


def true_peak_dbtp(samples: Samples, rate_hz: float) -> float:
    """The highest level between the samples, too, in dB of full scale; minus infinity: silence.

    Looked for beside all samples that are half as high as the highest.
    """
    return max(_peak_dbtp(one, rate_hz) for one in np.atleast_2d(samples))


def _peak_dbtp(samples: Samples, rate_hz: float) -> float:
    top = max(float(np.max(samples, initial=0.0)), -float(np.min(samples, initial=0.0)))
    if top == 0.0:
        return -np.inf
    between = _between(max(1, -(-_OVERSAMPLED_HZ // round(rate_hz))))
    least = 0.5 * top
    for at in range(0, len(samples), _BLOCK):
        before, after = max(0, at - _REACH), at + _BLOCK + _REACH
        piece = np.pad(samples[before:after], (_REACH - at + before, _REACH))
        level = np.abs(piece)
        inner = level[_REACH:-_REACH]
        high = (inner >= least) & (inner >= level[_REACH - 1 : -_REACH - 1])
        high &= inner >= level[_REACH + 1 : len(level) - _REACH + 1]
        near = piece[np.flatnonzero(high)[:, None] + np.arange(2 * _REACH + 1)]
        top = max(top, float(np.max(np.abs(near @ between), initial=0.0)))
    return 20.0 * float(np.log10(top))


def _between(up: int) -> Floats:
    """Weights of the samples about one for the signal up to a sample before and after it."""
    offset = np.arange(-up + 1, up) / up
    distance = np.arange(-_REACH, _REACH + 1)[:, None] - offset
    shape = np.i0(6.0 * np.sqrt(np.maximum(0.0, 1.0 - (distance / (_REACH + 1)) ** 2))) / np.i0(6.0)
    return np.sinc(distance) * shape


def k_weighting(rate_hz: float) -> Floats:
    """The standard's two filters as second-order sections, shape (2, 6)."""
    shelf = np.tan(np.pi * _SHELF_HZ / rate_hz)
    high, band = 10.0 ** (_SHELF_DB / 20.0), 10.0 ** (_SHELF_DB / 20.0 * _SHELF_SLOPE)
    turn, square = shelf / _SHELF_Q, shelf**2
    first = np.array(
        [
            high + band * turn + square, 2.0 * (square - high), high - band * turn + square,
            1.0 + turn + square, 2.0 * (square - 1.0), 1.0 - turn + square,
        ]
    )  # fmt: skip
    low = np.tan(np.pi * _HIGH_PASS_HZ / rate_hz)
    turn, square = low / _HIGH_PASS_Q, low**2
    whole = 1.0 + turn + square
    second = np.array(
        [1.0, -2.0, 1.0, 1.0, 2.0 * (square - 1.0) / whole, (1 - turn + square) / whole]
    )
    return np.stack([first / first[3], second])


def _block_powers(samples: Samples, rate_hz: float) -> Floats:
    """Mean square of the weighted signal in each block."""
    hop, before = round(_HOP_S * rate_hz), round(_DIES_S * rate_hz)
    piece = hop * max(1, min(_BLOCK, len(samples)) // hop)
    n = fft.next_fast_len(before + piece, real=True)
    response = _response(k_weighting(rate_hz), n)
    sums = []
    for at in range(0, len(samples), piece):
        # What comes round from the end has died away before the piece begins.
        first = max(0, at - before)
        block = np.pad(samples[first : at + piece].astype(np.float64), (before - at + first, 0))
        weighted = fft.irfft(fft.rfft(block, n) * response, n)[before : len(block)]
        weighted *= weighted
        if len(samples) < _HOPS * hop:
            return np.array([weighted.mean()])
        whole = len(weighted) // hop
        sums.append(weighted[: whole * hop].reshape(whole, hop).mean(axis=1))
    hops = np.concatenate(sums) if sums else np.zeros(0)
    return np.convolve(hops, np.full(_HOPS, 1.0 / _HOPS), "valid") if len(hops) else hops


def _response(sections: Floats, n: int) -> NDArray[np.complex128]:
    """What second-order sections make of each frequency of ``n`` samples, shape (n // 2 + 1,).

    scipy.signal, that has them as recursions, takes longer to import than most sounds to be made.
    """
    late = np.exp(-2j * np.pi * np.arange(n // 2 + 1) / n)
    response = np.ones(len(late), complex)
    for b0, b1, b2, a0, a1, a2 in sections:
        response *= (b0 + late * (b1 + late * b2)) / (a0 + late * (a1 + late * a2))
    return response
