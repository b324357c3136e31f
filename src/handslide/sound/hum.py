"""The hum of the mains under a take: known from its pauses, taken out of the whole.

Lines at multiples of 50 or 60 Hz that stand alone and equally strong in all pauses are hum. Under a
note they would speak for a lower pitch: the third multiple of 50 Hz lies near D3, and where a note
ends, what is left of it has the period of the hum. Each line is followed through the take in a band
of 2 Hz and subtracted where it is as strong as in the pauses; a note that covers it leaves it as it
is to both sides. Never more is taken away than stands in the pauses, so a note at the pitch of the
mains stays. Own method.

Conventions: samples mono, shape (n,); pitches in Hz; levels in dB re full scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from handslide.ground.progress import ProgressCallback
from handslide.sound.segments import MAINS_HZ, runs
from handslide.sound.track import Samples, Track, changed, with_pitch

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Complexes = NDArray[np.complex128]

_HIGHEST_HZ = 1000.0
_ABOVE_HZ = 350.0  # a horn has its strength higher up
_ABOVE_SHARE = 0.2
_WINDOW_S = 0.25
_MOST_WINDOWS = 12
_LEAST_WINDOWS = 2
_PAUSE_FRAMES = 16
_PAUSE_DB = 2.0
_QUIETEST_DB = -80.0
_BELOW_LOUDEST_DB = 10.0
_STANDS_OUT = 10.0  # power of a line against what is half-way to the next
_ALIKE = 1.4  # amplitude of a line in two pauses
_ALIKE_SHARE = 0.75
_MAINS_REACH = 0.004
_NOTE_REACH = 0.02
_STEPS = 81
_STEP_S = 0.004
_BAND_S = 1.0
_COVERED = (0.6, 1.5)  # times the amplitude in the pauses
_BLOCK_STEPS = 1 << 12
_BLOCK = 64
_ROUNDS = 2
_REACHES = (25, 75, 250)  # steps


@dataclass(frozen=True, slots=True, eq=False)
class Hum:
    """Steady lines at ``hz`` (m,) and their amplitudes (m,)."""

    hz: Floats
    amplitude: Floats


def without_hum(track: Track, progress: ProgressCallback | None = None) -> Track:
    """The track of the take without the hum that its pauses have; its levels stay as they were."""
    pauses = _pauses(track)
    hum = _hum_of(track, pauses)
    return track if hum is None else without_lines(track, pauses, hum, progress)


def without_lines(
    track: Track,
    pauses: Sequence[tuple[int, int]],
    hum: Hum,
    progress: ProgressCallback | None = None,
    *,
    loud: bool = False,
) -> Track:
    """The track without steady lines that its ``pauses`` have.

    ``loud``: how high each line is exactly is first asked of its phase along the take, and the
    levels are those of what is left; else they stay as they were.
    """
    step = max(1, round(_STEP_S * track.rate_hz))
    paused = np.zeros(-(-len(track.samples) // step), dtype=bool)
    for begin, end in pauses:
        paused[-(-begin // step) : end // step] = True
    near = np.convolve(paused.astype(np.float64), _band_taps(), "same")
    samples = track.samples.copy()
    for _ in range(_ROUNDS):  # the lines leak into each other's bands in short pauses
        for hz, amplitude in zip(hum.hz, hum.amplitude):
            cycles = float(hz) / track.rate_hz
            line, known = _followed(samples, cycles, amplitude, paused, near, step)
            if loud:
                cycles += _drift(line, known) / step
                line, _ = _followed(samples, cycles, amplitude, paused, near, step)
            _subtract(samples, cycles, line, step)
    if loud:
        new = changed(track, samples, [slice(0, len(samples))])
    else:
        new = with_pitch(replace(track, samples=samples), progress)
    # What is left of it in the pauses is no sound of its own.
    for begin, end in pauses:
        new.clarity[-(-begin // track.hop) : end // track.hop + 1] = 0.0
    return new


def _hum_of(track: Track, pauses: Sequence[tuple[int, int]]) -> Hum | None:
    """The lines of the mains in the pauses of a take; None where they have none."""
    windows = _windows(track, pauses)
    if len(windows) < _LEAST_WINDOWS:
        return None
    best: Hum | None = None
    for mains_hz in MAINS_HZ:
        hum = _lines(windows, track.rate_hz, mains_hz)
        if hum is not None and (best is None or _power(hum) > _power(best)):
            best = hum
    return best


def _power(hum: Hum) -> float:
    return float(np.sum(hum.amplitude**2))


def _pauses(track: Track) -> list[tuple[int, int]]:
    """The quietest stretches of a take, first sample and stop of each; none without a pause.

    Stretches without any sound, of which some files have, aren't counted.
    """
    level = track.level_db
    if len(level) < _PAUSE_FRAMES:
        return []
    near = np.lib.stride_tricks.sliding_window_view(level, _PAUSE_FRAMES)
    highest = near.max(axis=1)
    highest = highest[near.min(axis=1) > _QUIETEST_DB]
    if not len(highest):
        return []
    floor = float(highest.min())
    if floor > float(np.percentile(level, 95)) - _BELOW_LOUDEST_DB:
        return []
    quiet = (level < floor + _PAUSE_DB) & (level > _QUIETEST_DB)
    found = []
    for first, stop in runs(quiet):
        if stop - first >= _PAUSE_FRAMES:
            begin = 0 if first == 0 else first * track.hop
            end = len(track.samples) if stop == len(level) else (stop - 1) * track.hop
            found.append((begin, end))
    return found


def _windows(track: Track, pauses: Sequence[tuple[int, int]]) -> Floats:
    """Windows of 0.25 s from the pauses, shape (m, n)."""
    size = round(_WINDOW_S * track.rate_hz)
    begins = [at for begin, end in pauses for at in range(begin, end - size + 1, size)]
    every = max(1, -(-len(begins) // _MOST_WINDOWS))
    found = [track.samples[at : at + size].astype(np.float64) for at in begins[::every]]
    return np.stack(found) if found else np.zeros((0, size))


def _lines(windows: Floats, rate_hz: float, mains_hz: float) -> Hum | None:
    """The lines at multiples of ``mains_hz`` that stand out and are alike in ``windows`` (m, n)."""
    number: Floats = np.arange(1.0, int(_HIGHEST_HZ / mains_hz) + 1)
    sizes = np.abs(sizes_at(windows, rate_hz, number * mains_hz))
    between = np.append(0.5, number + 0.5) * mains_hz
    beside = np.abs(sizes_at(windows, rate_hz, between)) ** 2
    beside = np.maximum(beside[:, 1:], beside[:, :-1]).mean(axis=0)
    middle = np.median(sizes, axis=0)
    alike = (sizes < _ALIKE * middle) & (sizes > middle / _ALIKE)
    steady = alike.mean(axis=0) >= _ALIKE_SHARE
    found = steady & (middle**2 > _STANDS_OUT * beside)
    power = np.where(found, middle**2, 0.0)
    above = float(power[number * mains_hz > _ABOVE_HZ].sum())
    # A note near twice the mains has no line at the mains themselves.
    if not found[0] or above > _ABOVE_SHARE * float(power.sum()):
        return None
    # How far the mains are from their frequency on that day; what is further off is a note.
    middle = middle[found]
    hz: Floats = number[found] * mains_hz
    tries: list[float] = np.linspace(1.0 - _NOTE_REACH, 1.0 + _NOTE_REACH, _STEPS).tolist()
    best = tries[int(np.argmax(_explained(windows, rate_hz, np.outer(tries, hz))))]
    return None if abs(best - 1.0) > _MAINS_REACH else Hum(hz * best, middle)


def sizes_at(windows: Floats, rate_hz: float, hz: Floats) -> Complexes:
    """Complex amplitudes of sines at ``hz`` (k,) in ``windows`` (m, n), Hann: shape (m, k)."""
    weight = np.hanning(windows.shape[1])
    sizes: Complexes = 2.0 / weight.sum() * _transform(windows * weight, rate_hz, hz)
    return sizes


def _explained(windows: Floats, rate_hz: float, hz: Floats) -> Floats:
    """The power in all ``windows`` (m, n) at each row of ``hz`` (tries, k) together, unscaled.

    The power spectrum is the transform of the autocorrelation, which is one for all windows.
    """
    count = windows.shape[1]
    size = fft.next_fast_len(2 * count, real=True)
    spectrum = fft.rfft(windows * np.hanning(count), size, axis=1)
    power = np.sum(spectrum.real**2 + spectrum.imag**2, axis=0)
    alike = fft.irfft(power, size)[:count]
    alike[0] *= 0.5
    explained: Floats = _transform(alike[None], rate_hz, hz.ravel()).real.reshape(hz.shape).sum(1)
    return explained


def _transform(rows: Floats, rate_hz: float, hz: Floats) -> Complexes:
    """Fourier transforms of ``rows`` (m, n) at any ``hz`` (k,): shape (m, k).

    In blocks, so that few phasors do for all samples.
    """
    blocks = -(-rows.shape[1] // _BLOCK)
    padded = np.zeros((len(rows), blocks * _BLOCK))
    padded[:, : rows.shape[1]] = rows
    cycles = hz / rate_hz
    inside = np.exp(-2j * np.pi * np.outer(np.arange(_BLOCK), cycles))
    begins = np.exp(-2j * np.pi * np.outer(np.arange(blocks) * _BLOCK, cycles))
    cut = padded.reshape(len(rows), blocks, _BLOCK)
    sums: Complexes = np.sum((cut @ inside.real + 1j * (cut @ inside.imag)) * begins, axis=1)
    return sums


def _followed(
    samples: Samples, cycles: float, amplitude: float, paused: Flags, near: Floats, step: int
) -> tuple[Complexes, Flags]:
    """The line of ``cycles`` a sample through a take: its complex amplitude at each step, and
    where that was heard.

    In the pauses, the steps ``paused`` (n,), it is heard alone; ``near`` (n,) is the weight of
    those around each step. Elsewhere it is as strong as there, or something covers it: then it is
    between what it was before and will be afterwards.
    """
    count = len(paused)
    whole = len(samples) // step
    inside = _turn(-cycles, np.arange(step))
    both = np.stack((inside.real, inside.imag), axis=1).astype(np.float32)
    sums = np.zeros(count, dtype=np.complex128)
    real, imag = (samples[: whole * step].reshape(whole, step) @ both).T
    sums[:whole] = real + 1j * imag
    rest = samples[whole * step :]
    if len(rest):
        sums[whole] = rest @ inside[: len(rest)]
    sums *= 2.0 / step * _turn(-cycles, np.arange(count) * step)
    taps = _band_taps()
    alone = _smooth(sums * paused, taps) / np.maximum(near, 1e-9)
    line = _smooth(sums, taps) / taps.sum()
    size = np.abs(line) / amplitude
    far = (near == 0.0) & (size > _COVERED[0]) & (size < _COVERED[1])
    known = np.flatnonzero(paused | far)
    followed = np.interp(np.arange(count), known, np.where(paused, alone, line)[known])
    return np.asarray(followed, dtype=np.complex128), paused | far


def _drift(line: Complexes, known: Flags) -> float:
    """By how many turns a step a line runs ahead of the pitch that it was followed at."""
    turns = 0.0
    place = np.arange(len(line))
    for reach in _REACHES:  # each tells which turn the next, finer one is in
        both = known[:-reach] & known[reach:]
        still = line * _turn(-turns, place)
        ahead = np.sum((still[reach:] * still[:-reach].conj())[both])
        turns += float(np.angle(ahead)) / (2.0 * np.pi * reach)
    return turns


def _subtract(samples: Samples, cycles: float, line: Complexes, step: int) -> None:
    """Take a followed line out of ``samples``; between the steps' middles it is straight."""
    inside = _turn(cycles, np.arange(step))
    off = (np.arange(step) - 0.5 * (step - 1)) / step
    ways = np.stack([inside * one for one in (1.0, np.minimum(off, 0.0), np.maximum(off, 0.0))])
    parts = np.concatenate((ways.real, -ways.imag)).astype(np.float32)
    rise = np.diff(line)
    shares = np.stack((line, np.append(0.0, rise), np.append(rise, 0.0)), axis=1)
    shares *= _turn(cycles, np.arange(len(line)) * step)[:, None]
    for first in range(0, len(line), _BLOCK_STEPS):
        share = shares[first : first + _BLOCK_STEPS]
        wave = np.concatenate((share.real, share.imag), axis=1).astype(np.float32) @ parts
        block = samples[first * step : (first + len(share)) * step]
        block -= wave.ravel()[: len(block)]


def _band_taps() -> Floats:
    taps: Floats = np.hanning(round(_BAND_S / _STEP_S) | 1)
    return taps


def _smooth(values: Complexes, taps: Floats) -> Complexes:
    size = fft.next_fast_len(len(values) + len(taps) - 1)
    lead = len(taps) // 2
    smooth: Complexes = fft.ifft(fft.fft(values, size) * fft.fft(taps, size))
    return smooth[lead : lead + len(values)]


def _turn(cycles: float, place: NDArray[np.int64]) -> Complexes:
    """A phasor that makes ``cycles`` a sample, at each ``place``."""
    turn: Complexes = np.exp(2j * np.pi * ((cycles * place) % 1.0))
    return turn
