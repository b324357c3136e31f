"""Where notes begin and end in a track, and what else sounded.

Conventions: a piece is a run of frames, ``first`` to before ``stop``. Levels in dB re full scale,
pitches in cents above an arbitrary fixed pitch.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from statistics import median

import numpy as np
from numpy.typing import NDArray

from handslide.sound.octaves import lower_share
from handslide.sound.track import FRAME_S, HOP_S, Samples, Track

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MAINS_HZ = (50.0, 60.0)
ABOVE_HUM_HZ, HUM_SHARE = 350.0, 0.05  # a horn has its strength above, hum less than that share
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
_CHUNK_FRAMES, _HUM_CHUNK_FRAMES = 4096, 256
_SOFT_DIP_DB = 1.2
_SOFT_EVIDENCE = 3.6
_TURN_FRAMES = 4
_SOFT_FRAMES = 5
_WIDE_CENTS = 20.0
_ROUGH_FRAMES = 5
_ROUGH_REACH = 75
_ROUGH_EVERY = 10
_VIBRATO_HZ = (3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 6.75, 7.5, 8.5)
_VIBRATO_CYCLES = 2.0
_VIBRATO_SHARE = 0.88
_VIBRATO_CENTS = (20.0, 140.0)
_RESTLESS = 0.45
_SAME_CENTS = 45.0
_SLIP_FRAMES = 12
_DOUBLED_FRAMES, _DOUBLED_SHARE = 40, 1.0 / 16.0
_LOWEST_CENTS = 5800.0  # of 1 Hz: 28.5 Hz, below the lowest pedals
_CLEAR = 0.8
SHORT_S = 0.06


@dataclass(frozen=True, slots=True)
class Piece:
    """A run of frames: ``pitched`` with one pitch, or loud without one.

    ``tongued``: it begins after silence or with a dip of the level, not with a step of the pitch.
    """

    first: int
    stop: int
    pitched: bool
    tongued: bool = True


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


def hum_frames(track: Track) -> Flags:
    """Which frames are mains hum by themselves: its pitch, and hardly anything above 350 Hz.

    A note at that pitch has its strength there.
    """
    found = is_mains(track.f0_hz)
    half = round(FRAME_S * track.rate_hz) // 2
    high = np.fft.rfftfreq(2 * half, 1.0 / track.rate_hz) > ABOVE_HUM_HZ
    for first, stop in runs(found):
        for begin in range(first, stop, _HUM_CHUNK_FRAMES):
            frames = np.arange(begin, min(stop, begin + _HUM_CHUNK_FRAMES))
            place = frames[:, None] * track.hop + np.arange(-half, half)
            samples = track.samples[np.clip(place, 0, len(track.samples) - 1)]
            power = np.abs(np.fft.rfft(samples * np.hanning(2 * half), axis=1)) ** 2
            share = power[:, high].sum(axis=1) / np.maximum(power.sum(axis=1), 1e-30)
            found[frames] = share < HUM_SHARE
    return found


def gate_db(track: Track, level: Floats) -> float:
    """The level below which nothing is a note.

    45 dB below the loudest, or 6 dB above what sounds between the notes: frames without a pitch or
    of mains hum.
    """
    if not len(level):
        return _QUIETEST_DB
    between = (track.clarity < _VOICED_ON) | hum_frames(track)
    gate = _lowest_db(track, level)
    top = gate + _BELOW_LOUDEST_DB
    floor = level[between & (level > _QUIETEST_DB)]
    if len(floor) >= _AROUND_FRAMES:
        quiet = float(np.percentile(floor, 30))
        if top > quiet + _ABOVE_FLOOR_DB:
            gate = max(gate, min(quiet + _ABOVE_FLOOR_DB, (quiet + top) / 2.0))
    return gate


def _lowest_db(track: Track, level: Floats) -> float:
    """45 dB below the loudest."""
    pitched = level[track.clarity >= _VOICED]
    top = float(np.percentile(pitched if len(pitched) else level, 95))
    return max(_QUIETEST_DB, top - _BELOW_LOUDEST_DB)


def pieces_of(track: Track, level: Floats, gate: float) -> tuple[Piece, ...]:
    """All pieces of a take, in order."""
    # What is clear above the noise is heard though it is no louder.
    clear = (track.clarity >= _CLEAR) & ~hum_frames(track)
    loud = (level >= gate) | (clear & (level >= _lowest_db(track, level)))
    pitch = np.isfinite(track.f0_hz) & loud
    sure = pitch & (track.clarity >= _VOICED)
    voiced = pitch & (track.clarity >= _VOICED_ON)
    cents = cents_of(track.f0_hz)
    found = []
    pitched = np.zeros(len(level), dtype=bool)
    for first, stop in runs(voiced):
        if not sure[first:stop].any():
            continue
        pitched[first:stop] = True
        straight = without_vibrato(cents[first:stop])
        waves = np.abs(cents[first:stop] - straight)
        cuts = [first + cut for cut in dips(level[first:stop], cents[first:stop], waves)]
        for begin, end in zip((first, *cuts), (*cuts, stop)):
            curve = straight[begin - first : end - first]
            found += [
                Piece(begin + a, begin + b, True, a == 0) for a, b in steps(curve, 0, end - begin)
            ]
    found += [Piece(first, stop, False) for first, stop in runs(loud & ~pitched)]
    return tuple(sorted(found, key=lambda piece: piece.first))


def runs(flags: Flags) -> list[tuple[int, int]]:
    """Runs of true entries as (first, stop)."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist()))


def dips(level: Floats, cents: Floats | None = None, waves: Floats | None = None) -> list[int]:
    """Frames at which a tone is tongued anew: the level dips and comes back at once.

    A swell or a vibrato of the level comes back more slowly than 4 dB in 30 ms. A rise by 6 dB in
    that time needs no dip before it: that is a new note over one that dies away. A lesser dip is
    a soft tongue where level and pitch are smooth otherwise; ``cents`` (n,) is the pitch, ``waves``
    (n,) how far a vibrato takes it from the middle.
    """
    cuts: list[int] = []
    if len(level) < 5:
        return cuts
    rough = roughness(level)
    lowest = np.lib.stride_tricks.sliding_window_view(level, 5).min(axis=1)
    for index in (np.flatnonzero(level[2:-2] <= lowest) + 2).tolist():
        before = level[max(0, index - _AROUND_FRAMES) : index].max() - level[index]
        after = level[index : index + _AROUND_FRAMES].max() - level[index]
        soon = level[index : index + _TONGUE_FRAMES + 1].max() - level[index]
        anew = soon >= _ATTACK_DB and index >= _ATTACK_FRAMES
        tongued = min(before, after) >= _DIP_DB and soon >= _RISE_DB
        if not (anew or tongued):
            near = slice(max(0, index - 2 * _SOFT_FRAMES), index + 2 * _SOFT_FRAMES)
            wavers = waves is not None and waves[near].max() > _WIDE_CENTS
            if wavers or not _soft_tongue(level, cents, index, float(rough[index])):
                continue
        if not cuts or index - cuts[-1] > 4:
            cuts.append(index)
    return cuts


def _soft_tongue(level: Floats, cents: Floats | None, index: int, rough: float) -> bool:
    """Whether a small dip is a tongue: its depth against what level and pitch do otherwise.

    A logistic regression of three measures, fitted to 91 soft tongues and 229 dips that are none in
    takes of known truth and recorded single notes.
    """
    low, high = max(0, index - _SOFT_FRAMES), index + _SOFT_FRAMES + 1
    dip = float(min(level[low:index].max(), level[index + 1 : high].max()) - level[index])
    if dip < _SOFT_DIP_DB:
        return False
    turn = 0.0
    if cents is not None:
        first, last = max(0, index - _TURN_FRAMES), min(len(cents) - 1, index + _TURN_FRAMES)
        turn = float(abs(cents[last] - cents[first]))
        turn += 0.5 * float(abs(cents[index] - 0.5 * (cents[last] + cents[first])))
    evidence = 4.2 * np.log(dip) - 1.1 * np.log(rough + 0.05) - 1.3 * np.log1p(turn)
    return bool(evidence > _SOFT_EVIDENCE)


def roughness(level: Floats) -> Floats:
    """How far the level typically is from the mean of what lies 50 ms before and after it, in dB.

    Median over 1.5 s around each frame, shape (n,).
    """
    ahead, behind = np.roll(level, -_ROUGH_FRAMES), np.roll(level, _ROUGH_FRAMES)
    off = np.abs(level - 0.5 * (ahead + behind))
    off[:_ROUGH_FRAMES] = off[len(off) - _ROUGH_FRAMES :] = np.median(off)
    every = np.arange(0, len(off), _ROUGH_EVERY)
    near = np.empty(len(every))
    inside = (every >= _ROUGH_REACH) & (every + _ROUGH_REACH < len(off))
    if inside.any():
        windows = np.lib.stride_tricks.sliding_window_view(off, 2 * _ROUGH_REACH + 1)
        near[inside] = np.median(windows[every[inside] - _ROUGH_REACH], axis=1)
    for k in np.flatnonzero(~inside).tolist():
        middle = every[k]
        near[k] = np.median(off[max(0, middle - _ROUGH_REACH) : middle + _ROUGH_REACH + 1])
    rough: Floats = np.interp(np.arange(len(off)), every, near)
    return rough


def without_vibrato(cents: Floats, least_cents: float = _VIBRATO_CENTS[0]) -> Floats:
    """The pitch (n,) with its vibrato taken out: what it moves about.

    In windows of two cycles a wave of 3 to 8.5 Hz is fitted beside a straight line; it is a vibrato
    where it explains nearly all that the line leaves and the pitch never rests: a trill does so on
    its two notes. Each frame takes the wave of the best window that holds it, so that a vibrato is
    known from its first cycle and next to another note (as M. Kuwahara's filter for edges, 1976,
    does in two dimensions; from memory). What moves by less than ``least_cents`` each way stays.
    """
    left = np.full(len(cents), np.inf)
    wave = np.zeros(len(cents))
    for speed in _VIBRATO_HZ:
        count = round(_VIBRATO_CYCLES / speed / HOP_S)
        if count > len(cents):
            continue
        _take_out(cents, speed, count, left, wave, least_cents)
    return cents - wave


def _take_out(
    cents: Floats, speed: float, count: int, left: Floats, wave: Floats, least_cents: float
) -> None:
    """Fit one speed in all windows of ``count`` frames; better fits replace what is there."""
    line, waves = _bases(speed, count)
    windows = np.lib.stride_tricks.sliding_window_view(cents, count)
    rest = windows - (windows @ line) @ line.T
    size = rest @ waves
    total = np.einsum("ij,ij->i", rest, rest)
    explained = np.einsum("ij,ij->i", size, size)
    extent = np.sqrt(2.0 * explained / count)
    good = explained > _VIBRATO_SHARE * total
    good &= (extent > least_cents) & (extent < _VIBRATO_CENTS[1])
    if not good.any():
        return
    # A sine moves at 0.7 of its highest speed for half of the time; a trill rests.
    moves = np.lib.stride_tricks.sliding_window_view(np.abs(np.diff(cents)), count - 1)[good]
    half, most = np.percentile(moves, (50, 90), axis=1)
    good[good] = half >= _RESTLESS * most
    error = np.full(len(cents) + count - 1, np.inf)  # of the window that ends with each frame
    error[count - 1 : len(cents)][good] = (total - explained)[good] / (count * extent[good] ** 2)
    holding = np.lib.stride_tricks.sliding_window_view(error, count)
    best = np.argmin(holding, axis=1)
    frame = np.arange(len(cents))
    least = holding[frame, best]
    frame = np.flatnonzero(left > least)
    first = frame + best[frame] - count + 1
    wave[frame] = np.einsum("ij,ij->i", waves[frame - first], size[first])
    left[frame] = least[frame]


@cache
def _bases(speed: float, count: int) -> tuple[Floats, Floats]:
    """Orthonormal columns of a straight line and of a wave beside it, each (count, 2)."""
    time = np.arange(count) - (count - 1) / 2
    angle = 2.0 * np.pi * speed * HOP_S * time
    line = np.linalg.qr(np.vander(time / count, 2))[0]
    waves = np.stack((np.cos(angle), np.sin(angle)), axis=1)
    return line, np.linalg.qr(waves - line @ (line.T @ waves))[0]


def steps(cents: Floats, first: int, stop: int) -> list[tuple[int, int]]:
    """Split a run where the pitch steps and stays: by more than 60 cents, for 40 ms or more.

    Vibrato returns sooner or stays within 60 cents of the note's middle.
    """
    curve = cents.tolist()
    begin, found = first, []
    middle = median(curve[first : min(stop, first + _STEP_FRAMES)])
    index = first
    while index < stop:
        if abs(curve[index] - middle) > _STEP_CENTS:
            ahead = curve[index : index + _STEP_FRAMES]
            away = all(abs(one - middle) > _STEP_CENTS for one in ahead)
            together = max(ahead) - min(ahead) < 2 * _STEP_CENTS
            if len(ahead) == _STEP_FRAMES and away and together:
                found.append((begin, index))
                begin, middle = index, median(ahead)
        elif index - begin >= _STEP_FRAMES and (index - begin) % _STEP_FRAMES == 0:
            middle = median(curve[max(begin, index - 59) : index + 1])
        index += 1
    found.append((begin, stop))
    return [(a, b) for a, b in found if b > a]


def joined(pieces: Sequence[Piece], track: Track) -> tuple[Piece, ...]:
    """Pieces of one pitch (once it is in its octave) that no tongue parts, as one."""
    cents = cents_of(track.f0_hz)
    found: list[Piece] = []
    for piece in pieces:
        before = found[-1] if found else None
        if (
            before is not None
            and before.pitched
            and piece.pitched
            and not piece.tongued
            and before.stop == piece.first
            and (_alike(before, piece, cents) or _doubled(before, piece, cents, track))
        ):
            found[-1] = replace(before, stop=piece.stop)
        else:
            found.append(piece)
    return tuple(found)


def _alike(one: Piece, other: Piece, cents: Floats) -> bool:
    """Whether two pieces have one pitch, or the shorter one a slip of the track to a multiple."""
    apart = abs(_middle(one, cents) - _middle(other, cents))
    if apart < _SAME_CENTS:
        return True
    shorter = min(one, other, key=lambda piece: piece.stop - piece.first)
    unplayed = _middle(shorter, cents) < _LOWEST_CENTS
    if shorter.stop - shorter.first > _SLIP_FRAMES * (1 + unplayed):
        return False
    times = max(2.0, float(np.rint(2.0 ** (apart / 1200.0))))
    return abs(apart - 1200.0 * float(np.log2(times))) < _SAME_CENTS


def _doubled(one: Piece, other: Piece, cents: Floats, track: Track) -> bool:
    """Whether a brief piece is the other with every second period a little different.

    Lips do so for a moment, at a release above all: it is the octave below, yet hardly a trace of
    its own harmonics sounds. Of a note that is slurred there, at least a sixteenth of the power is.
    """
    upper, lower = sorted((one, other), key=lambda piece: -_middle(piece, cents))
    apart = _middle(upper, cents) - _middle(lower, cents)
    if lower.stop - lower.first > _DOUBLED_FRAMES or abs(apart - 1200.0) > _SAME_CENTS:
        return False
    samples = track.samples[lower.first * track.hop : lower.stop * track.hop].astype(np.float64)
    f0_hz = 2.0 * float(2.0 ** (_middle(lower, cents) / 1200.0))
    return lower_share(samples, track.rate_hz, f0_hz) < _DOUBLED_SHARE


def _middle(piece: Piece, cents: Floats) -> float:
    return float(np.median(cents[piece.first : piece.stop]))
