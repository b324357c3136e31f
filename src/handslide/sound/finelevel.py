"""The level and the pitch of a take over a few milliseconds: what attacks and slurs are made of.

Conventions: times in seconds from the start of the take, levels in dB re full scale, pitches in Hz.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.sound.track import Track, normalised_difference

Floats = NDArray[np.float64]

STEP_S = 0.001
PITCH_STEP_S = 0.002
_LEAST_WINDOW_S = 0.008
_PITCH_PERIODS = 2.5  # of the lowest pitch that is looked for
_NEARLY_AS_HIGH = 0.9
_CLEAR = 0.7


@dataclass(frozen=True, slots=True, eq=False)
class FineLevel:
    """Levels (n,) at times (n,), each over ``window_s`` about it."""

    time_s: Floats
    db: Floats
    window_s: float


@dataclass(frozen=True, slots=True, eq=False)
class FinePitch:
    """Pitches (n,) at times (n,), NaN where none is clear, each over ``window_s`` about it."""

    time_s: Floats
    hz: Floats
    window_s: float


def fine_level(track: Track, first_s: float, last_s: float, f0_hz: float) -> FineLevel:
    """The level each millisecond, over whole periods of ``f0_hz`` that last 8 ms or more.

    A window of whole periods doesn't swing with the tone, and one about its moment leaves the
    middle of an even rise where it is.
    """
    time_s = np.arange(max(first_s, 0.0), min(last_s, track.length_s), STEP_S)
    window_s = whole_periods_s(f0_hz)
    if not len(time_s):
        return FineLevel(time_s, time_s, window_s)
    half = 0.5 * window_s * track.rate_hz
    start = max(0, int(time_s[0] * track.rate_hz - half) - 1)
    stop = min(len(track.samples), int(time_s[-1] * track.rate_hz + half) + 2)
    samples = track.samples[start:stop].astype(np.float64)
    middle = time_s * track.rate_hz - start
    return FineLevel(time_s, levels_at(samples, middle, half), window_s)


def whole_periods_s(f0_hz: float) -> float:
    """The shortest whole number of periods that lasts 8 ms or more, in seconds."""
    return float(np.ceil(_LEAST_WINDOW_S * f0_hz) / f0_hz)


def levels_at(samples: Floats, middle: Floats, half: float) -> Floats:
    """Level of ``samples`` from ``half`` a window before to half a window after each ``middle``.

    ``middle`` (n,) and ``half`` in samples; shape (n,), in dB.
    """
    energy = np.concatenate(([0.0], np.cumsum(samples**2)))
    place = np.arange(len(energy), dtype=np.float64)
    power = np.interp(middle + half, place, energy) - np.interp(middle - half, place, energy)
    power /= 2.0 * half
    level: Floats = 10.0 * np.log10(np.maximum(power, 1e-12))
    return level


def fine_pitch(
    track: Track, first_s: float, last_s: float, low_hz: float, high_hz: float
) -> FinePitch:
    """The pitch each 2 ms between ``low_hz`` and ``high_hz``, from two and a half periods.

    Normalised square difference as in `handslide.sound.track`, in short frames: it follows what is
    quicker than a frame of 93 ms.
    """
    count = int(np.ceil(_PITCH_PERIODS * track.rate_hz / low_hz)) + 4
    lags = int(np.ceil(track.rate_hz / low_hz)) + 4
    shortest = max(2, int(track.rate_hz / high_hz))
    time_s = np.arange(max(first_s, 0.0), min(last_s, track.length_s), PITCH_STEP_S)
    begin = np.rint(time_s * track.rate_hz - count / 2).astype(int)
    fits = (begin >= 0) & (begin + count <= len(track.samples))
    time_s, begin = time_s[fits], begin[fits]
    if not len(time_s):
        return FinePitch(time_s, time_s, count / track.rate_hz)
    frames = track.samples[begin[:, None] + np.arange(count)].astype(np.float64)
    likeness = normalised_difference(frames, lags)[:, shortest - 1 :]
    inner = likeness[:, 1:-1]
    peak = (inner > likeness[:, :-2]) & (inner >= likeness[:, 2:])
    height = np.where(peak, inner, 0.0)
    best = height.max(axis=1)
    first = np.argmax(height >= _NEARLY_AS_HIGH * np.maximum(best, 1e-6)[:, None], axis=1)
    row = np.arange(len(first))
    below, at, above = (likeness[row, first + k].astype(np.float64) for k in (0, 1, 2))
    bend = np.minimum(below - 2.0 * at + above, -1e-9)
    period = shortest + first + np.clip(0.5 * (below - above) / bend, -1.0, 1.0)
    hz = np.where(best >= _CLEAR, track.rate_hz / period, np.nan)
    return FinePitch(time_s, hz, count / track.rate_hz)
