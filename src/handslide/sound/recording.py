"""What a recording is like as a recording: offset, clipping, which band it has.

Measured on the samples as they come, before anything is thinned out. Conventions: full scale is 1,
levels in dB re full scale.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FULL_SCALE = 0.997  # a 16-bit recording that is driven too far sits at its last steps
_FRAME = 4096
_EVERY = 4  # a quarter of the frames says what the whole does
_PIECE = 1 << 16


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """A recording: its ``rate_hz``, how many ``samples``; ``offset`` is the mean of the samples,
    ``clipped`` the share at full scale, ``peak`` the highest. ``power`` (n,) is the mean power in
    the bands at ``hz`` (n,), from Hann windows of 4096 samples."""

    rate_hz: float
    samples: int
    offset: float
    clipped: float
    peak: float
    hz: Floats
    power: Floats


class Meter:
    """Measures a recording from blocks of any size."""

    def __init__(self, rate_hz: float) -> None:
        self._rate_hz = rate_hz
        self._count = self._clips = self._frames = 0
        self._sum = self._peak = 0.0
        self._power = np.zeros(_FRAME // 2 + 1)
        self._kept = np.zeros(0)
        self._window = 0.5 - 0.5 * np.cos(2.0 * np.pi * (np.arange(_FRAME) + 0.5) / _FRAME)

    def push(self, samples: Floats) -> None:
        """Take a block (n,)."""
        if not len(samples):
            return
        self._count += len(samples)
        self._sum += float(samples.sum())
        high = np.abs(samples)
        self._peak = max(self._peak, float(high.max()))
        self._clips += int(np.count_nonzero(high >= FULL_SCALE))
        waiting = np.concatenate((self._kept, samples))
        step = _FRAME * _EVERY
        whole = len(waiting) // step
        self._kept = waiting[whole * step :]
        if whole:
            self._add(waiting[: whole * step].reshape(whole, step)[:, :_FRAME])

    def _add(self, frames: Floats) -> None:
        for first in range(0, len(frames), _PIECE // _FRAME):
            piece = frames[first : first + _PIECE // _FRAME]
            spectrum = np.fft.rfft((piece - piece.mean(axis=1, keepdims=True)) * self._window)
            self._power += np.sum(spectrum.real**2 + spectrum.imag**2, axis=0)
        self._frames += len(frames)

    def finish(self) -> Recording:
        """What was measured."""
        if len(self._kept) >= _FRAME:
            self._add(self._kept[None, :_FRAME])
        count = max(self._count, 1)
        return Recording(
            self._rate_hz,
            self._count,
            self._sum / count,
            self._clips / count,
            self._peak,
            np.arange(_FRAME // 2 + 1) * self._rate_hz / _FRAME,
            self._power / max(self._frames, 1),
        )
