"""Where notes begin and end in a track, and what else sounded.

Conventions: a piece is a run of frames, ``first`` to before ``stop``. Levels in dB re full scale,
pitches in cents above an arbitrary fixed pitch.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.sound.track import Samples, Track

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MAINS_HZ = (50.0, 60.0)
# White noise in a frame reaches a clarity of 0.25; a tone 3 dB above noise has 0.65.
_VOICED = 0.6
_VOICED_ON = 0.45  # a voiced run goes on at this
_QUIETEST_DB = -75.0
_BELOW_LOUDEST_DB = 45.0
_ABOVE_FLOOR_DB = 6.0
_WINDOW_S = 0.016
_STEP_CENTS = 60.0
_STEP_FRAMES = 4
_DIP_DB = 4.5
_RISE_DB = 4.0
_ATTACK_DB = 6.0
_ATTACK_FRAMES = 10
_TONGUE_FRAMES = 3
_AROUND_FRAMES = 12
_CHUNK_FRAMES = 4096
SHORT_S = 0.06


@dataclass(frozen=True, slots=True)
class Piece:
    """A run of frames: ``pitched`` with one pitch, or loud without one."""

    first: int
    stop: int
    pitched: bool


def cents_of(f0_hz: Floats) -> Floats:
    """Cents above 1 Hz."""
    return 1200.0 * np.log2(f0_hz)


def envelope_db(track: Track, periods_of: Floats) -> Floats:
    """Level at each frame over a whole number of periods of at least 16 ms, shape (frames,).

    ``periods_of`` is the pitch in Hz to take the periods from; NaN means 16 ms.
    """
    pitch = np.where(np.isfinite(periods_of), periods_of, 1.0 / _WINDOW_S)
    width_s = np.ceil(_WINDOW_S * pitch) / pitch
    half = width_s * track.rate_hz / 2.0
    power = np.empty(len(pitch))
    for first in range(0, len(pitch), _CHUNK_FRAMES):
        frames = np.arange(first, min(first + _CHUNK_FRAMES, len(pitch)))
        power[frames] = _power(track.samples, frames * track.hop, half[frames])
    return 10.0 * np.log10(np.maximum(power, 1e-12))


def _power(samples: Samples, middle: NDArray[np.int64], half: Floats) -> Floats:
    """Mean square of the samples from ``middle`` - ``half`` to ``middle`` + ``half``."""
    begin = np.clip(np.rint(middle - half), 0, len(samples)).astype(int)
    end = np.clip(np.rint(middle + half), 0, len(samples)).astype(int)
    low = int(begin.min())
    squares = samples[low : int(end.max())].astype(np.float64) ** 2
    energy = np.concatenate(([0.0], np.cumsum(squares)))
    power: Floats = (energy[end - low] - energy[begin - low]) / np.maximum(2.0 * half, 1.0)
    return power


def is_mains(f0_hz: Floats) -> Flags:
    """Whether a pitch is that of mains hum or its octave, within 0.4 %."""
    near = [np.abs(f0_hz / (k * hz) - 1.0) < 0.004 for hz in MAINS_HZ for k in (1, 2)]
    any_near: NDArray[np.bool_] = np.logical_or.reduce(near)
    return any_near


def gate_db(track: Track, level: Floats) -> float:
    """The level below which nothing is a note.

    45 dB below the loudest, or 6 dB above what sounds between the notes: frames without a pitch or
    with that of mains hum.
    """
    if not len(level):
        return _QUIETEST_DB
    between = (track.clarity < _VOICED_ON) | is_mains(track.f0_hz)
    pitched = level[track.clarity >= _VOICED]
    top = float(np.percentile(pitched if len(pitched) else level, 95))
    gate = max(_QUIETEST_DB, top - _BELOW_LOUDEST_DB)
    floor = level[between & (level > _QUIETEST_DB)]
    if len(floor) >= _AROUND_FRAMES:
        quiet = float(np.percentile(floor, 30))
        if top > quiet + _ABOVE_FLOOR_DB:
            gate = max(gate, min(quiet + _ABOVE_FLOOR_DB, (quiet + top) / 2.0))
    return gate


def pieces_of(track: Track, level: Floats, gate: float) -> tuple[Piece, ...]:
    """All pieces of a take, in order."""
    loud = level >= gate
    pitch = np.isfinite(track.f0_hz) & loud
    sure = pitch & (track.clarity >= _VOICED)
    voiced = pitch & (track.clarity >= _VOICED_ON)
    found = []
    pitched = np.zeros(len(level), dtype=bool)
    for first, stop in runs(voiced):
        if not sure[first:stop].any():
            continue
        pitched[first:stop] = True
        cuts = [first + cut for cut in dips(level[first:stop])]
        for begin, end in zip((first, *cuts), (*cuts, stop)):
            found += [Piece(a, b, True) for a, b in steps(cents_of(track.f0_hz), begin, end)]
    found += [Piece(first, stop, False) for first, stop in runs(loud & ~pitched)]
    return tuple(sorted(found, key=lambda piece: piece.first))


def runs(flags: Flags) -> list[tuple[int, int]]:
    """Runs of true entries as (first, stop)."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist()))


def dips(level: Floats) -> list[int]:
    """Frames at which a tone is tongued anew: the level dips and comes back at once.

    A swell or a vibrato of the level comes back more slowly than 4 dB in 30 ms. A rise by 6 dB in
    that time needs no dip before it: that is a new note over one that dies away.
    """
    cuts: list[int] = []
    if len(level) < 5:
        return cuts
    lowest = np.lib.stride_tricks.sliding_window_view(level, 5).min(axis=1)
    for index in (np.flatnonzero(level[2:-2] <= lowest) + 2).tolist():
        before = level[max(0, index - _AROUND_FRAMES) : index].max() - level[index]
        after = level[index : index + _AROUND_FRAMES].max() - level[index]
        soon = level[index : index + _TONGUE_FRAMES + 1].max() - level[index]
        anew = soon >= _ATTACK_DB and index >= _ATTACK_FRAMES
        if not anew and (min(before, after) < _DIP_DB or soon < _RISE_DB):
            continue
        if not cuts or index - cuts[-1] > 4:
            cuts.append(index)
    return cuts


def steps(cents: Floats, first: int, stop: int) -> list[tuple[int, int]]:
    """Split a run where the pitch steps and stays: by more than 60 cents, for 40 ms or more.

    Vibrato returns sooner or stays within 60 cents of the note's middle.
    """
    begin, found = first, []
    middle = float(np.median(cents[first : min(stop, first + _STEP_FRAMES)]))
    index = first
    while index < stop:
        if abs(cents[index] - middle) > _STEP_CENTS:
            ahead = cents[index : index + _STEP_FRAMES]
            away = np.abs(ahead - middle) > _STEP_CENTS
            together = np.ptp(ahead) < 2 * _STEP_CENTS
            if len(ahead) == _STEP_FRAMES and away.all() and together:
                found.append((begin, index))
                begin, middle = index, float(np.median(ahead))
        elif index - begin >= _STEP_FRAMES and (index - begin) % _STEP_FRAMES == 0:
            middle = float(np.median(cents[begin : index + 1][-60:]))
        index += 1
    found.append((begin, stop))
    return [(a, b) for a, b in found if b > a]
