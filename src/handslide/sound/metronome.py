"""A metronome's beeps: found by their beat, taken out of the recording, and said.

A beep is a short tone; a player's short notes aren't equally short, equally high and exactly on a
beat. Beeps that sound alone give the beat, the pitches and the length; then each beat is looked at
through the whole take, and what rises and ends there in the band of a beep is subtracted. Own
method.

Conventions: times in seconds from the start of the take, pitches in Hz.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from handslide.sound.segments import cents_of, runs
from handslide.sound.track import Samples, Track, changed

Floats = NDArray[np.float64]

_LEAST_HZ = 350.0
_FRAMES = (4, 18)  # a frame of 46 ms shows a beep longer than it is
_ALONE_FRAMES = 4
_CLEAR = 0.6
_STEADY_CENTS = 30.0
_STEADY_SHARE = 0.6
_BEAT_S = (0.24, 2.1)
_ON_BEAT_S = 0.015
_LENGTHS_S = 0.03
_LEAST_BEEPS = 3
_PURE = 0.97
_MOST_PITCHES = 2
_SMOOTH_S = 0.012
_EDGE_S = 0.008
_STANDS_OUT = 4.0  # power in the band of the beep against before and after it
_QUIETEST_DB = -65.0
_ALIKE = 2.0  # power of a beep against the usual one


@dataclass(frozen=True, slots=True)
class Beep:
    """A short tone on the beat.

    ``at_s`` is its moment, where it reaches half of its height, on the line through all of them;
    ``beat`` is the number of its beat.
    """

    start_s: float
    end_s: float
    hz: float
    at_s: float = 0.0
    beat: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class _Burst:
    """What sounds at a beat in the band of a beep.

    ``power`` in it and ``early`` in its first half, ``before`` and ``after`` it.
    """

    place: slice
    sound: Samples
    power: float
    early: float
    before: float
    after: float

    @property
    def is_alone(self) -> bool:
        beside = max(self.before, self.after)
        return self.power >= max(_STANDS_OUT * beside, 10 ** (_QUIETEST_DB / 10))

    def is_like(self, usual: float) -> bool:
        """Whether it adds as much as the other beeps to what a note has, or comes before one."""
        beside = max(self.before, self.after)
        added = self.power - beside
        over = added > beside and usual / _ALIKE < added < usual * _ALIKE
        first = self.early > _STANDS_OUT * self.before
        return over or (first and usual / _ALIKE < self.early < usual * _ALIKE)


def without_beeps(track: Track) -> tuple[Track, tuple[Beep, ...]]:
    """The track of the take without its metronome, and the beeps that were in it."""
    beat = _beat_of(track, _short_tones(track))
    if beat is None:
        return track, ()
    on_beat, beat_s = beat
    samples = track.samples.copy()
    length_s = float(np.median([one.end_s - one.start_s for one in on_beat]))
    beats = _beats(on_beat, beat_s, track.length_s)
    found: list[Beep] = []
    places: list[slice] = []
    for hz in _pitches(on_beat):
        bursts = [_burst(samples, track.rate_hz, hz, at_s, length_s) for at_s in beats]
        alone = [burst.power for burst in bursts if burst is not None and burst.is_alone]
        usual = float(np.median(alone)) if alone else 0.0
        for number, burst in enumerate(bursts):
            if burst is None or not (burst.is_alone or burst.is_like(usual)):
                continue
            place = burst.place
            start_s, end_s = place.start / track.rate_hz, place.stop / track.rate_hz
            found.append(Beep(start_s, end_s, hz, float(beats[number]), number))
            samples[place] -= burst.sound
            places.append(place)
    return changed(track, samples, places), tuple(sorted(found, key=lambda one: one.start_s))


def _short_tones(track: Track) -> list[Beep]:
    """Short high tones that sound alone; their ends are those of their sound, not of the frames."""
    sounds = (track.clarity > _CLEAR) & (track.level_db > _QUIETEST_DB)
    found = []
    stretches = runs(sounds)
    for number, (first, stop) in enumerate(stretches):
        if not _FRAMES[0] <= stop - first <= _FRAMES[1]:
            continue
        before = stretches[number - 1][1] if number else -_ALONE_FRAMES
        after = stretches[number + 1][0] if number + 1 < len(stretches) else len(sounds) + 99
        if min(first - before, after - stop) < _ALONE_FRAMES:
            continue
        cents = cents_of(track.f0_hz[first:stop])
        middle = float(np.median(cents))
        steady = np.abs(cents - middle) < _STEADY_CENTS
        hz = float(2.0 ** (middle / 1200.0))
        if hz > _LEAST_HZ and steady.mean() > _STEADY_SHARE:
            found.append(_trimmed(track, first, stop, hz))
    return found


def _trimmed(track: Track, first: int, stop: int, hz: float) -> Beep:
    begin = max(0, (first - _ALONE_FRAMES) * track.hop)
    squares = track.samples[begin : (stop + _ALONE_FRAMES) * track.hop].astype(np.float64) ** 2
    width = max(1, round(0.004 * track.rate_hz))
    power = np.convolve(squares, np.full(width, 1.0 / width), "same")
    loud = np.flatnonzero(power > 0.25 * np.percentile(power, 90))
    return Beep((begin + loud[0]) / track.rate_hz, (begin + loud[-1] + 1) / track.rate_hz, hz)


def _beat_of(track: Track, tones: Sequence[Beep]) -> tuple[list[Beep], float] | None:
    """The tones that are on a beat, and its length; None where there is no such beat."""
    best: tuple[list[Beep], float] | None = None
    for one, other in pairwise(tones):
        beat_s = other.start_s - one.start_s
        if not _BEAT_S[0] <= beat_s <= _BEAT_S[1]:
            continue
        length_s = one.end_s - one.start_s
        fitting = []
        for tone in tones:
            off = (tone.start_s - one.start_s) / beat_s
            late_s = abs(off - round(off)) * beat_s
            alike = abs(tone.end_s - tone.start_s - length_s) < _LENGTHS_S
            if late_s < _ON_BEAT_S and alike:
                fitting.append(tone)
        if len(_pitches(fitting)) > _MOST_PITCHES:
            continue
        if best is None or len(fitting) > len(best[0]):
            best = fitting, beat_s
    if best is None:
        return None
    # Two make no beat yet, unless they are as pure as no horn is.
    pure = all(_purity(track, tone) > _PURE for tone in best[0])
    return best if len(best[0]) >= _LEAST_BEEPS or pure else None


def _pitches(tones: Sequence[Beep]) -> list[float]:
    """The different pitches of tones, each a mean."""
    groups: list[list[float]] = []
    for hz in sorted(tone.hz for tone in tones):
        if groups and abs(1200.0 * np.log2(hz / groups[-1][0])) < _STEADY_CENTS:
            groups[-1].append(hz)
        else:
            groups.append([hz])
    return [float(np.mean(group)) for group in groups]


def _purity(track: Track, tone: Beep) -> float:
    """The share of a tone's power that is in its fundamental."""
    begin, end = round(tone.start_s * track.rate_hz), round(tone.end_s * track.rate_hz)
    samples = track.samples[begin:end].astype(np.float64)
    power = np.abs(np.fft.rfft(samples * np.hanning(len(samples)))) ** 2
    hz = np.arange(len(power)) * track.rate_hz / len(samples)
    near = np.abs(hz - tone.hz) < 3.0 * track.rate_hz / len(samples)
    return float(power[near].sum() / max(float(power.sum()), 1e-30))


def _beats(tones: Sequence[Beep], beat_s: float, length_s: float) -> Floats:
    """Where beats are through the take: the straight line through the tones' places."""
    start_s = np.array([tone.start_s for tone in tones])
    number = np.rint((start_s - start_s[0]) / beat_s)
    slope, at_s = np.polyfit(number, start_s, 1) if len(tones) > 2 else (beat_s, start_s[0])
    first, last = np.ceil(-at_s / slope), np.floor((length_s - at_s) / slope)
    beats: Floats = at_s + slope * np.arange(first, last + 1)
    return beats


def _burst(
    samples: Samples, rate_hz: float, hz: float, start_s: float, length_s: float
) -> _Burst | None:
    """What sounds at a beat in the band of a beep; None at the ends of the take."""
    taps = np.hanning(round(_SMOOTH_S * rate_hz) | 1)
    reach = len(taps) // 2
    length = round(length_s * rate_hz)
    edge = round(_EDGE_S * rate_hz)
    first = max(0, round(start_s * rate_hz))
    begin, end = max(0, first - length - edge), min(len(samples), first + 2 * length + edge)
    if end <= begin:
        return None
    low, high = max(0, begin - reach), min(len(samples), end + reach)
    turner = np.exp(-2j * np.pi * hz / rate_hz * np.arange(high - low))
    turned = samples[low:high] * turner
    parts = [np.convolve(part, taps / taps.sum(), "same") for part in (turned.real, turned.imag)]
    power = parts[0] ** 2 + parts[1] ** 2

    def mean(start: int, stop: int) -> float:
        inside = power[max(start, begin) - low : max(min(stop, end), begin) - low]
        return float(inside.mean()) if len(inside) else 0.0

    inside, after = (first + edge, first + length - edge), (first + length + edge, end)
    if inside[0] >= min(inside[1], end) or after[0] >= after[1]:
        return None
    early = mean(first + edge, first + max(length // 2, 2 * edge))
    place = slice(max(0, first - edge), min(len(samples), first + length + edge))
    here = slice(place.start - low, place.stop - low)
    sound = 2.0 * (parts[0][here] * turner.real[here] + parts[1][here] * turner.imag[here])
    return _Burst(
        place,
        sound.astype(np.float32),
        power=mean(*inside),
        early=early,
        before=mean(begin, first - edge),
        after=mean(*after),
    )
