"""When a note begins: where its own sound has risen to a good third of its amplitude.

A frame shows a tone half its length before it begins; in a room the note before sounds on, and a
frame shows that one until the new one is louder. So the beginning is looked for again, in levels
over a few milliseconds, after what repeats with the period of the note before was taken away:
y_i = x_i - x_(i-T), a comb filter (as in A. de Cheveigné, J. Acoust. Soc. Am. 93, 1993; from
memory). Out of a dip the middle of the rise counts, of a slide the middle of its way. Thresholds
are from takes of known truth (``benchmarks/hearing_takes.py``).

Conventions: times in seconds from the start of the take, pitches in Hz, levels in dB.
"""

from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import NDArray

from handslide.sound.finelevel import STEP_S, levels_at, whole_periods_s
from handslide.sound.track import Track

Floats = NDArray[np.float64]

_BEFORE_S, _AFTER_S = 0.22, 0.16
_LATER_S, _LATEST_S = 0.04, 0.06
_LEAST_S = 0.05
_BEFORE_LASTS_S = 0.06
_TOP_S = (0.03, 0.12)
_LEAST_TOP = 20
_TOPS_FROM_S, _TOPS_STEP_S = 0.10, 0.02
_BELOW_DB, _OWN_BELOW_DB = 10.0, 6.0
_SLACK_DB = 1.5
_LEAST_RISE_DB = 1.2  # out of a soft tongue's dip
_OWN_RISE_DB = 5.0
_FRESH_DB = 8.0
_FRESH_S = 0.06
_OTHER_CENTS = 40.0
_SLIDE_FRAMES = 3
_SLIDE = (0.15, 0.85)
_SLIDE_REACH = (20, 15)  # frames before and after
_SLIDE_S = 0.1
_TAPS = 8


@dataclass(frozen=True, slots=True)
class Earlier:
    """The note before: from ``start_s`` to ``end_s``, at ``f0_hz``."""

    start_s: float
    end_s: float
    f0_hz: float


def onset_of(
    track: Track, start_s: float, end_s: float, f0_hz: float, before: Earlier | None
) -> float:
    """When a note begins that was heard from ``start_s`` to ``end_s``; ``start_s`` if not clear."""
    first_s = max(0.0, start_s - _BEFORE_S)
    if before is not None:
        lasts_s = max(_BEFORE_LASTS_S, 0.5 * (before.end_s - before.start_s))
        first_s = max(first_s, before.start_s + lasts_s)
    last_s = min(start_s + _LATER_S, end_s - _LEAST_S)
    rate_hz, window_s = track.rate_hz, whole_periods_s(f0_hz)
    pad = round((window_s + (1.0 / before.f0_hz if before else 0.0)) * rate_hz) + _TAPS
    begin = max(0, round(first_s * rate_hz) - pad)
    stop = min(len(track.samples), round((start_s + _AFTER_S) * rate_hz) + pad)
    samples = track.samples[begin:stop].astype(np.float64)
    time_s = np.arange(first_s, min(start_s + _AFTER_S, track.length_s), STEP_S)
    middle, half = time_s * rate_hz - begin, 0.5 * window_s * rate_hz

    def risen(of: Floats, least_db: float, below_db: float) -> tuple[float, float] | None:
        found = _risen(time_s, levels_at(of, middle, half), start_s, last_s, least_db, below_db)
        latest_s = min(start_s + _LATEST_S, end_s - _LEAST_S)
        return found if found is not None and found[0] <= latest_s else None

    plain = risen(samples, _LEAST_RISE_DB, _BELOW_DB)
    if plain is not None and plain[1] >= _FRESH_DB and abs(plain[0] - start_s) < _FRESH_S:
        return plain[0]
    if before is not None and abs(1200.0 * np.log2(f0_hz / before.f0_hz)) > _OTHER_CENTS:
        slid_s = _half_way(track, start_s, before.f0_hz, f0_hz)
        if slid_s is not None and first_s <= slid_s <= last_s:
            return slid_s
        own = risen(_without(samples, rate_hz / before.f0_hz), _OWN_RISE_DB, _OWN_BELOW_DB)
        if own is not None:
            return own[0]
    return start_s if plain is None else plain[0]


def _risen(
    time_s: Floats, level: Floats, start_s: float, last_s: float, least_db: float, below_db: float
) -> tuple[float, float] | None:
    """When a level has risen for good, and by how much; None where it doesn't by ``least_db``."""
    from_s = np.arange(start_s - _TOPS_FROM_S, start_s + _LATER_S, _TOPS_STEP_S)
    begins = np.searchsorted(time_s, from_s + _TOP_S[0]).tolist()
    stops = np.searchsorted(time_s, from_s + _TOP_S[1], "right").tolist()
    levels = level.tolist()
    tops = [median(levels[a:b]) for a, b in zip(begins, stops) if b - a > _LEAST_TOP]
    near = level[time_s <= last_s]
    if not tops or not len(near):
        return None
    top, low = max(tops), float(near.min())
    if top - low < least_db:
        return None
    wanted = max(top - below_db, 0.5 * (top + low))
    under = np.flatnonzero(near < wanted - _SLACK_DB)
    first = int(under[-1]) if len(under) else int(np.argmin(near))
    over = np.flatnonzero(level[first:] >= wanted)
    if not len(over) or over[0] == 0:
        return None
    index = first + int(over[0])
    share = (wanted - level[index - 1]) / max(float(level[index] - level[index - 1]), 1e-9)
    return float(time_s[index - 1] + share * STEP_S), top - low


def _without(samples: Floats, period: float) -> Floats:
    """Samples (n,) less those a ``period`` before; zeros where those aren't known."""
    whole = int(period)
    place = np.arange(-_TAPS, _TAPS + 1)
    taps = np.sinc(place - (period - whole)) * np.hanning(2 * _TAPS + 3)[1:-1]
    late = np.convolve(samples, taps, "same")
    left = np.zeros(len(samples))
    left[whole:] = samples[whole:] - late[: len(samples) - whole]
    left[: whole + _TAPS] = 0.0
    return left


def _half_way(track: Track, start_s: float, from_hz: float, to_hz: float) -> float | None:
    """When a slide between two notes is half-way; None where the pitch leaps."""
    frame = round(start_s / track.hop_s)
    first = max(0, frame - _SLIDE_REACH[0])
    way = np.log2(track.f0_hz[first : frame + _SLIDE_REACH[1]] / from_hz) / np.log2(to_hz / from_hz)
    halves = np.flatnonzero((way[:-1] < 0.5) & (way[1:] >= 0.5))
    if not len(halves):
        return None
    index = int(halves[np.argmin(np.abs(first + halves - frame))])
    sliding = np.flatnonzero(~((way > _SLIDE[0]) & (way < _SLIDE[1])))
    before, after = sliding[sliding <= index], sliding[sliding > index]
    low = int(before[-1]) if len(before) else -1
    high = int(after[0]) if len(after) else len(way)
    if high - low - 1 < _SLIDE_FRAMES:
        return None
    at_s = (first + index + (0.5 - way[index]) / (way[index + 1] - way[index])) * track.hop_s
    return float(at_s) if abs(at_s - start_s) < _SLIDE_S else None
