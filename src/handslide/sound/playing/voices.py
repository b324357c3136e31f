"""The sound of tones: brass, milder voices and struck strings, exact in pitch, in stereo.

A tone is read from two tables of one period each, a dull and a bright one. How much of either is in
it follows from moment to moment: a brass tone is brighter when louder, and its upper harmonics come
after the lower ones when it begins (Risset & Mathews, "Analysis of musical-instrument tones",
Physics Today 22 (1969) 23); a struck one begins bright and decays, the upper harmonics first. No
harmonic is above 12 kHz or 0.45 of the rate, so that nothing folds back.

What makes a held tone live is small and seeded by the note's place, so that the same music has the
same samples: its pitch drifts slowly by a few cents, as far above as below, and wind tones carry a
breath of noise.

Conventions: times in seconds; mixes are float32 of shape (2, n), left and right.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handslide.sound.playing.phrasing import Tone
from handslide.sound.synth import RATE_HZ, voice_levels

Floats = NDArray[np.float64]
Mix = NDArray[np.float32]

STEP = 16  # samples over which level and phase go in a straight line
_BLOCK = 512  # steps that are worked on at once: small enough to stay near the processor
_POINTS = 1 << 14  # of a table: errors of reading between them are 85 dB down
_PHASES = 30.0  # harmonics that the phases spread best
_BRIGHT_PER_DB = 1.0 / 24.0
_BRASS_POWERS = (-1.6, 0.75)  # p to f: 1.7 times the spectral centroid and more
_LEAST_BRIGHT = 0.08
LATE = 2.0  # how much longer than the tone its brightness takes to rise
_STRONGER_S = 0.12
_DRIFTS = ((2.0, 2.5), (3.0, 1.5))  # turns within a note, and by how many cents at most
_SHORT_S = 0.25  # shorter notes drift less
_BREATH_DB = -42.0
_NOISE_S, _NOISE_HZ = 3.0, (700.0, 5000.0)
_HIGHEST_HZ = 12_000.0
_GLIDE_FROM = 0.3  # share of a note that stays before it glides
_DECAY_S, _DECAY_HZ = 2.4, 261.6  # of a struck tone at middle C, to a 1/e of its level
_FIRST_DECAY, _FIRST_SHARE, _BRIGHT_DECAY = 0.18, 0.45, 0.22
_STRUCK_S = 0.004
_STRUCK_RANGE = 0.6  # of the dB of wind: many strings sound at once, and all begin hard
_DAMPED_S = 0.12


@dataclass(frozen=True, slots=True)
class Seat:
    """Where a part sits and how loud it is: ``gain`` of both sides for a tone of level 0 dB."""

    gain: float = 1.0
    pan: float = 0.0
    """From -1, left, to 1, right."""
    dynamic: float = 0.5
    """How bright its mezzo-forte is: 0 is as dull as can be, 1 as bright."""
    breath: bool = True

    @property
    def sides(self) -> tuple[np.float32, np.float32]:
        """Gains of left and right, of constant power."""
        angle = (self.pan + 1.0) * np.pi / 4.0
        return np.float32(self.gain * np.cos(angle)), np.float32(self.gain * np.sin(angle))


def sing_all(
    mix: Mix, tones: Sequence[Tone], seat: Seat, *, life: bool = True, rate_hz: int = RATE_HZ
) -> None:
    """Add the tones of a part to a mix; what reaches beyond its end is cut."""
    left, right = seat.sides
    carried, begun = np.zeros(1), 0
    for number, tone in enumerate(tones):
        start, count = round(tone.onset_s * rate_hz), round(_full_s(tone) * rate_hz)
        if count <= 0 or start >= mix.shape[1]:
            continue
        phase = float(carried[min((start - begun) // STEP, len(carried) - 1)]) if tone.carry else 0
        seed = (number, round(tone.onset_s * 1000))
        turns = _turns(tone, count, phase, seed if life else None, rate_hz)
        carried, begun = turns, start
        wave = _wave(tone, seat, count, turns, rate_hz)
        if life and seat.breath and tone.timbre != "struck":
            _breathe(wave, _envelopes(tone, seat, count, rate_hz)[0], seed, rate_hz)
        inside = wave[: mix.shape[1] - start]
        mix[0, start : start + len(inside)] += left * inside
        mix[1, start : start + len(inside)] += right * inside


def _full_s(tone: Tone) -> float:
    return tone.length_s + _DAMPED_S if tone.timbre == "struck" else tone.length_s


def _wave(tone: Tone, seat: Seat, count: int, turns: Floats, rate_hz: int) -> Mix:
    dull, more = tables(max(tone.hz, tone.to_hz or 0.0), tone.timbre, float(rate_hz))
    level, bright = _envelopes(tone, seat, count, rate_hz)
    steps = len(turns) - 1
    wave = np.empty(steps * STEP, np.float32)
    along: Floats = np.arange(STEP, dtype=np.float64) / STEP
    for at in range(0, steps, _BLOCK):
        span = slice(at, min(at + _BLOCK, steps) + 1)
        place = _lines(turns[span], along)
        loud, share = level[span], bright[span]
        out = wave[at * STEP : (span.stop - 1) * STEP]
        if np.ptp(share) < 1e-4:
            table = dull if share[0] < 1e-4 else dull + np.float32(share[0]) * more
            read_table(table, place, out)
        else:
            read_table(more, place, out)
            out *= _lines(share, along).astype(np.float32)
            under = np.empty_like(out)
            read_table(dull, place, under)
            out += under
        if np.ptp(loud) < 1e-7:
            out *= np.float32(loud[0])
        else:
            out *= _lines(loud, along).astype(np.float32)
    return wave[:count]


def _lines(corners: Floats, along: Floats) -> Floats:
    """Straight lines from corner to corner, shape ((n - 1) * STEP,)."""
    lines: Floats = np.diff(corners)[:, None] * along
    lines += corners[:-1, None]
    return lines.reshape(-1)


def read_table(table: Mix, turns: Floats, out: Mix) -> None:
    """The table at each place, read between its points."""
    place: Floats = turns - np.floor(turns)
    place *= _POINTS
    index = place.astype(np.int32)
    part = (place - index).astype(np.float32)
    low = table.take(index)
    index += 1
    np.subtract(table.take(index), low, out=out)
    out *= part
    out += low


def _times(count: int, rate_hz: int) -> Floats:
    """Seconds at the corners of the steps that hold ``count`` samples."""
    return np.arange(-(-count // STEP) + 1, dtype=np.float64) * (STEP / rate_hz)


def _turns(
    tone: Tone, count: int, phase: float, seed: tuple[int, int] | None, rate_hz: int
) -> Floats:
    """Periods since the start at the corners of the steps."""
    time_s = _times(count, rate_hz)
    length_s = count / rate_hz
    if tone.to_hz is not None:
        share = np.minimum(1.0, (time_s[:-1] + 0.5 * STEP / rate_hz) / max(tone.glide_s, 1e-3))
        way = np.clip((share - _GLIDE_FROM) / (1.0 - _GLIDE_FROM), 0.0, 1.0)
        way = way * way * (3.0 - 2.0 * way)
        hz = tone.hz * (tone.to_hz / tone.hz) ** way
        return np.concatenate([[phase], phase + np.cumsum(hz) * (STEP / rate_hz)])
    turns = phase + tone.hz * time_s
    if seed is not None and tone.timbre != "struck":
        # The integral of a drift that is odd about the middle: the pitch is exact over the note,
        # and over all of it but for its ends.
        small = min(1.0, length_s / _SHORT_S) * tone.hz * np.log(2.0) / 1200.0
        strengths = np.random.default_rng(seed).uniform(-1.0, 1.0, len(_DRIFTS))
        for (cycles, cents), strength in zip(_DRIFTS, strengths):
            per_s = 2.0 * np.pi * cycles / length_s
            odd = np.cos(per_s * 0.5 * length_s) - np.cos(per_s * (time_s - 0.5 * length_s))
            turns += small * cents * strength / per_s * odd
    return turns


def _envelopes(tone: Tone, seat: Seat, count: int, rate_hz: int) -> tuple[Floats, Floats]:
    """Level, and the share of the bright table, at the corners of the steps."""
    time_s = _times(count, rate_hz)
    shares, levels_db = np.array(tone.levels).T
    db = np.interp(time_s, shares * tone.length_s, levels_db)
    if tone.stronger_db:
        db = db + tone.stronger_db * np.exp(-time_s / _STRONGER_S)
    if tone.timbre == "struck":
        db = db * _STRUCK_RANGE
    level = 10.0 ** (db / 20.0)
    dynamic = np.clip(seat.dynamic + db * _BRIGHT_PER_DB, _LEAST_BRIGHT, 1.0)
    end_s = count / rate_hz
    if tone.timbre == "struck":
        return _struck(tone, time_s, level, dynamic, end_s)
    attack_s = max(tone.attack_s, STEP / rate_hz)
    fades = rise(time_s / attack_s) * rise((end_s - time_s) / tone.release_s)
    bright = rise(time_s / (LATE * attack_s)) * rise((end_s - time_s) / tone.release_s)
    return level * fades, dynamic * bright


def _struck(
    tone: Tone, time_s: Floats, level: Floats, dynamic: Floats, end_s: float
) -> tuple[Floats, Floats]:
    """A struck string's envelopes: it decays quickly, then slowly (Weinreich, "Coupled piano
    strings", J. Acoust. Soc. Am. 62 (1977) 1474), higher tones sooner, and is damped at its end."""
    decay_s = _DECAY_S * (_DECAY_HZ / tone.hz) ** 0.5
    sound = _FIRST_SHARE * np.exp(-time_s / (_FIRST_DECAY * decay_s))
    sound += (1.0 - _FIRST_SHARE) * np.exp(-time_s / decay_s)
    fades = rise(time_s / _STRUCK_S) * rise((end_s - time_s) / _DAMPED_S)
    return level[0] * sound * fades, dynamic[0] * np.exp(-time_s / (_BRIGHT_DECAY * decay_s))


def rise(share: Floats) -> Floats:
    """From 0 to 1 as ``share`` does, rounded at both ends."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(share, 0.0, 1.0)), np.float64)


def _breathe(wave: Mix, level: Floats, seed: tuple[int, int], rate_hz: int) -> None:
    """Add the noise of the breath, as loud as the tone goes."""
    noise = _noise(rate_hz)
    at = int(np.random.default_rng((1, *seed)).integers(len(noise)))
    gain = 10.0 ** (_BREATH_DB / 20.0)
    loud = np.repeat((gain * level[:-1]).astype(np.float32), STEP)
    for first in range(0, len(wave), len(noise)):
        piece = wave[first : first + len(noise)]
        long = min(len(piece), len(noise) - at)
        piece[:long] += noise[at : at + long] * loud[first : first + long]
        piece[long:] += noise[: len(piece) - long] * loud[first + long : first + len(piece)]


@lru_cache(maxsize=2)
def _noise(rate_hz: int) -> Mix:
    """Seeded noise of power 1 in the band of breath, which repeats without a seam."""
    count = round(_NOISE_S * rate_hz)
    hz = np.fft.rfftfreq(count, 1.0 / rate_hz)
    spectrum = np.exp(2j * np.pi * np.random.default_rng(17).uniform(size=len(hz)))
    low, high = _NOISE_HZ
    spectrum *= (hz / low) ** 2 / (1.0 + (hz / low) ** 2) / (1.0 + (hz / high) ** 4)
    spectrum[hz > _HIGHEST_HZ] = 0.0
    wave = np.fft.irfft(spectrum, count)
    return np.asarray(wave / np.sqrt(np.mean(wave**2)), np.float32)


@lru_cache(maxsize=256)
def tables(hz: float, timbre: str, rate_hz: float) -> tuple[Mix, Mix]:
    """A period of the dullest voice, and what the brightest has more; the first point again behind.

    Phases go by the number of the harmonic, so that voices of different pitch blend in phase.
    """
    tables = []
    for levels in _levels(hz, timbre, rate_hz):
        number = np.arange(1, len(levels) + 1)
        spectrum = np.zeros(_POINTS // 2 + 1, np.complex128)
        turn = np.exp(-1j * np.pi * number * (number - 1) / _PHASES)
        spectrum[1 : len(levels) + 1] = levels * turn * (_POINTS / 2)
        table = np.fft.irfft(spectrum, _POINTS)
        tables.append(np.append(table, table[0]))
    dull, bright = tables
    return dull.astype(np.float32), (bright - dull).astype(np.float32)


def _levels(hz: float, timbre: str, rate_hz: float) -> tuple[Floats, Floats]:
    if timbre == "brass":
        return voice_levels(hz, rate_hz, _BRASS_POWERS)
    return _mild_levels(hz, timbre)


def _mild_levels(hz: float, timbre: str) -> tuple[Floats, Floats]:
    """Harmonics that fall from the first on: by 12 and 8 dB an octave; of struck strings by 9 and
    5, without every eighth, where the hammer strikes."""
    number = np.arange(1.0, max(2.0, min(40.0, 8000.0 // hz + 1)))
    dull, bright = (2.0, 1.3) if timbre == "mild" else (1.5, 0.85)
    comb = 1.0 if timbre == "mild" else np.maximum(np.abs(np.sin(np.pi * number / 8.0)), 0.05)
    both = [number**-power * comb / (1.0 + (number * hz / 4000.0) ** 4) for power in (dull, bright)]
    first, second = (levels / np.sqrt(np.sum(levels**2) / 2.0) for levels in both)
    return first, second
