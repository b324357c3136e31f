"""How a player gets from note to note: time of transit, dip of the level, smear of the pitch.

What makes two tones sound tied was found to be, in this order, no silence between them, no abrupt
end or attack, no abrupt change of pitch ("How to make a slur", J. Acoust. Soc. Am. 58, S132, 1975,
seen: the abstract). A transition is the stretch between two steady tones, typically 10 to 100 ms
(J. Strawn's definition, seen in a thesis that cites it). Measured here:

- transit: the time in which the pitch goes from 10 to 90 % of the interval: the transition
  duration of IEEE Std 181 (from memory), taken of pitch in cents;
- dip: how far the level falls below the straight line between the levels of both tones: the
  measure behind the legato descriptor of E. Maestre and E. Gómez (AES 118th Convention, 2005, from
  memory);
- smear: how many cents of the interval are heard gliding: passed through outside of the first and
  last tenth while the level is less than 10 dB below the softer tone. 0 for a jump, which is what
  a movement below the glissando threshold is heard as: slower than 0.16/T² semitones a second in
  T seconds ('t Hart, Collier and Cohen, A perceptual study of intonation, 1990, from memory).

The pitch is known in frames of 20 to 40 ms, so a minimum-jerk ramp of the interval, seen through
such a frame, is fitted to it: what a quick transit would be widened by drops out.

Conventions: times in s, durations in ms, levels in dB, pitches in Hz.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.ground.minimumjerk import minimum_jerk
from handslide.sound.finelevel import PITCH_STEP_S, FinePitch, fine_level, fine_pitch
from handslide.sound.track import Track

Floats = NDArray[np.float64]

# A pause longer than this parts two notes.
LONGEST_GAP_S = 0.15
# Below this the sound has stopped: there is no way from one tone to the next.
STOPPED_DB = 20.0
_AROUND_S = 0.16
_LEAST_CENTS = 60.0
_AUDIBLE_DB = 10.0
_COARSE_S = np.geomspace(0.003, 0.32, 14)
# 10 to 90 % of a minimum-jerk move: 10τ³ - 15τ⁴ + 6τ⁵ is 0.1 at τ = 0.2468.
_TENTHS = 1.0 - 2.0 * 0.24681
_SEEN = 0.62  # the share of a frame that its pitch is a plain mean over, found with known ramps
_GLIDE = 0.16  # semitones times seconds


@dataclass(frozen=True, slots=True)
class Transition:
    """The way from heard note ``first`` to ``first + 1``.

    ``at_s`` is when half of the interval is passed; ``transit_ms``, ``dip_db`` and ``smear_cents``
    as above, ``gap_ms`` for how long nothing sounded. None where it can't be told, and where the
    sound stops on the way.
    """

    first: int
    at_s: float | None
    transit_ms: float | None
    dip_db: float
    smear_cents: float | None
    gap_ms: float


def transition(
    track: Track,
    number: int,
    before: tuple[float, float, float],
    after: tuple[float, float, float],
) -> Transition | None:
    """From one note to the next, each (steady start s, steady end s, Hz); None across a pause."""
    edge_s, next_s = before[1], after[0]
    if next_s - edge_s > LONGEST_GAP_S + _AROUND_S:
        return None
    middle_s = 0.5 * (edge_s + next_s)
    first_s = max(before[0], min(edge_s, middle_s) - _AROUND_S)
    last_s = min(after[1], max(next_s, middle_s) + _AROUND_S)
    low_hz, high_hz = sorted((before[2], after[2]))
    level = fine_level(track, first_s, last_s, low_hz)
    if len(level.time_s) < 20:
        return None
    soft_db, dip_db, gap_ms = _dip(level.time_s, level.db, edge_s, next_s)
    cents = 1200.0 * float(np.log2(after[2] / before[2]))
    if abs(cents) < _LEAST_CENTS or dip_db > STOPPED_DB:
        return Transition(number, None, None, dip_db, None, gap_ms)
    path = fine_pitch(track, first_s, last_s, low_hz / 1.15, high_hz * 1.15)
    fitted = _fitted(path, before[2], cents, middle_s)
    if fitted is None:
        return Transition(number, None, None, dip_db, None, gap_ms)
    at_s, length_s = fitted
    transit_ms = 1000.0 * _TENTHS * length_s
    smear = 0.0
    if abs(cents) / 100.0 * length_s >= _GLIDE:
        at = np.arange(at_s - 0.5 * length_s, at_s + 0.5 * length_s, PITCH_STEP_S / 2.0)
        done = minimum_jerk(np.clip((at - at_s) / length_s + 0.5, 0.0, 1.0))
        heard = np.interp(at, level.time_s, level.db) >= soft_db - _AUDIBLE_DB
        passed = np.diff(done, prepend=done[0])
        passed[(done < 0.1) | (done > 0.9)] = 0.0
        smear = abs(cents) * float(passed[heard].sum())
    return Transition(number, at_s, transit_ms, dip_db, smear, gap_ms)


def _dip(time_s: Floats, db: Floats, edge_s: float, next_s: float) -> tuple[float, float, float]:
    """(level of the softer tone, dip below the line between both, ms that are 20 dB below)."""
    first_db = float(np.median(db[time_s <= edge_s])) if (time_s <= edge_s).any() else float(db[0])
    last_db = float(np.median(db[time_s >= next_s])) if (time_s >= next_s).any() else float(db[-1])
    line = np.interp(time_s, [edge_s, max(next_s, edge_s + 1e-3)], [first_db, last_db])
    between = (time_s >= edge_s - 0.04) & (time_s <= next_s + 0.04)
    below = (line - db)[between] if between.any() else line - db
    soft = min(first_db, last_db)
    return soft, max(float(below.max()), 0.0), float(np.sum(db[between] < soft - 20.0))


def _fitted(
    path: FinePitch, from_hz: float, cents: float, middle_s: float
) -> tuple[float, float] | None:
    """(middle, length) in s of the ramp that explains a path of pitches best; None: too few."""
    known = np.isfinite(path.hz)
    if known.sum() < 15:
        return None
    time_s = path.time_s[known]
    share = 1200.0 * np.log2(path.hz[known] / from_hz) / cents
    # What isn't on the way (an octave slip) says nothing.
    share, time_s = share[np.abs(share - 0.5) < 1.0], time_s[np.abs(share - 0.5) < 1.0]
    if len(time_s) < 15:
        return None
    halves = np.flatnonzero((share[1:] > 0.5) != (share[:-1] > 0.5))
    if not len(halves):
        return None
    crossed = 0.5 * (time_s[halves] + time_s[halves + 1])
    start_s = float(crossed[np.argmin(np.abs(crossed - middle_s))])
    best = (np.inf, start_s, 0.05)
    for lengths, reach_s, step_s in (
        (_COARSE_S, 0.036, 0.004),
        (None, 0.004, 0.0005),
    ):
        tried = np.linspace(0.7 * best[2], 1.4 * best[2], 13) if lengths is None else lengths
        middles = best[1] + np.arange(-reach_s, reach_s + 1e-9, step_s)
        away = time_s - middles[:, None]
        for length in tried:
            error = np.minimum((_seen(away, length, path.window_s) - share) ** 2, 0.09).sum(axis=1)
            at = int(np.argmin(error))
            if error[at] < best[0]:
                best = (float(error[at]), float(middles[at]), float(length))
    return best[1], best[2]


def _seen(away_s: Floats, length_s: float, window_s: float) -> Floats:
    """A ramp of ``length_s`` as frames of ``window_s`` show it, at times from its middle."""
    reach = 0.5 * (length_s + window_s)
    at = np.linspace(-reach, reach, 61)
    offsets = np.linspace(-0.5, 0.5, 9) * _SEEN * window_s
    share = np.clip((at[:, None] + offsets) / length_s + 0.5, 0.0, 1.0)
    curve = minimum_jerk(share).mean(axis=1)
    seen: Floats = np.interp(away_s, at, curve)
    return seen
