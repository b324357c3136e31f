"""The sound of tones that are held as they begin: the same as `voices` sings, for much less work.

Of a held tone without life only its beginning and its end change; between them goes a loop of whole
periods. A loop is at most a second long and is off by less than 0.001 cent from 50 Hz on.

Conventions: times in seconds; mixes are float32 of shape (n,), or (2, n), left and right.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from handslide.sound.playing.phrasing import Tone
from handslide.sound.playing.voices import LATE, Floats, Mix, Seat, read_table, rise, tables
from handslide.sound.synth import RATE_HZ

_LONGEST_S, _SHORTEST_S = 1.0, 0.25


@dataclass(slots=True)
class _Loop:
    """A dull and a bright voice, ``count`` samples of whole periods and as much again behind them
    as an end may need; ``steady`` is what sounds in the middle, ``begun`` the beginnings by their
    attack."""

    count: int
    dull: Mix
    more: Mix
    steady: Mix
    begun: dict[float, Mix] = field(default_factory=dict)


def hold_all(mix: Mix, tones: Sequence[Tone], seat: Seat, *, rate_hz: int = RATE_HZ) -> None:
    """Add held tones to a mix, in the middle; what reaches beyond its end is cut.

    They are equally loud all through: `Tone.levels` and what else makes a tone live is left out.
    """
    gain, bright = seat.sides[0], float(seat.dynamic)
    for tone in tones:
        start, count = round(tone.onset_s * rate_hz), round(tone.length_s * rate_hz)
        count = min(count, mix.shape[-1] - start)
        if count > 0:
            out = mix[..., start : start + count]
            edge = round(max(LATE * tone.attack_s, tone.release_s) * rate_hz) + 1
            loop = _loop(tone.hz, tone.timbre, float(gain), bright, rate_hz, 2 * edge)
            _hold(out, tone, loop, bright, rate_hz)


def _hold(out: Mix, tone: Tone, loop: _Loop, bright: float, rate_hz: int) -> None:
    count = out.shape[-1]
    first, last = round(LATE * tone.attack_s * rate_hz), round(tone.release_s * rate_hz)
    rising, falling = _ramp(first, tone.attack_s, rate_hz), _ramp(last, tone.release_s, rate_hz)
    late = _ramp(first, LATE * tone.attack_s, rate_hz)
    if first + last >= count:
        up, later, down = np.ones((3, count), np.float32)
        up[:first], later[:first] = rising[:count], late[:count]
        down[-last:] = falling[:count][::-1]
        out += _edge(loop, 0, up * down, later * down, bright)
        return
    if tone.attack_s not in loop.begun:
        loop.begun[tone.attack_s] = _edge(loop, 0, rising, late, bright)
    out[..., :first] += loop.begun[tone.attack_s]
    at = first
    while at < count - last:
        place = at % loop.count
        long = min(loop.count - place, count - last - at)
        out[..., at : at + long] += loop.steady[place : place + long]
        at += long
    ends = falling[::-1]
    out[..., at:] += _edge(loop, at % loop.count, ends, ends, bright)


def _edge(loop: _Loop, place: int, level: Mix, share: Mix, bright: float) -> Mix:
    """What sounds from a place of the loop on, at these levels and shares of its brightness."""
    span = slice(place, place + len(level))
    wave = np.float32(bright) * share
    wave *= loop.more[span]
    wave += loop.dull[span]
    wave *= level
    return wave


@lru_cache(maxsize=16)
def _ramp(count: int, length_s: float, rate_hz: int) -> Mix:
    """So many samples of a rise over a length, the first of them not silent."""
    time_s: Floats = np.arange(1, count + 1, dtype=np.float64) / rate_hz
    return rise(time_s / length_s).astype(np.float32)


@lru_cache(maxsize=64)
def _loop(hz: float, timbre: str, gain: float, bright: float, rate_hz: int, behind: int) -> _Loop:
    """The loop of a tone, its gain in it, with so many samples ``behind`` it."""
    periods = np.arange(1, max(2, int(_LONGEST_S * hz)) + 1)
    samples = periods * (rate_hz / hz)
    off = np.abs(np.rint(samples) / samples - 1.0)
    off[samples < _SHORTEST_S * rate_hz] = np.inf
    best = int(off.argmin())
    count = int(np.rint(samples[best]))
    turns = np.arange(count + behind, dtype=np.float64) * (int(periods[best]) / count)
    both = []
    for table in tables(hz, timbre, float(rate_hz)):
        wave = np.empty(len(turns), np.float32)
        read_table(table, turns, wave)
        both.append(wave * np.float32(gain))
    dull, more = both
    steady = (dull + np.float32(bright) * more)[:count]
    return _Loop(count, dull, more, steady)
