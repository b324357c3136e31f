"""Voices from harmonics: brighter when louder, exact in pitch, without clicks.

A voice is read from two tables of one period each, a soft and a bright one, mixed by how loud it
is. No harmonic is above 12 kHz or 0.45 of the
rate, so that nothing folds back.

Conventions: times in seconds, ``dynamic`` from 0 (as soft as can be) to 1 (as loud as can be);
mixed samples are float32, shape (n,).
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import BadData
from handslide.sound.tones import brass_levels

Floats = NDArray[np.float64]
Mix = NDArray[np.float32]

RATE_HZ = 48_000
_POINTS = 1 << 14  # of a table: errors of reading between them are 100 dB down
_HARMONICS = 80
_BRIGHT_HZ = 1100.0
_MILD_HZ, _TOP_HZ = 5000.0, 12_000.0  # above, a horn has little, and then nothing to speak of
POWERS = (-0.75, 0.25)
"""How the softest and the loudest voice differ from one between: in powers of 1 + (f/1100 Hz)²."""
_PHASES = 30.0  # harmonics that the phases spread best
CLICKS_HZ = {"part": 784.0, "beat": 1046.5, "first": 1568.0}
_CLICK_S, _CLICK_RISE_S, _CLICK_FALL_S = 0.06, 0.002, 0.012
_FEWEST_PERIODS, _LOOP_MORE_S = 20, 30


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


def click(kind: str, rate_hz: int = RATE_HZ) -> Mix:
    """A metronome's click of power 1 at its height: of the ``first`` beat of a measure, which is
    higher, of a ``beat``, or of a ``part`` of one, which is lower."""
    time_s = np.arange(round(_CLICK_S * rate_hz)) / rate_hz
    wave = np.sqrt(2.0) * np.sin(2.0 * np.pi * CLICKS_HZ[kind] * time_s)
    wave *= np.exp(-np.maximum(time_s - _CLICK_RISE_S, 0.0) / _CLICK_FALL_S)
    mix: Mix = wave.astype(np.float32)
    fade(mix, _CLICK_RISE_S, _CLICK_S / 3, rate_hz)
    return mix


def add_at(mix: Mix, wave: Mix, onset_s: float, gain: float, rate_hz: int = RATE_HZ) -> None:
    """Add a short sound to a mix (n,) or (channels, n) at ``onset_s``; what reaches beyond its end
    is cut."""
    start = round(onset_s * rate_hz)
    inside = wave[: max(0, mix.shape[-1] - start)]
    mix[..., start : start + len(inside)] += np.float32(gain) * inside


def voice_levels(
    hz: float, rate_hz: float, powers: tuple[float, float] = POWERS
) -> tuple[Floats, Floats]:
    """Levels of the harmonics of the softest and of the loudest voice of power 1, shape (m,)."""
    base = brass_levels(hz, rate_hz, min(_HARMONICS, max(1, int(_TOP_HZ / hz))))
    at_hz = hz * np.arange(1, len(base) + 1)
    base /= np.sqrt(1.0 + (at_hz / _MILD_HZ) ** 4)
    tilt = 1.0 + (at_hz / _BRIGHT_HZ) ** 2
    soft, loud = base * tilt ** powers[0], base * tilt ** powers[1]
    return soft / np.sqrt(np.sum(soft**2) / 2.0), loud / np.sqrt(np.sum(loud**2) / 2.0)


@lru_cache(maxsize=128)
def _tables(hz: float, rate_hz: float) -> tuple[Floats, Floats]:
    """A period of the softest voice, and what the loudest has more; the first point again behind.

    Phases go by the number of the harmonic, so that voices of different pitch blend in phase.
    """
    tables = []
    for levels in voice_levels(hz, rate_hz):
        number = np.arange(1, len(levels) + 1)
        spectrum = np.zeros(_POINTS // 2 + 1, np.complex128)
        turn = np.exp(-1j * np.pi * number * (number - 1) / _PHASES)
        spectrum[1 : len(levels) + 1] = levels * turn * (_POINTS / 2)
        table = np.fft.irfft(spectrum, _POINTS)
        tables.append(np.append(table, table[0]))
    return tables[0], tables[1] - tables[0]


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
