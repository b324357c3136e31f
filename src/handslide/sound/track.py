"""Where the pitch roughly is: a coarse pitch track, computed block by block.

Conventions: samples are mono, -1 to 1, shape (n,). The signal is thinned to a working rate of
about 8 to 16 kHz first; a frame is 93 or 46 ms long, frames are 10 ms apart, and frame ``i`` is
centred on ``i * hop`` working samples. The pitch of a frame is good to a few cents: it finds the
octave and the voicing, and ``refine`` does the measuring.

Method: normalised square difference by FFT (P. McLeod and G. Wyvill, "A smarter way to find pitch",
ICMC 2005, sections 3 to 5; from memory), and of its maxima the one that is highest less a cost for
each octave down, as all multiples of a period are nearly as high as it (as the octave cost of P.
Boersma, Proc. Institute of Phonetic Sciences 17, 1993; from memory). Two lengths of frame are
tried: the short one follows quick notes and wide vibrato, low notes need the long one. Brass tones
have their strength near 500 Hz whatever the note (low notes have weak fundamentals) and hum lies
below, so the frames are taken from a gently band-passed copy.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from handslide.ground.progress import ProgressCallback
from handslide.sound.recording import FULL_SCALE, Meter, Recording

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Samples = NDArray[np.float32]  # to hold an hour: its steps lie 140 dB below the loudest

LOWEST_HZ = 25.0
HIGHEST_HZ = 1500.0
FRAME_S = 0.093
_SHORT_FRAME_S = 0.046
_SHORT_LOWEST_HZ = 80.0
_SHORT_FROM_HZ = 95.0  # a short frame holds four periods of what is higher
HOP_S = 0.010
_WORK_RATE_HZ = 10_000.0
_OCTAVE_COST = 0.08
_NEARLY_AS_HIGH = 0.85
# Widths of the two Gaussians whose difference is the band of the frames, and what stays of 0 Hz.
_BAND_HZ = (200.0, 1800.0)
_HUM_LEFT = 0.2
_ZERO_CROSSINGS = 16
_KAISER_BETA = 7.0
_BATCH_FRAMES = 64  # what they need stays in a core's cache
_CHUNK_FRAMES = 256
_ROUND_FRAMES = 1 << 13
_ROOM = 1 << 20  # samples
_SILENCE = 1e-10
_STEADY_HZ = 4.0  # what is slower is no sound: an offset of the recording
_STEADY_BLOCK = 4096
_LEAST_CLARITY = 1e-3
_SHORT_SHARE = 0.8  # of the long frame's clarity that a short one must have


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """The coarse pitch of a take.

    ``samples`` (n,) at ``rate_hz``; ``f0_hz``, ``clarity`` (0 to 1), ``level_db`` (of the frame, dB
    re full scale) and ``clipped`` (share of the samples at full scale) have one entry a frame.
    ``f0_hz`` is NaN where a frame has no pitch at all; it and ``clarity`` are empty before
    `with_pitch`. ``recording`` is how it came, before it was
    thinned.
    """

    rate_hz: float
    hop: int
    samples: Samples
    f0_hz: Floats
    clarity: Floats
    level_db: Floats
    clipped: Floats
    recording: Recording | None = None

    @property
    def hop_s(self) -> float:
        """Time between frames in seconds."""
        return self.hop / self.rate_hz

    @property
    def length_s(self) -> float:
        """Length of the take in seconds."""
        return len(self.samples) / self.rate_hz


class Thinner:
    """Keeps every ``factor``-th sample after a linear-phase low pass, without delay.

    Kaiser-windowed sinc. Blocks of any size give the same result as the whole.
    """

    def __init__(self, factor: int) -> None:
        self.factor = factor
        self._half = 0 if factor == 1 else _ZERO_CROSSINGS * factor
        place = np.arange(-self._half, self._half + 1)
        taps = np.sinc(0.86 / factor * place) * np.kaiser(len(place), _KAISER_BETA)
        self._taps = taps / taps.sum()
        self._kept = np.zeros(self._half)

    def push(self, samples: Floats) -> Floats:
        """The samples that ``samples`` completes."""
        if self.factor == 1:
            return samples
        waiting = np.concatenate((self._kept, samples))
        count = (len(waiting) - len(self._taps)) // self.factor + 1
        if count <= 0:
            self._kept = waiting
            return np.zeros(0)
        self._kept = waiting[count * self.factor :]
        thinned = np.zeros(count)
        for phase in range(self.factor):  # the taps are symmetric: convolving is correlating
            taps = self._taps[phase :: self.factor]
            thinned += np.convolve(waiting[phase :: self.factor], taps[::-1])[
                len(taps) - 1 : len(taps) - 1 + count
            ]
        return thinned

    def finish(self) -> Floats:
        """What is still inside."""
        return self.push(np.zeros(self._half))


class Steadier:
    """Takes the offset out of a signal: y_i = r·y_(i-1) + x_i - x_(i-1), a high pass without delay.

    Blocks of any size give the same result as the whole.
    """

    def __init__(self, rate_hz: float) -> None:
        self._keeps = 1.0 - 2.0 * np.pi * _STEADY_HZ / rate_hz
        self._last = 0.0
        self._before: float | None = None

    def push(self, samples: Floats) -> Floats:
        """``samples`` without what is steady, same shape."""
        steady = np.empty(len(samples))
        for first in range(0, len(samples), _STEADY_BLOCK):
            block = samples[first : first + _STEADY_BLOCK]
            before = block[0] if self._before is None else self._before
            weight = self._keeps ** np.arange(1, len(block) + 1)
            summed = np.cumsum(np.diff(block, prepend=before) / weight)
            steady[first : first + len(block)] = weight * (summed + self._last)
            self._last, self._before = float(steady[first + len(block) - 1]), float(block[-1])
        return steady


def _band_taps(rate_hz: float) -> Floats:
    """A narrow Gaussian less a wide one, in time: passes about 200 to 2200 Hz, odd length."""
    half = int(3.0 * rate_hz / (2.0 * np.pi * _BAND_HZ[0])) + 1
    time_s = np.arange(-half, half + 1) / rate_hz
    narrow, wide = (np.exp(-0.5 * (2.0 * np.pi * hz * time_s) ** 2) for hz in _BAND_HZ[::-1])
    kernel: Floats = narrow / narrow.sum() - (1.0 - _HUM_LEFT) * wide / wide.sum()
    return kernel


def thinning_factor(rate_hz: float) -> int:
    """How many samples of a recording make one at the working rate."""
    return max(1, int(rate_hz // _WORK_RATE_HZ))


def normalised_difference(frames: Floats | Samples, lags: int) -> Samples:
    """1 minus the normalised square difference of each frame: shape (frames, lags), -1 to 1.

    n(τ) = 2·Σ x_i·x_(i+τ) / Σ (x_i² + x_(i+τ)²): McLeod and Wyvill (2005), eqs. (6) to (8).
    """
    count = frames.shape[1]
    size = fft.next_fast_len(count + lags, real=True)
    spectrum = fft.rfft(frames, size, axis=1)
    power = spectrum.real**2 + spectrum.imag**2
    product = fft.irfft(power, size, axis=1)[:, :lags]
    # Twice the energy of all less what a lag leaves out at the beginning and at the end.
    squares = np.square(frames, dtype=np.float64)
    both = np.empty((len(frames), lags))
    both[:, 0] = 2.0 * squares.sum(axis=1)
    np.add(squares[:, : lags - 1], squares[:, : count - lags : -1], out=both[:, 1:])
    np.negative(both[:, 1:], out=both[:, 1:])
    np.cumsum(both, axis=1, out=both)
    np.maximum(both, count * _SILENCE, out=both)
    product *= 2.0
    likeness: Samples = np.divide(product, both, dtype=np.float32, casting="same_kind")
    return likeness


def pick_periods(difference: Samples, shortest: int) -> tuple[Floats, Floats]:
    """Period in samples and clarity of each row; NaN and 0 where a row has no peak.

    The highest peak, less what each octave down costs, is the period; the peak at its largest power
    of two in range then says it that many times more finely.
    """
    rows, lags = difference.shape
    first, found = _best_peaks(difference, shortest)
    period, clarity = _vertex(difference, first)
    period = np.where(found, period, lags)
    times = 1
    row = np.arange(rows)
    while True:
        times *= 2
        target = np.rint(period * times).astype(np.int64)
        fits = target < lags - 3
        if not fits.any():
            break
        around = np.clip(target[:, None] + np.arange(-2, 3), 1, lags - 2)
        index = around[row, np.argmax(difference[row[:, None], around], axis=1)]
        finer, high = _vertex(difference, index)
        use = fits & (high > 0.8 * clarity) & (np.abs(finer - period * times) < 2.0)
        period = np.where(use, finer / times, period)
    return np.where(found, period, np.nan), np.where(found, np.clip(clarity, 0.0, 1.0), 0.0)


def _best_peaks(difference: Samples, shortest: int) -> tuple[NDArray[np.int64], Flags]:
    """Lag of each row's best peak, and whether it has one."""
    rows, lags = difference.shape
    rising = difference[:, 1:] > difference[:, :-1]
    peak = rising[:, :-1] & ~rising[:, 1:]
    inner = difference[:, 1:-1]
    # Peaks on the lobe around lag 0 don't count: it ends where the difference turns negative.
    negative = inner < 0
    ends = np.where(negative.any(axis=1), np.argmax(negative, axis=1), lags)
    row, at = np.nonzero(peak)
    height = inner[row, at]
    counts = (height > 0) & (at >= max(0, shortest - 1)) & (at > ends[row])
    row, at, height = row[counts], at[counts], height[counts]
    best = np.zeros(rows, dtype=difference.dtype)
    np.maximum.at(best, row, height)
    cost = _OCTAVE_COST * np.log2(np.arange(1, lags - 1)).astype(difference.dtype)
    worth = np.where(height >= _NEARLY_AS_HIGH * best[row], height - cost[at] * best[row], -np.inf)
    order = np.lexsort((-at, worth))  # the last that is written to a row is its best
    first = np.ones(rows, dtype=np.int64)
    first[row[order]] = at[order] + 1
    return first, best > _LEAST_CLARITY


def _vertex(difference: Samples, lag: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Place and height of the parabola through each row's points at lag - 1, lag, lag + 1."""
    row = np.arange(len(difference))
    below, at, above = (difference[row, lag + step].astype(np.float64) for step in (-1, 0, 1))
    bend = below - 2.0 * at + above
    shift = np.where(bend < -1e-12, 0.5 * (below - above) / np.where(bend < -1e-12, bend, 1.0), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    return shift + lag, at - 0.25 * (below - above) * shift


class Frames:
    """The frames of samples at a working rate: their pitch and level, wherever they are asked for.

    Beside the samples is silence.
    """

    def __init__(self, rate_hz: float) -> None:
        self.rate_hz = rate_hz
        self.hop = round(HOP_S * rate_hz)
        self.frame = round(FRAME_S * rate_hz)
        self._lags = int(rate_hz / LOWEST_HZ) + 4
        self._short = round(_SHORT_FRAME_S * rate_hz)
        self._short_lags = int(rate_hz / _SHORT_LOWEST_HZ) + 4
        self._shortest = int(rate_hz / HIGHEST_HZ)
        self._band = _band_taps(rate_hz)
        self._lead = len(self._band) // 2

    @property
    def reach(self) -> int:
        """Samples from the middle of a frame to the last that its pitch needs."""
        return self.frame - self.frame // 2 + self._lead

    def count(self, samples: int) -> int:
        """How many frames so many samples have."""
        return samples // self.hop + 1

    def ready(self, samples: int) -> int:
        """How many frames are complete once there are so many samples."""
        return max(0, (samples - self.reach) // self.hop + 1)

    def touched(self, begin: int, stop: int) -> slice:
        """The frames that samples from ``begin`` to before ``stop`` are in."""
        return slice(max(0, -(-(begin - self.reach) // self.hop)), (stop + self.reach) // self.hop)

    def level_db(self, samples: Samples, first: int, stop: int) -> Floats:
        """Level of the frames from ``first`` to before ``stop``, in dB re full scale."""
        chunks = [self._levels(samples, one, end) for one, end in _chunks(first, stop)]
        return np.concatenate([*chunks, np.zeros(0)])

    def pitch(self, samples: Samples, first: int, stop: int) -> tuple[Floats, Floats]:
        """Pitch in Hz and clarity of the frames from ``first`` to before ``stop``."""
        rows = [np.zeros((2, 0))]
        for one, end in _chunks(first, stop):
            wide = self._cut(samples, one, end, self._lead)
            frames = self._frames(np.convolve(wide, self._band, "valid").astype(np.float32))
            size = -(-len(frames) // -(-len(frames) // _BATCH_FRAMES))
            rows += [self._pitches(frames[i : i + size]) for i in range(0, len(frames), size)]
        f0_hz, clarity = np.concatenate(rows, axis=1)
        return f0_hz, clarity

    def _cut(self, samples: Samples, first: int, stop: int, lead: int) -> Floats:
        """The samples that frames need and ``lead`` to both sides."""
        begin = first * self.hop - self.frame // 2 - lead
        end = (stop - 1) * self.hop - self.frame // 2 + self.frame + lead
        there = samples[max(0, begin) : max(0, end)]
        before = max(0, -begin)
        cut = np.zeros(end - begin)
        cut[before : before + len(there)] = there
        return cut

    def _frames(self, cut: NDArray[Any]) -> NDArray[Any]:
        return np.lib.stride_tricks.sliding_window_view(cut, self.frame)[:: self.hop]

    def _levels(self, samples: Samples, first: int, stop: int) -> Floats:
        frames = self._frames(self._cut(samples, first, stop, 0))
        power = np.einsum("ij,ij->i", frames, frames) / self.frame
        level: Floats = 10.0 * np.log10(np.maximum(power, _SILENCE))
        return level

    def _pitches(self, frames: Samples) -> Floats:
        period, clarity = pick_periods(normalised_difference(frames, self._lags), self._shortest)
        begin = (self.frame - self._short) // 2
        middle = frames[:, begin : begin + self._short]
        quick, clear = pick_periods(normalised_difference(middle, self._short_lags), self._shortest)
        low = period > self.rate_hz / _SHORT_FROM_HZ
        use = np.isfinite(quick) & ~(low & (clarity > clear)) & (clear > _SHORT_SHARE * clarity)
        period, clarity = np.where(use, quick, period), np.where(use, clear, clarity)
        return np.stack((self.rate_hz / period, clarity))


def _chunks(first: int, stop: int) -> list[tuple[int, int]]:
    return [(one, min(one + _CHUNK_FRAMES, stop)) for one in range(first, stop, _CHUNK_FRAMES)]


class Tracker:
    """Makes a track from blocks of samples of any size.

    ``at_once``: the pitch of frames is found as they come; else `with_pitch` does it afterwards.
    """

    def __init__(self, rate_hz: float, *, at_once: bool = True) -> None:
        self._thinner = Thinner(thinning_factor(rate_hz))
        self._meter = Meter(rate_hz)
        self._take_rate_hz = rate_hz
        self.rate_hz = rate_hz / self._thinner.factor
        self._frames = Frames(self.rate_hz)
        self.hop = self._frames.hop
        self._at_once = at_once
        self._steadier = Steadier(self.rate_hz)
        self._samples: Samples = np.zeros(0, dtype=np.float32)  # with room behind those kept
        self._sampled = 0
        self._done = 0
        self._rows: list[Floats] = []
        self._clips: list[NDArray[np.int64]] = []
        self._taken = 0

    @property
    def delay_s(self) -> float:
        """From the middle of a frame to the last sample that it needs, in seconds."""
        return (self._frames.reach + _ZERO_CROSSINGS) / self.rate_hz

    def push(self, samples: Floats) -> Floats:
        """Take a block; return the new frames: rows of f0 Hz, clarity, level dB, shape (m, 3).

        No frames are returned unless they are tracked at once.
        """
        loud = np.flatnonzero(np.abs(samples) >= FULL_SCALE) + self._taken
        self._taken += len(samples)
        self._meter.push(samples)
        if len(loud):
            self._clips.append((loud * self.rate_hz / self._take_rate_hz / self.hop).astype(int))
        self._keep(self._steadier.push(self._thinner.push(samples)))
        return self._advance(self._frames.ready(self._sampled))

    def between(self, first: int, last: int) -> Floats:
        """The samples from the middle of one frame to the end of another, at the working rate."""
        end = last * self.hop + self._frames.frame // 2
        return self._samples[first * self.hop : end].astype(np.float64)

    def finish(self) -> Track:
        """The track of all that was pushed. Nothing can be pushed afterwards."""
        self._keep(self._steadier.push(self._thinner.finish()))
        count = self._frames.count(self._sampled)
        self._advance(count)
        samples, self._samples = self._samples[: self._sampled], np.zeros(0, dtype=np.float32)
        if self._at_once:
            f0_hz, clarity, level_db = np.concatenate(self._rows).T
        else:
            f0_hz = clarity = np.zeros(0)
            level_db = self._frames.level_db(samples, 0, count)
        clips = np.concatenate(self._clips) if self._clips else np.zeros(0, dtype=int)
        counts = np.bincount(clips, minlength=count)[:count]
        clipped = counts / (self.hop * self._take_rate_hz / self.rate_hz)
        recording = self._meter.finish()
        return Track(self.rate_hz, self.hop, samples, f0_hz, clarity, level_db, clipped, recording)

    def _keep(self, thinned: Floats) -> None:
        """Put samples behind the others, which are held once: hours of them are most of a take."""
        stop = self._sampled + len(thinned)
        if stop > len(self._samples):
            self._samples.resize(stop + max(_ROOM, stop // 8), refcheck=False)
        self._samples[self._sampled : stop] = thinned
        self._sampled = stop

    def _advance(self, stop: int) -> Floats:
        if not self._at_once or stop <= self._done:
            return np.zeros((0, 3))
        samples = self._samples[: self._sampled]
        level_db = self._frames.level_db(samples, self._done, stop)
        rows = np.stack((*self._frames.pitch(samples, self._done, stop), level_db), axis=1)
        self._rows.append(rows)
        self._done = stop
        return rows


def with_pitch(track: Track, progress: ProgressCallback | None = None) -> Track:
    """The track with the pitch of all its frames, found anew."""
    frames, count = Frames(track.rate_hz), len(track.level_db)
    found = [np.zeros((2, 0))]
    for first in range(0, count, _ROUND_FRAMES):
        if progress is not None:
            progress("hearing", count + first, 2 * count)
        stop = min(first + _ROUND_FRAMES, count)
        found.append(np.stack(frames.pitch(track.samples, first, stop)))
    f0_hz, clarity = np.concatenate(found, axis=1)
    return replace(track, f0_hz=f0_hz, clarity=clarity)


def changed(track: Track, samples: Samples, where: Sequence[slice]) -> Track:
    """The track of ``samples``, which differ from its own in the places ``where``."""
    frames = Frames(track.rate_hz)
    anew = np.zeros(len(track.level_db), dtype=bool)
    for place in where:
        anew[frames.touched(place.start, place.stop)] = True
    f0_hz, clarity, level_db = track.f0_hz.copy(), track.clarity.copy(), track.level_db.copy()
    edges = np.flatnonzero(np.diff(anew.astype(np.int8), prepend=0, append=0)).tolist()
    for first, stop in zip(edges[::2], edges[1::2]):
        inside = slice(first, stop)
        f0_hz[inside], clarity[inside] = frames.pitch(samples, first, stop)
        level_db[inside] = frames.level_db(samples, first, stop)
    return replace(track, samples=samples, f0_hz=f0_hz, clarity=clarity, level_db=level_db)
