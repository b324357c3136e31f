"""From the pieces of a track to measured notes: steady part, mean pitch, and what isn't a note.

Conventions: times in seconds, pitches in Hz, intervals in cents, levels in dB re full scale.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handslide.sound.refine import CENTS, Blocks, blocks_of, unlocked_cents
from handslide.sound.segments import (
    SHORT_S,
    Piece,
    cents_of,
    envelope_db,
    gate_db,
    is_mains,
    pieces_of,
)
from handslide.sound.track import Track
from handslide.sound.wander import Mean, mean_pitch

Floats = NDArray[np.float64]
Progress = Callable[[str, int, int], None]

_MEDIAN_FRAMES = 3
_FAR_CENTS = 250.0  # a frame this far from its piece's middle is a slip of the track
_LEAST_BLOCKS = 4
_LEVEL_DROP_DB = 20.0
_TOLERANCE_CENTS = 10.0
_MOVING_CENTS = 50.0  # over the middle three fifths of a piece
_MOVING_FIT = 0.8
_SCOOP_S = 0.15
_STRING_CENTS = 3.0  # at the 8th harmonic
_SEVERAL_CENTS = 8.0
_HUM_SPREAD_CENTS = 1.5


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Something that sounded and isn't among the notes, and why."""

    start_s: float
    end_s: float
    why: str


@dataclass(frozen=True, slots=True)
class Measured:
    """A note before it is named. ``scoop_cents`` is None where the attack can't be told."""

    start_s: float
    end_s: float
    steady_start_s: float
    steady_end_s: float
    mean: Mean
    scoop_cents: float | None
    level_db: float


def measure_pieces(
    track: Track, progress: Progress | None = None
) -> tuple[tuple[Measured, ...], tuple[LeftOut, ...]]:
    """Notes and left-out stretches of a track, each in the order of time."""
    level = envelope_db(track, track.f0_hz)
    pieces = pieces_of(track, level, gate_db(track, level))
    notes: list[Measured] = []
    left: list[LeftOut] = []
    for number, piece in enumerate(pieces):
        if progress is not None:
            progress("measuring", number, len(pieces))
        found = _measure(track, piece)
        if isinstance(found, Measured):
            notes.append(found)
        else:
            left.append(found)
    notes, left = _with_scoops(notes, left, track.hop_s)
    return tuple(notes), tuple(_merged(left, track.hop_s))


def _measure(track: Track, piece: Piece) -> Measured | LeftOut:
    start_s, end_s = piece.first * track.hop_s, piece.stop * track.hop_s
    if not piece.pitched:
        return LeftOut(start_s, end_s, "click" if end_s - start_s < SHORT_S else "noise")
    if end_s - start_s < SHORT_S:
        return LeftOut(start_s, end_s, "too short")
    path = _path(track, piece)
    begin = max(0, round((piece.first - 0.5) * track.hop))
    stop = min(len(track.samples), round((piece.stop - 0.5) * track.hop))
    middle = np.arange(piece.first, piece.stop) * track.hop
    along = np.interp(np.arange(begin, stop), middle, path)
    blocks = blocks_of(track.samples[begin:stop], track.rate_hz, along)
    if blocks is None:
        return LeftOut(start_s, end_s, "too short")
    if _moving(blocks):
        return LeftOut(start_s, end_s, "sliding")
    first, last = steady_part(blocks)
    if last - first < _LEAST_BLOCKS:
        return LeftOut(start_s, end_s, "no steady pitch")
    steady = blocks.cut(first, last)
    mean = mean_pitch(steady.time_s, steady.step_s, steady.turn, 2.0 * steady.step_s)
    why = _not_a_blown_tone(steady, mean)
    if why is not None:
        return LeftOut(start_s, end_s, why)
    offset_s = begin / track.rate_hz
    return Measured(
        start_s=start_s,
        end_s=end_s,
        steady_start_s=float(offset_s + steady.time_s[0] - steady.step_s),
        steady_end_s=float(offset_s + steady.time_s[-1] + steady.step_s),
        mean=mean,
        scoop_cents=float(CENTS * np.log(blocks.hz[0] / mean.f0_hz)) if first else 0.0,
        level_db=float(10.0 * np.log10(max(float(steady.power.mean()), 1e-12))),
    )


def _path(track: Track, piece: Piece) -> Floats:
    """The coarse pitch (frames,) of a piece, without slips."""
    cents = cents_of(track.f0_hz[piece.first : piece.stop])
    near = np.abs(cents - np.median(cents)) < _FAR_CENTS
    index = np.arange(len(cents))
    cents = np.interp(index, index[near], cents[near])
    padded = np.pad(cents, _MEDIAN_FRAMES // 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, _MEDIAN_FRAMES)
    return 2.0 ** (np.median(windows, axis=1) / 1200.0)


def _moving(blocks: Blocks) -> bool:
    """Whether the pitch goes one way all along the middle of a piece."""
    hz = blocks.hz
    margin = len(hz) // 5
    middle = cents_of(np.maximum(hz[margin : len(hz) - margin], 1.0))
    if len(middle) < 3:
        return False
    time = np.linspace(-0.5, 0.5, len(middle))
    change = float(time @ middle / (time @ time))
    total = float(np.sum((middle - middle.mean()) ** 2))
    explained = change**2 * float(time @ time) / max(total, 1e-12)
    return abs(change) > _MOVING_CENTS and explained > _MOVING_FIT


def steady_part(blocks: Blocks) -> tuple[int, int]:
    """First and stop of the blocks without attack and release.

    The longest run in which the level stays within 20 dB of the note's and the pitch within the
    band that its middle three fifths keep to, and 10 cents more.
    """
    cents = cents_of(np.maximum(blocks.hz, 1.0))
    margin = len(cents) // 5
    core = cents[margin : len(cents) - margin]
    middle = np.median(core)
    reach = float(np.percentile(np.abs(core - middle), 90)) * 1.2 + _TOLERANCE_CENTS
    quiet = 10.0 ** (-_LEVEL_DROP_DB / 10.0) * np.percentile(blocks.power, 80)
    inside = np.abs(cents - middle) <= reach
    inside &= np.minimum(blocks.power[1:], blocks.power[:-1]) >= quiet
    best = (0, 0)
    first = 0
    for index in range(len(inside) + 1):
        if index == len(inside) or not inside[index]:
            if index - first > best[1] - best[0]:
                best = (first, index)
            first = index + 1
    first, stop = best
    # The windows at the ends of a piece look beyond it; harmless where the take begins or ends.
    return first, stop + 1 if stop > first else first


def _not_a_blown_tone(steady: Blocks, mean: Mean) -> str | None:
    """Why a steady tone can't be a note of the horn; None if it can.

    A stiff string's partials run sharp, f_k = k·f0·√(1 + B·k²) (H. Fletcher, E. D. Blackham and
    R. Stratton, J. Acoust. Soc. Am. 34, 1962; from memory): about 866·B·k² cents. Those of a blown
    tone are locked.
    """
    if mean.spread_cents < _HUM_SPREAD_CENTS and is_mains(np.array([mean.f0_hz]))[0]:
        return "hum"
    number, off, se = unlocked_cents(steady, mean.f0_hz)
    if len(number) < 3:
        return None
    weight = 1.0 / (se**2 + 0.3**2)
    square = number**2 - np.sum(weight * number**2) / np.sum(weight)
    centred = off - np.sum(weight * off) / np.sum(weight)
    bend = float(np.sum(weight * square * centred) / np.sum(weight * square**2))
    bend_se = float(np.sum(weight * square**2) ** -0.5)
    if bend * 64.0 > _STRING_CENTS and bend > 6.0 * bend_se:
        return "struck string"
    scatter = float(np.sqrt(np.sum(weight * centred**2) / np.sum(weight)))
    expected = float(np.sqrt(np.sum(weight * se**2) / np.sum(weight)))
    if scatter > _SEVERAL_CENTS and scatter > 4.0 * expected:
        return "several pitches at once"
    return None


def _with_scoops(
    notes: list[Measured], left: list[LeftOut], hop_s: float
) -> tuple[list[Measured], list[LeftOut]]:
    """Give short slides and scraps at the edges of a note to it: its attack or its release."""
    kept = []
    for scrap in left:
        short = scrap.end_s - scrap.start_s <= _SCOOP_S and scrap.why in (
            "sliding", "too short", "no steady pitch", "click", "noise",
        )  # fmt: skip
        after = next((n for n in notes if abs(n.start_s - scrap.end_s) < 1.5 * hop_s), None)
        before = next((n for n in notes if abs(n.end_s - scrap.start_s) < 1.5 * hop_s), None)
        if not short or (after is None and before is None):
            kept.append(scrap)
        elif after is not None and before is None and scrap.why not in ("click", "noise"):
            notes[notes.index(after)] = replace(after, start_s=scrap.start_s)
    return notes, kept


def _merged(left: list[LeftOut], hop_s: float) -> list[LeftOut]:
    """Neighbouring stretches left out for the same reason, as one."""
    found: list[LeftOut] = []
    for row in left:
        if found and found[-1].why == row.why and row.start_s - found[-1].end_s < 2.5 * hop_s:
            found[-1] = replace(found[-1], end_s=row.end_s)
        else:
            found.append(row)
    return found
