"""Voices from harmonics: brighter when louder, exact in pitch, without clicks.

A voice is read from two tables of one period each, a soft and a bright one; how much of the bright
one is in it follows its level from moment to moment. No harmonic is above 12 kHz or 0.45 of the
rate, so that nothing folds back.

Conventions: times in seconds, ``dynamic`` from 0 (as soft as can be) to 1 (as loud as can be);
mixed samples are float32, shape (n,).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import BadData
from handslide.sound.tones import brass_levels

Floats = NDArray[np.float64]
Mix = NDArray[np.float32]

RATE_HZ = 48_000
ATTACK_S, RELEASE_S, SLUR_S = 0.025, 0.05, 0.035
_POINTS = 1 << 14  # of a table: errors of reading between them are 100 dB down
_HARMONICS = 80
_BRIGHT_HZ = 1100.0
_MILD_HZ, _TOP_HZ = 5000.0, 12_000.0  # above, a horn has little, and then nothing to speak of
_SOFT_POWER, _LOUD_POWER = -0.75, 0.25  # of 1 + (f/1100 Hz)²
_PHASES = 30.0  # harmonics that the phases spread best
_ACCENT, _ACCENT_S = 0.3, 0.12
_GLIDE_FROM = 0.3  # share of a note that stays before it glides
_CLICKS_HZ = (1046.5, 1568.0)
_CLICK_S, _CLICK_RISE_S, _CLICK_FALL_S = 0.06, 0.002, 0.012
_USUAL_S = 20.0
_FEWEST_PERIODS, _LOOP_MORE_S = 20, 30


@dataclass(frozen=True, slots=True)
class Tone:
    """A note to sing: its fades lie within ``length_s``.

    ``to_hz`` is where it glides to until ``glide_s``; ``carry`` goes on in the phase that the tone
    before it in the list has at this onset.
    """

    onset_s: float
    length_s: float
    hz: float
    dynamic: float = 0.5
    gain: float = 1.0
    attack_s: float = ATTACK_S
    release_s: float = RELEASE_S
    accent: bool = False
    to_hz: float | None = None
    glide_s: float = 0.0
    carry: bool = False


def render(tones: Sequence[Tone], length_s: float, rate_hz: int = RATE_HZ) -> Mix:
    """All tones mixed; what reaches beyond ``length_s`` is cut. Raises BadData for a pitch."""
    mix = np.zeros(round(length_s * rate_hz), np.float32)
    bodies = _bodies(tones, rate_hz)
    turns, begun = np.zeros(1), 0
    for tone in tones:
        start, count = round(tone.onset_s * rate_hz), round(tone.length_s * rate_hz)
        if count <= 0 or start >= len(mix):
            continue
        if tone.to_hz is None and not tone.carry:
            body = bodies.get((tone.hz, tone.dynamic))
            if body is None or len(body) < count:
                body = sustained((tone.hz,), tone.dynamic, count, rate_hz)
            wave = _cut(tone, count, body, rate_hz)
        else:
            phase = float(turns[min(start - begun, len(turns) - 1)]) if tone.carry else 0.0
            turns, begun = _turns(tone, count, phase, rate_hz), start
            wave = _sing(tone, turns, _envelope(tone, count, rate_hz), rate_hz)
        inside = wave[: len(mix) - start]
        mix[start : start + len(inside)] += inside
    return mix


def _bodies(tones: Sequence[Tone], rate_hz: int) -> dict[tuple[float, float], Mix]:
    """Each voice held as long as its longest usual tone: the middles of tones are cut out of it."""
    longest: dict[tuple[float, float], int] = {}
    for tone in tones:
        if tone.length_s > _USUAL_S:
            continue
        key = tone.hz, tone.dynamic
        longest[key] = max(longest.get(key, 0), round(tone.length_s * rate_hz))
    return {key: sustained(key[:1], key[1], count, rate_hz) for key, count in longest.items()}


def _cut(tone: Tone, count: int, body: Mix, rate_hz: int) -> Mix:
    """A tone whose middle comes from ``body``; its ends, where the level moves, are sung."""
    level = _envelope(tone, count, rate_hz)
    wave = body[:count] * np.float32(tone.gain)
    settled = round(8.0 * _ACCENT_S * rate_hz) if tone.accent else 0
    rise = min(max(round(tone.attack_s * rate_hz), settled), count)
    fall = max(rise, count - round(tone.release_s * rate_hz))
    for part in (slice(0, rise), slice(fall, count)):
        turns: Floats = np.arange(part.start, part.stop, dtype=np.float64) * (tone.hz / rate_hz)
        wave[part] = _sing(tone, turns, level[part], rate_hz)
    return wave


def sustained(
    pitches_hz: Sequence[float], dynamic: float, count: int, rate_hz: int = RATE_HZ
) -> Mix:
    """Tones of equal power held for ``count`` samples, without fades."""
    mix = np.zeros(count, np.float32)
    block = 1 << 18
    for hz in pitches_hz:
        soft, more = _tables(hz, float(rate_hz))
        table = soft + dynamic * more
        for at in range(0, count, block):
            turns = np.arange(at, min(at + block, count), dtype=np.float64) * (hz / rate_hz)
            mix[at : at + block] += _read(table, turns)
    return mix


def fade(mix: Mix, attack_s: float, release_s: float, rate_hz: int = RATE_HZ) -> None:
    """Fade a sound in and out, in place."""
    rise = _rise(min(round(attack_s * rate_hz), len(mix) // 2))
    fall = _rise(min(round(release_s * rate_hz), len(mix) // 2))[::-1]
    mix[: len(rise)] *= rise.astype(np.float32)
    mix[len(mix) - len(fall) :] *= fall.astype(np.float32)


def loop_count(
    pitches_hz: Sequence[float], shortest_s: float, worst_cents: float, rate_hz: int = RATE_HZ
) -> tuple[int, tuple[float, ...]]:
    """Samples of a loop that holds whole periods of all tones, and the pitches that it then has.

    A tone with whole periods is the same after the loop as before it, in all its harmonics. Of the
    lengths from ``shortest_s`` on (to twice that, at least 30 s more) the first is taken whose
    pitches are within ``worst_cents``. Raises BadData where none is.
    """
    hz = np.array(pitches_hz)
    first = round(max(shortest_s, _FEWEST_PERIODS / float(hz.min())) * rate_hz)
    last = first + max(first, _LOOP_MORE_S * rate_hz)
    chunk = 1 << 16
    for at in range(first, last, chunk):
        counts = np.arange(at, min(at + chunk, last))
        periods = counts[:, None] * (hz / rate_hz)
        whole = np.rint(periods)
        off = np.max(np.abs(np.log2(whole / periods)), axis=1) * 1200.0
        fit = np.flatnonzero(off <= worst_cents)
        if len(fit):
            count = int(counts[fit[0]])
            return count, tuple((whole[fit[0]] * rate_hz / count).tolist())
    raise BadData(
        "sounds.no_loop", shortest_s=first / rate_hz, longest_s=last / rate_hz, count=len(hz)
    )


def click(first: bool, rate_hz: int = RATE_HZ) -> Mix:
    """A metronome's click of power 1 at its height; ``first`` of a measure is higher."""
    time_s = np.arange(round(_CLICK_S * rate_hz)) / rate_hz
    wave = np.sqrt(2.0) * np.sin(2.0 * np.pi * _CLICKS_HZ[first] * time_s)
    wave *= np.exp(-np.maximum(time_s - _CLICK_RISE_S, 0.0) / _CLICK_FALL_S)
    mix: Mix = wave.astype(np.float32)
    fade(mix, _CLICK_RISE_S, _CLICK_S / 3, rate_hz)
    return mix


def add_at(mix: Mix, wave: Mix, onset_s: float, gain: float, rate_hz: int = RATE_HZ) -> None:
    """Add a short sound to a mix at ``onset_s``; what reaches beyond it is cut."""
    start = round(onset_s * rate_hz)
    inside = wave[: max(0, len(mix) - start)]
    mix[start : start + len(inside)] += np.float32(gain) * inside


def _ends(hz: float, rate_hz: float) -> tuple[Floats, Floats]:
    """Levels of the harmonics of the softest and of the loudest voice of power 1, shape (m,)."""
    base = brass_levels(hz, rate_hz, min(_HARMONICS, max(1, int(_TOP_HZ / hz))))
    at_hz = hz * np.arange(1, len(base) + 1)
    base /= np.sqrt(1.0 + (at_hz / _MILD_HZ) ** 4)
    tilt = 1.0 + (at_hz / _BRIGHT_HZ) ** 2
    soft, loud = base * tilt**_SOFT_POWER, base * tilt**_LOUD_POWER
    return soft / np.sqrt(np.sum(soft**2) / 2.0), loud / np.sqrt(np.sum(loud**2) / 2.0)


@lru_cache(maxsize=128)
def _tables(hz: float, rate_hz: float) -> tuple[Floats, Floats]:
    """A period of the softest voice, and what the loudest has more; the first point again behind.

    Phases go by the number of the harmonic, so that voices of different pitch blend in phase.
    """
    tables = []
    for levels in _ends(hz, rate_hz):
        number = np.arange(1, len(levels) + 1)
        spectrum = np.zeros(_POINTS // 2 + 1, np.complex128)
        turn = np.exp(-1j * np.pi * number * (number - 1) / _PHASES)
        spectrum[1 : len(levels) + 1] = levels * turn * (_POINTS / 2)
        table = np.fft.irfft(spectrum, _POINTS)
        tables.append(np.append(table, table[0]))
    return tables[0], tables[1] - tables[0]


def _turns(tone: Tone, count: int, phase: float, rate_hz: int) -> Floats:
    """Periods since the start at each sample."""
    number = np.arange(count, dtype=np.float64)
    if tone.to_hz is None:
        return phase + number * (tone.hz / rate_hz)
    glide = max(1.0, tone.glide_s * rate_hz)
    way = np.clip((number / glide - _GLIDE_FROM) / (1.0 - _GLIDE_FROM), 0.0, 1.0)
    way = way * way * (3.0 - 2.0 * way)
    step: Floats = tone.hz * (tone.to_hz / tone.hz) ** way / rate_hz
    return phase + np.cumsum(step) - step


def _sing(tone: Tone, turns: Floats, level: Floats, rate_hz: int) -> Mix:
    # A table of the higher end of a glide has no harmonic that would fold back.
    soft, more = _tables(max(tone.hz, tone.to_hz or 0.0), float(rate_hz))
    wave = _read(more, turns) * (tone.dynamic * level)
    wave += _read(soft, turns)
    wave *= tone.gain * level
    return wave.astype(np.float32)


def _envelope(tone: Tone, count: int, rate_hz: int) -> Floats:
    level = np.ones(count)
    if tone.accent:
        level += _ACCENT * np.exp(-np.arange(count) / (_ACCENT_S * rate_hz))
    rise = _rise(min(round(tone.attack_s * rate_hz), count // 2))
    fall = _rise(min(round(tone.release_s * rate_hz), count // 2))[::-1]
    level[: len(rise)] *= rise
    level[count - len(fall) :] *= fall
    return level


def _rise(count: int) -> Floats:
    turn = np.pi * (np.arange(count) + 0.5) / max(count, 1)
    return np.asarray(0.5 - 0.5 * np.cos(turn), np.float64)


def _read(table: Floats, turns: Floats) -> Floats:
    """The table at each place, read between its points."""
    place = turns - np.floor(turns)
    place *= _POINTS
    index = place.astype(np.int32)
    place -= index
    low = table.take(index)
    index += 1
    place *= table.take(index) - low
    return low + place
