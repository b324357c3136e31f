"""Phrases that sound: from harmonics with recorded spectra, or from recorded notes.

A phrase is a list of `Play`; notes that join the one before them make one breath with it. Tones
are exact: the phase runs on through a breath, harmonics carry the levels of a recorded note
(spectra.csv), a softer moment is duller. Recorded notes are read faster or slower to be at their
pitch, by a few semitones at most, with an envelope of our own over them or with the attack that
they have.
"""

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile

from .truth import Floats, TrueNote

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[2]
SHARED = ROOT.parent / "shared" / "audio"
RECORDED = SHARED if (SHARED / "index.csv").exists() else ROOT / "tests" / "takes"
RATE_HZ = 44_100
_TENTHS = 0.5903  # share of a raised cosine between 10 and 90 % of its height
_LASTS_S, _QUICK_ATTACK_S = 1.2, 0.06
_TRIMMED_S = 0.12
_BLOCK = 1 << 13


@dataclass(frozen=True, slots=True)
class Play:
    """A note to be played; ``join`` and the figures of the join say how it begins.

    ``midi`` with its fraction is the pitch at A4 = 440 Hz; ``transit_s`` 10 to 90 %; ``dip_s`` the
    width of the dip at its half; ``sag_db`` how far the level sinks from begin to end,
    ``sag_cents`` how far the pitch does, about its mean; ``scoop_cents`` where the attack begins.
    ``natural``: a recorded note keeps its own attack.
    """

    midi: float
    onset_s: float
    length_s: float
    join: str = "tongued"
    level_db: float = -20.0
    rise_s: float = 0.02
    fall_s: float = 0.04
    transit_s: float = 0.03
    dip_db: float = 0.0
    dip_s: float = 0.05
    vibrato_hz: float = 0.0
    vibrato_cents: float = 0.0
    vibrato_phase: float = 0.0
    scoop_cents: float = 0.0
    scoop_s: float = 0.05
    sag_db: float = 0.0
    sag_cents: float = 0.0
    beat_s: float | None = None
    late_s: float = 0.0
    dynamic: str | None = None
    natural: bool = False

    @property
    def hz(self) -> float:
        return 440.0 * 2.0 ** ((self.midi - 69.0) / 12.0)

    @property
    def joined(self) -> bool:
        return self.join != "tongued"


@dataclass(frozen=True, slots=True)
class Colour:
    """What is done to the harmonics of a phrase: dB on harmonic k (1 first), or by the pitch."""

    harmonics_db: tuple[float, ...] = ()
    mute: bool = False
    wander_cents: float = 1.5
    runs_apart_cents: float = 0.0
    breath_db: float = -50.0
    instrument: str = "tenor trombone"


@lru_cache(maxsize=4)
def spectra(instrument: str) -> tuple[Floats, Floats]:
    """Pitches (n,) and levels in dB (n, 40) of the recorded notes of an instrument, by pitch."""
    with (HERE / "spectra.csv").open(encoding="utf-8") as table:
        rows = [row for row in csv.DictReader(table) if row["instrument"] == instrument]
    rows.sort(key=lambda row: float(row["f0_hz"]))
    levels = np.full((len(rows), 40), -75.0)
    for number, row in enumerate(rows):
        found = [float(one) for one in row["levels_db"].split()]
        levels[number, : len(found)] = found
    return np.array([float(row["f0_hz"]) for row in rows]), levels


def amplitudes(play: Play, rng: np.random.Generator, colour: Colour) -> Floats:
    """Linear levels (40,) of a note's harmonics for a tone of power 1."""
    f0_hz, table = spectra(colour.instrument)
    far = np.abs(12.0 * np.log2(f0_hz / play.hz))
    near = np.flatnonzero(far <= far.min() + 3.0)
    levels = table[rng.choice(near)].copy()
    number = np.arange(1, len(levels) + 1)
    # Louder is brighter, about 1 dB per octave above 500 Hz for each 3 dB.
    octaves = np.maximum(np.log2(number * play.hz / 500.0), 0.0)
    levels += octaves * (play.level_db + 20.0) / 3.0
    levels[: len(colour.harmonics_db)] += colour.harmonics_db
    if colour.mute:
        # A straight mute passes little below about 1 kHz and rings near 1.8 kHz (own rough curve).
        hz = number * play.hz
        levels += 10.0 * np.log10(1.0 / (1.0 + (900.0 / hz) ** 4))
        levels += 8.0 * np.exp(-((np.log2(hz / 1800.0) / 0.5) ** 2))
    linear = 10.0 ** (levels / 20.0)
    linear[number * play.hz > 0.4 * RATE_HZ] = 0.0
    return np.asarray(linear / np.sqrt(np.sum(linear**2) / 2.0))


def breaths(plays: list[Play]) -> list[list[Play]]:
    """The phrase in runs of notes that join."""
    found: list[list[Play]] = []
    for play in plays:
        if play.joined and found:
            found[-1].append(play)
        else:
            found.append([play])
    return found


def tones(
    plays: list[Play], length_s: float, rng: np.random.Generator, colour: Colour | None = None
) -> Floats:
    """The phrase from harmonics, shape (n,)."""
    colour = colour or Colour()
    mix = np.zeros(round(length_s * RATE_HZ))
    for breath in breaths(plays):
        first_s = breath[0].onset_s - breath[0].rise_s
        last_s = breath[-1].onset_s + breath[-1].length_s + breath[-1].fall_s
        time_s = np.arange(round(first_s * RATE_HZ), round(last_s * RATE_HZ)) / RATE_HZ
        wave = _breath(breath, time_s, rng, colour)
        start = round(first_s * RATE_HZ)
        skip = max(0, -start)
        wave = wave[skip : skip + len(mix) - max(0, start)]
        mix[max(0, start) : max(0, start) + len(wave)] += wave
    return mix


def _smooth(x: Floats) -> Floats:
    """Raised cosine from 0 to 1 over x from 0 to 1."""
    found = (x >= 1.0).astype(np.float64)
    moving = (x > 0.0) & (x < 1.0)
    found[moving] = 0.5 - 0.5 * np.cos(np.pi * x[moving])
    return found


def _way(play: Play, time_s: Floats) -> Floats:
    """How far the step from the note before has been gone at each time, 0 to 1."""
    whole_s = play.transit_s / _TENTHS if play.join in ("slurred", "smeared") else 0.004
    return _smooth((time_s - play.onset_s) / whole_s + 0.5)


def _along(play: Play, time_s: Floats) -> Floats:
    """How far through a note each time is, 0 to 1."""
    return np.clip((time_s - play.onset_s) / play.length_s, 0.0, 1.0)


def _cents(breath: list[Play], time_s: Floats) -> Floats:
    """Cents above A4 along a breath."""
    found = np.zeros(len(time_s))
    for number, play in enumerate(breath):
        own = 100.0 * (play.midi - 69.0) + play.sag_cents * (0.5 - _along(play, time_s))
        after = np.maximum(time_s - play.onset_s, 0.0)
        if play.vibrato_cents:
            turn = 2.0 * np.pi * play.vibrato_hz * after + play.vibrato_phase
            own = own + play.vibrato_cents * np.sin(turn)
        if play.scoop_cents:
            own = own + play.scoop_cents * (1.0 - _smooth(after / play.scoop_s))
        way = _way(play, time_s) if number else 1.0
        found = found + way * (own - found)
    return found


def _dip_db(play: Play, time_s: Floats) -> Floats:
    """How far the dip before a joined note takes the level down at each time."""
    if not play.joined or not play.dip_db:
        return np.zeros(len(time_s))
    middle_s = play.onset_s - (0.5 * play.dip_s if play.join == "retongued" else 0.0)
    off = (time_s - middle_s) / (2.0 * play.dip_s)
    return np.asarray(play.dip_db * (1.0 - _smooth(2.0 * np.abs(off))))


def _level(breath: list[Play], time_s: Floats) -> Floats:
    """Linear RMS level along a breath, its ends left out."""
    db = np.zeros(len(time_s))
    for number, play in enumerate(breath):
        own = play.level_db - play.sag_db * _along(play, time_s)
        db = db + (_way(play, time_s) if number else 1.0) * (own - db)
        db = db - _dip_db(play, time_s)
    return np.asarray(10.0 ** (db / 20.0))


def _ends(breath: list[Play], time_s: Floats) -> Floats:
    """The rise and fall of a breath, 0 to 1; half at the first onset and the last offset."""
    first, last = breath[0], breath[-1]
    rise = _smooth((time_s - first.onset_s) / first.rise_s + 0.5)
    fall = _smooth((last.onset_s + last.length_s - time_s) / last.fall_s + 0.5)
    return rise * fall


def _breath(breath: list[Play], time_s: Floats, rng: np.random.Generator, colour: Colour) -> Floats:
    cents = _cents(breath, time_s)
    for play in breath:
        inside = slice(*np.searchsorted(time_s, (play.onset_s, play.onset_s + play.length_s)))
        cents[inside] += _wander(time_s[inside], rng, colour.wander_cents)
    hz = 440.0 * 2.0 ** (cents / 1200.0)
    turn = 2.0 * np.pi * np.cumsum(hz) / RATE_HZ
    ends, level = _ends(breath, time_s), _level(breath, time_s)
    table = np.array([amplitudes(play, rng, colour) for play in breath])
    table[:, np.arange(1, table.shape[1] + 1) * float(hz.max()) > 0.45 * RATE_HZ] = 0.0
    phases = rng.uniform(0.0, 2.0 * np.pi, table.shape[1])
    apart = rng.uniform(-1.0, 1.0, table.shape[1]) * colour.runs_apart_cents
    shares = _shares(breath, time_s)
    wave = np.empty(len(time_s))
    for first in range(0, len(wave), _BLOCK):
        block = slice(first, first + _BLOCK)
        here = np.flatnonzero(shares[:, block].any(axis=1))
        levels = np.einsum("nk,nt->kt", table[here], shares[here, block])
        levels /= np.sqrt(0.5 * np.sum(levels**2, axis=0))  # colours blend, the power stays
        wave[block] = _sum(levels, turn[block], ends[block], phases, apart)
    wave += 10.0 ** (colour.breath_db / 20.0) * rng.standard_normal(len(time_s))
    return np.asarray(wave * ends * level)


def _sum(levels: Floats, turn: Floats, ends: Floats, phases: Floats, apart: Floats) -> Floats:
    """Harmonics of ``levels`` (k, n) added up; the higher ones follow the ends more."""
    once = np.exp(1j * turn)
    turned = np.ones(len(turn), np.complex128)
    moving = bool(ends.min() < 0.999)
    more, following = ends**0.08, np.ones(len(turn))
    wave = np.zeros(len(turn))
    for k, level in enumerate(levels):
        turned *= once
        if k and moving:
            following *= more
        if level.max() < 1e-4:
            continue
        if k and moving:
            level = level * following
        if k and apart[k]:
            wave += level * np.cos((k + 1) * 2.0 ** (apart[k] / 1200.0) * turn + phases[k])
        else:
            wave += level * (turned.real * np.cos(phases[k]) - turned.imag * np.sin(phases[k]))
    return wave


def _shares(breath: list[Play], time_s: Floats) -> Floats:
    """How much of each note's colour sounds at each time, shape (notes, times)."""
    shares = np.ones((len(breath), len(time_s)))
    for number, play in enumerate(breath[1:], 1):
        way = _way(play, time_s)
        shares[number] = way
        shares[:number] *= 1.0 - way
    return shares


def _wander(time_s: Floats, rng: np.random.Generator, size_cents: float) -> Floats:
    """A slow wandering of mean 0 and standard deviation ``size_cents``."""
    curve = sum(
        rng.normal() * np.sin(2.0 * np.pi * (speed * time_s + rng.random()))
        for speed in (0.4, 0.9, 1.7, 3.1)
    )
    if len(time_s) < 2 or not size_cents:
        return np.zeros(len(time_s))
    curve = np.asarray(curve) - np.mean(curve)
    return np.asarray(size_cents * curve / max(float(np.std(curve)), 1e-9))


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """A recorded note: its samples at `RATE_HZ`, its pitch, and where it begins.

    ``onset_s`` is where the envelope passes a fifth of its height, ``attack_s`` the time from a
    tenth to a half: where that is short, any sensible onset is within 50 ms of this one.
    """

    name: str
    instrument: str
    samples: Floats
    hz: float
    onset_s: float
    attack_s: float
    steady_s: tuple[float, float]
    level: float

    @property
    def midi(self) -> float:
        return float(69.0 + 12.0 * np.log2(self.hz / 440.0))


def _envelope(samples: Floats) -> Floats:
    """RMS over 10 ms at each millisecond."""
    step, width = RATE_HZ // 1000, RATE_HZ // 100
    energy = np.concatenate(([0.0], np.cumsum(samples**2)))
    at = np.arange(0, len(samples) - width, step)
    return np.asarray(np.sqrt((energy[at + width] - energy[at]) / width))


@lru_cache(maxsize=1)
def recordings() -> tuple[Recording, ...]:
    """The recorded notes on whose pitch outside trackers agree, by pitch."""
    found = []
    table = (RECORDED / "index.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(table.splitlines()):
        if not row["agreed_hz"]:
            continue
        samples, rate_hz = soundfile.read(RECORDED / row["file"], always_2d=True)
        samples = samples.mean(axis=1)
        if rate_hz != RATE_HZ:
            continue
        level = _envelope(samples)
        early = float(np.median(level[: min(len(level), 600)]))
        loud = float(np.percentile(level[: min(len(level), 1000)], 80))
        tenth_s, onset_s, half_s = (
            float(np.flatnonzero(level >= share * loud)[0] + 5) / 1000.0
            for share in (0.1, 0.2, 0.5)
        )
        alive = np.flatnonzero(level >= 0.3 * max(loud, early))
        end_s = float(alive[-1]) / 1000.0
        start_s = min(half_s + 0.15, 0.3 * end_s + 0.7 * half_s)
        found.append(
            Recording(
                Path(row["file"]).name,
                row["instrument"],
                samples,
                float(row["agreed_hz"]),
                onset_s,
                half_s - tenth_s,
                (start_s, max(start_s + 0.05, end_s - 0.15)),
                float(np.sqrt(np.mean(samples[round(start_s * RATE_HZ) :][:RATE_HZ] ** 2))),
            )
        )
    return tuple(sorted(found, key=lambda one: one.hz))


def nearest(play: Play, rng: np.random.Generator, instrument: str) -> Recording:
    """A recording of the instrument that is near a note and lasts, one of the nearest at random."""
    fit = [one for one in recordings() if instrument in one.instrument]
    fit = [one for one in fit if one.steady_s[1] - one.steady_s[0] >= _LASTS_S] or fit
    if play.natural and not play.joined:
        fit = [one for one in fit if one.attack_s <= _QUICK_ATTACK_S] or fit
    midi = play.midi
    far = np.array([abs(one.midi - midi) for one in fit])
    return fit[int(rng.choice(np.flatnonzero(far <= far.min() + 1.0)))]


def recorded(
    plays: list[Play], length_s: float, rng: np.random.Generator, instrument: str = "trombone"
) -> Floats:
    """The phrase from recorded notes, shape (n,)."""
    mix = np.zeros(round(length_s * RATE_HZ))
    for breath in breaths(plays):
        source = None
        for number, play in enumerate(breath):
            goes_on = play.join == "retongued" and source is not None
            if not goes_on:
                source = nearest(play, rng, instrument)
                read_s = play.onset_s
            assert source is not None
            wave, start = _read(breath, number, source, read_s)
            skip = max(0, -start)
            inside = wave[skip : skip + max(0, len(mix) - start - skip)]
            mix[start + skip : start + skip + len(inside)] += inside
    return mix


def _read(breath: list[Play], number: int, source: Recording, begun_s: float) -> tuple[Floats, int]:
    """One note of a breath out of a recording, with its first sample's place in the take."""
    play = breath[number]
    after = breath[number + 1] if number + 1 < len(breath) else None
    end_s = play.onset_s + play.length_s
    first_s = play.onset_s - (play.transit_s if play.joined else max(play.rise_s, _TRIMMED_S))
    last_s = end_s + (after.transit_s if after else play.fall_s)
    time_s = np.arange(round(first_s * RATE_HZ), round(last_s * RATE_HZ)) / RATE_HZ
    alone = [Play(**{**_fields(play), "join": "tongued"})]
    cents = _cents(alone, time_s) - 1200.0 * np.log2(source.hz / 440.0)
    ratio = 2.0 ** (cents / 1200.0)
    place = np.cumsum(ratio) / RATE_HZ
    natural = play.natural and not play.joined
    place += (source.onset_s if natural else source.steady_s[0]) - np.interp(
        begun_s, time_s, place, left=float(place[0] - (time_s[0] - begun_s) * ratio[0])
    )
    place = _looped(place, source, natural)
    wave = np.interp(place * RATE_HZ, np.arange(len(source.samples)), source.samples)
    wave *= _level(alone, time_s) / source.level
    wave *= 10.0 ** (-_dip_db(play, time_s) / 20.0)
    if after is not None:
        wave *= 10.0 ** (-_dip_db(after, time_s) / 20.0)
        wave *= np.sqrt(1.0 - _way(after, time_s))
    else:
        wave *= _smooth((end_s - time_s) / play.fall_s + 0.5)
    if play.joined:
        wave *= np.sqrt(_way(play, time_s))
    elif not natural:
        wave *= _smooth((time_s - play.onset_s) / play.rise_s + 0.5)
    return wave, round(first_s * RATE_HZ)


def _fields(play: Play) -> dict[str, object]:
    return {name: getattr(play, name) for name in Play.__dataclass_fields__}


def _looped(place: Floats, source: Recording, natural: bool) -> Floats:
    """Places in a recording, going back and forth in its steady part when it is too short."""
    low, high = source.steady_s
    span = high - low
    over = place > high
    back = np.mod(place - high, 2.0 * span)
    turned = np.where(back < span, high - back, low + back - span)
    place = np.where(over, turned, place)
    return np.maximum(place, 0.0 if natural else low - min(0.1, 0.5 * low))


def truth(plays: list[Play], exact: bool) -> tuple[TrueNote, ...]:
    """What is known of a phrase as it sounds."""
    found = []
    for number, play in enumerate(plays):
        slurred = play.join in ("slurred", "smeared")
        end_s = play.onset_s + play.length_s
        if number + 1 < len(plays) and plays[number + 1].joined:
            end_s = plays[number + 1].onset_s
        found.append(
            TrueNote(
                onset_s=play.onset_s,
                offset_s=end_s,
                hz=play.hz,
                how=play.join,
                exact=exact,
                level_db=play.level_db,
                vibrato_hz=play.vibrato_hz or None,
                vibrato_cents=play.vibrato_cents or None,
                transit_s=play.transit_s if slurred and exact else None,
                dip_db=play.dip_db if play.joined else None,
                beat_s=play.beat_s,
                late_s=play.late_s,
                dynamic=play.dynamic,
                scoop_cents=play.scoop_cents,
                sag_cents=play.sag_cents,
                sag_db=play.sag_db,
            )
        )
    return tuple(found)
