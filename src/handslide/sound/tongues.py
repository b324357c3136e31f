"""Soft tongues on one pitch: small dips of the level that all harmonics have at once.

What a room, a microphone or a breath does to the level is different for each harmonic; a tongue
takes all of them down together. Whether a dip is one is told by a logistic regression: its depth
against how rough the level is around it, the share of harmonics that take part and how many they
are, how still the pitch is, and how long the note would be otherwise. Fitted to 146 tongues and
5,100 dips that are none, in takes of known truth (``benchmarks/hearing_takes.py``) and recorded
single notes.

Conventions: a piece is a run of frames; levels in dB, pitches in cents and Hz.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from handslide.sound.refine import turned_down
from handslide.sound.segments import Piece, cents_of, roughness, without_vibrato
from handslide.sound.track import Track

Floats = NDArray[np.float64]

_LEAST_FRAMES = 18
_EDGE_FRAMES = 12
_REACH_FRAMES = 7
_TURN_FRAMES = 4
_LEAST_DIP_DB = 0.8
_AROUND_S = 0.1
_STEP_S = 0.008
_HIGHEST_HZ = 3500.0
_HARMONICS = (3, 16)
_HIGHEST_SHARE = 0.42
_WEAKEST_DB = 30.0
_TAKES_PART = 0.4  # of the mean dip
_LEAST_BLOCKS = 8
_VIBRATO_CENTS, _VIBRATO_FRAMES = 6.0, 50
_EVIDENCE = 13.0


def tongued_anew(track: Track, piece: Piece, path_hz: Floats, level: Floats) -> Sequence[Piece]:
    """The piece, cut where it is softly tongued; ``path_hz`` and ``level`` (n,) are the piece's."""
    count = piece.stop - piece.first
    if not piece.pitched or count < _LEAST_FRAMES:
        return [piece]
    cents, rough = cents_of(path_hz), roughness(level)
    lowest = np.lib.stride_tricks.sliding_window_view(level, 5).min(axis=1)
    cuts: list[int] = []
    for index in (np.flatnonzero(level[2:-2] <= lowest) + 2).tolist():
        if index < _EDGE_FRAMES or count - index < _EDGE_FRAMES:
            continue
        before = level[index - _REACH_FRAMES : index].max()
        dip = float(min(before, level[index + 1 : index + _REACH_FRAMES + 1].max()) - level[index])
        if dip < _LEAST_DIP_DB or (cuts and index - cuts[-1] < _EDGE_FRAMES):
            continue
        first, last = max(0, index - _TURN_FRAMES), min(count - 1, index + _TURN_FRAMES)
        turn = float(abs(cents[last] - cents[first]))
        turn += 0.5 * float(abs(cents[index] - 0.5 * (cents[last] + cents[first])))
        evidence = 3.2 * np.log(dip) - 1.5 * np.log(rough[index] + 0.05) - 0.41 * np.log1p(turn)
        evidence -= 1.5 * np.log(count * track.hop_s)
        if evidence + 8.8 + 0.16 * _HARMONICS[1] < _EVIDENCE:
            continue
        share, harmonics = _together(track, piece, path_hz, index)
        told = evidence + 8.8 * share + 0.16 * harmonics > _EVIDENCE
        if told and not _vibrates(cents, index):
            cuts.append(index)
    edges = [0, *cuts, count]
    return [
        replace(piece, first=piece.first + a, stop=piece.first + b, tongued=piece.tongued or a > 0)
        for a, b in pairwise(edges)
    ]


def _vibrates(cents: Floats, index: int) -> bool:
    """Whether there is a vibrato at a frame: then the level dips with the pitch."""
    first = max(0, index - _VIBRATO_FRAMES)
    near = cents[first : index + _VIBRATO_FRAMES]
    wave = near - without_vibrato(near, _VIBRATO_CENTS)
    return bool(np.abs(wave[max(0, index - first - _EDGE_FRAMES) :][: 2 * _EDGE_FRAMES]).any())


def _together(track: Track, piece: Piece, path_hz: Floats, index: int) -> tuple[float, int]:
    """Which share of the harmonics dips at a frame, and how many they are."""
    rate_hz = track.rate_hz
    f0_hz = float(np.median(path_hz[max(0, index - 12) : index + 13]))
    hop = round(np.ceil(_STEP_S * f0_hz) * rate_hz / f0_hz)
    middle = (piece.first + index) * track.hop
    half = int(np.ceil(_AROUND_S * rate_hz / hop)) * hop
    begin = max(0, middle - half)
    used = (min(len(track.samples), middle + half) - begin) // hop * hop
    if used < _LEAST_BLOCKS * hop:
        return 0.0, 0
    frames = np.arange(piece.first, piece.stop) * track.hop
    along = np.interp(np.arange(begin, begin + used), frames, path_hz)
    high = min(float(np.clip(_HIGHEST_HZ / f0_hz, *_HARMONICS)), _HIGHEST_SHARE * rate_hz / f0_hz)
    samples = track.samples[begin : begin + used].astype(np.float64)
    turn = 2.0 * np.pi * np.cumsum(along) / rate_hz
    parts, _, _ = turned_down(samples, turn, hop, max(1, int(high)))
    levels = 20.0 * np.log10(np.abs(parts) + 1e-7)
    strength = np.median(levels, axis=1)
    levels = levels[strength > strength.max() - _WEAKEST_DB]
    mean = levels.mean(axis=0)
    at = (begin + hop * np.arange(1.0, len(mean) + 1) - middle) / rate_hz
    near = np.flatnonzero(np.abs(at) < 0.025)
    if not len(near):
        return 0.0, 0
    low = int(near[np.argmin(mean[near])])
    reach = max(2, round(_REACH_FRAMES * track.hop / hop))
    if not 0 < low < len(mean) - 1:
        return 0.0, 0
    before = max(0, low - reach) + int(np.argmax(mean[max(0, low - reach) : low]))
    after = low + 1 + int(np.argmax(mean[low + 1 : low + reach + 1]))
    if min(mean[before], mean[after]) - mean[low] < 0.3:
        return 0.0, 0
    dips = 0.5 * (levels[:, before] + levels[:, after]) - levels[:, low]
    return float(np.mean(dips > _TAKES_PART * dips.mean())), len(levels)
