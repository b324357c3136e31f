"""How notes begin: when, how quickly, and whether cleanly.

The moment of an attack is where the level first comes within 3 dB of the note's (half its power):
the middle of an even rise, which a window that lies about its moment leaves in place. That is
later than the physical onset, where the tone first rises out of what was before it, and near the
perceived one (O. Senn and others, Front. Psychol. 9:1692, 2018, seen: physical onset, rise time and
perceptual attack time; J. W. Gordon, J. Acoust. Soc. Am. 82, 1987, from memory). The rise time is
from 20 to 90 % of the amplitude: the usual fixed thresholds of the (log-)attack time of G. Peeters
and others, J. Acoust. Soc. Am. 130, 2902, 2011, and of the descriptors of MPEG-7 (seen in public
implementations of both).

Conventions: times in seconds from the start of the take, durations in ms, levels in dB.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.sound.finelevel import PITCH_STEP_S, STEP_S, FineLevel, fine_level, fine_pitch
from handslide.sound.segments import runs
from handslide.sound.track import Track

Floats = NDArray[np.float64]

ATTACKS = ("clean", "cracked", "late")
"""``cracked``: another pitch sounded first; ``late``: the tone came long after the air."""
_BEFORE_S, _AFTER_S = 0.30, 0.25
_PLATEAU_S = (0.03, 0.12)
_HALF_DB, _LOW_DB, _HIGH_DB = -6.0, -14.0, -0.9  # half, 20 and 90 % of the amplitude
_LEAST_RISE_DB = 4.0
_OUT_OF_DB = 6.0
_LATE_MS = 120.0
_CRACK_S, _CRACK_AFTER_S, _JUDGED_S = 0.008, 0.15, 0.18
_CRACK_CENTS, _OCTAVE_CENTS = 225.0, 60.0  # partials up to the 8th are 231 cents apart
_OCTAVE_S, _OCTAVE_SHARE = 0.02, 0.1
_STILL_CENTS = 4.0  # from frame to frame: a scoop moves
_OTHER = (1.55, 2.1)  # how far down and up another pitch is looked for, as a ratio


@dataclass(frozen=True, slots=True)
class Attack:
    """How a note begins.

    ``at_s`` is the moment, None where the level doesn't rise: a slur. ``rise_ms`` is from 20 to
    90 % of the amplitude, ``speak_ms`` from the first sound to the moment. ``kind`` is one of
    `ATTACKS`, None without a moment.
    """

    at_s: float | None = None
    rise_ms: float | None = None
    speak_ms: float | None = None
    kind: str | None = None


def attack_of(
    track: Track,
    start_s: float,
    end_s: float,
    f0_hz: float,
    before: tuple[float, float] | None = None,
) -> Attack:
    """The attack of a note from ``start_s`` to ``end_s``; ``before`` is the end of the note before
    in s, and its pitch in Hz: what is left of it is no crack."""
    before_s, before_hz = before or (0.0, None)
    first_s = max(start_s - _BEFORE_S, min(before_s, start_s) - 0.06)
    level = fine_level(track, first_s, min(start_s + _AFTER_S, end_s), f0_hz)
    moment = _moment(level, start_s)
    if moment is None:
        return Attack()
    at_s, top_db, low = moment
    kind = "clean"
    rise_ms = 1000.0 * (
        _crossing(level, low, top_db + _HIGH_DB) - _crossing(level, low, top_db + _LOW_DB)
    )
    speak_ms = 1000.0 * (at_s - float(level.time_s[low]))
    judged = end_s - start_s >= _JUDGED_S  # a quick note's neighbours are too near
    if judged and _cracked(track, at_s, end_s, f0_hz, max(first_s, before_s), before_hz):
        kind = "cracked"
    elif speak_ms > _LATE_MS:
        kind = "late"
    return Attack(at_s, max(rise_ms, 0.0), speak_ms, kind)


def _moment(level: FineLevel, start_s: float) -> tuple[float, float, int] | None:
    """When half the power is reached, the level that is risen to, and where the rise begins."""
    time_s, db = level.time_s, level.db
    near = (time_s >= start_s - 0.05) & (time_s <= start_s + 0.10)
    if not near.any():
        return None
    # The plateau behind the attack: what holds, not the highest moment.
    tops = [
        float(np.median(db[part]))
        for at in np.arange(start_s - 0.03, start_s + 0.08, 0.02)
        if (part := (time_s >= at + _PLATEAU_S[0]) & (time_s <= at + _PLATEAU_S[1])).sum() > 10
    ]
    top_db = max(tops, default=float(db[near].max()))
    low = int(np.argmin(np.where(near | (time_s < start_s), db, np.inf)))
    if top_db - db[low] < _LEAST_RISE_DB:
        return None
    reached = np.flatnonzero((time_s > time_s[low]) & (db >= top_db + _HALF_DB))
    if not len(reached):
        return None
    # The last time that it was far below: a burst before a crack is part of its attack.
    low_db = max(float(db[low]) + _OUT_OF_DB, -90.0)
    quiet = np.flatnonzero(db[: reached[0] + 1] <= min(low_db, top_db - _LEAST_RISE_DB))
    begun = int(quiet[-1]) if len(quiet) else low
    return _crossing(level, begun, top_db + _HALF_DB), top_db, begun


def _crossing(level: FineLevel, first: int, wanted_db: float) -> float:
    """When the level first rises through ``wanted_db`` from index ``first`` on, between steps."""
    db = level.db[first:]
    over = np.flatnonzero(db >= wanted_db)
    if not len(over) or over[0] == 0:
        return float(level.time_s[first])
    index = int(over[0])
    share = (wanted_db - db[index - 1]) / max(db[index] - db[index - 1], 1e-9)
    return float(level.time_s[first + index - 1] + share * STEP_S)


def _cracked(
    track: Track, at_s: float, end_s: float, f0_hz: float, from_s: float, before_hz: float | None
) -> bool:
    """Whether another pitch was held for a moment at the beginning.

    A frame holds some 20 ms, so that a crack of 30 ms is seen for 10. The octave above must be held
    for longer and be gone afterwards: some notes have it all along by their weak odd harmonics.
    """
    last_s = min(at_s + _CRACK_AFTER_S, 0.5 * (at_s + end_s))
    path = fine_pitch(track, max(at_s - 0.1, from_s), last_s, f0_hz / _OTHER[0], f0_hz * _OTHER[1])
    if not len(path.time_s):
        return False
    levels = fine_level(track, path.time_s[0], path.time_s[-1] + STEP_S, f0_hz)
    loud = np.interp(path.time_s, levels.time_s, levels.db) > levels.db.max() - 15.0
    off = 1200.0 * np.log2(path.hz / f0_hz)
    other = np.isfinite(off) & loud
    if before_hz is not None:
        other &= np.abs(1200.0 * np.log2(path.hz / before_hz)) >= _OCTAVE_CENTS
    octave = np.abs(np.abs(off) - 1200.0) < _OCTAVE_CENTS
    if _held_s(other & ~octave & (np.abs(off) > _CRACK_CENTS), off) >= _CRACK_S:
        return True
    above = octave & (off > 0.0)
    later = above[len(above) // 2 :].mean() < _OCTAVE_SHARE
    return bool(later) and _held_s(other & above, off) >= _OCTAVE_S


def _held_s(here: NDArray[np.bool_], cents: Floats) -> float:
    """For how long one pitch is held ``here`` (n,), not a path through several."""
    steady = here[1:] & here[:-1] & (np.abs(np.diff(np.nan_to_num(cents))) < _STILL_CENTS)
    return PITCH_STEP_S * max((stop - first for first, stop in runs(steady)), default=0)
