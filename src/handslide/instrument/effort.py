"""What a place and a move cost a player, as a sum of few terms that a teacher would name.

Conventions: effort in points; one point is about a calm move from 1st to 3rd position. Arrays of
places have any shape; moves take two of them that broadcast (places before, places after). Weights
and their units are in ``profile``; each term is named after the weight that it is linear in.

A move is taken as a minimum-jerk move of length d in time T: peak speed 1.875·d/T, peak
acceleration (10/√3)·d/T² (Flash & Hogan, J. Neurosci. 5 (1985) 1688-1703).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.line import Line
from handslide.instrument.places import SAME_SPOT_M, Place
from handslide.instrument.profile import Profile

PEAK_SPEED = 1.875
PEAK_ACCELERATION = 10.0 / np.sqrt(3.0)
# Shorter notes than this don't make a turn any harder to count.
SHORTEST_DWELL_S = 0.1
# No player gives a move less time than this, in a grace note neither.
LEAST_MOVE_S = 0.06
# A slide that moves less than this doesn't smear a slur.
STILL_M = 0.01
# A slide that stays within this needn't look for the place.
SEEK_M = 0.02
# At the beginning of a line there is time to look for an alternate: this share.
FIRST_SEEK = 0.4
# A quick line that begins in 7th costs so many times a note there, less up to this length.
FIRST_IN_SEVENTH = 6.0
FIRST_CALM_S = 0.55
# Going out to 7th costs so many times what a note there costs.
OUT_TO_SEVENTH = 4.0
# An alternate three steps and more away from the plain places takes this share more of a search.
FAR_ALTERNATE = 0.6
# A valve on a note that the open horn has near is more steps away than this.
HOME_ALTERNATE = 5
# Added for a move that a glissando forbids: far above any real sum, and still exact in a double.
FORBIDDEN = 1e12
# The weights that effort is linear in, each with one term of its name (``partials``: a table). All
# others of a profile are times, shapes and limits.
LINEAR = (
    "distance_per_m", "speed_per_m2_s2", "jolt_per_m2_s4", "turn_per_m", "valve_move", "valve_swap",
    "far_per_m2", "seventh", "valve_far", "valve_home", "between", "lip_per_cent", "valve_colour",
    "second_valve", "valve_high", "valve_pedal", "alternate", "seek", "held_alternate",
    "odd_partial", "vibrato", "wander", "partials", "smear", "smear_per_m", "slur_with_pitch",
    "moved_repeat",
)  # fmt: skip
_ENGAGED = np.array([bin(bits).count("1") for bits in range(16)], np.float64)

Floats = NDArray[np.floating]
Add = Callable[[str, Floats], None]


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """Places as arrays of one shape: extension in m, position, lip in cents, valve bits, ..."""

    extension_m: Floats
    position: Floats
    lip_cents: Floats
    valves: NDArray[np.int64]
    partial: NDArray[np.int64]
    alternate: NDArray[np.int64]
    spared: NDArray[np.bool_]

    @property
    def columns(self) -> tuple[NDArray[Any], ...]:
        """All arrays, in the order of the fields."""
        return (
            self.extension_m,
            self.position,
            self.lip_cents,
            self.valves,
            self.partial,
            self.alternate,
            self.spared,
        )

    def take(self, index: Any) -> "Spots":
        """The same index applied to every array."""
        return Spots(*(column[index] for column in self.columns))


@dataclass(frozen=True, slots=True, eq=False)
class Timing:
    """The times of a line: arrays of length N-1 for moves, N-2 for turns."""

    move_s: Floats
    forget: Floats  # 1 without a rest, 0 after a rest that resets the arm
    turn: Floats  # factor of a turn about the middle note of three
    hold: Floats  # of length N: share of the terms that grow with the length of a note
    lasting: Floats  # of length N: how many times hold_s a note goes on after the first
    wander: Floats  # N-2: factor of a changed place where a note and the next but one are the same


def timing(profile: Profile, line: Line) -> Timing:
    """Time that each move of a line has, and the weight of each turn.

    A move takes the rest before its note and a share of the note that it leaves; quick notes give
    all their length. A slurred move is over within ``slur_move_s``.
    """
    between = np.diff(line.onset_s)
    sounding = np.minimum(line.length_s[:-1], between)
    rest = between - sounding
    quick = np.minimum(sounding, profile.move_quick_s)
    move = rest + np.minimum(
        np.maximum(sounding * profile.move_share, quick), profile.move_longest_s
    )
    move = np.where(line.slur[:-1], np.minimum(move, profile.slur_move_s), move)
    # Grace notes and notes at the same instant still leave a moment to move.
    move = np.maximum(move, LEAST_MOVE_S)
    forget = np.maximum(0.0, 1.0 - rest / profile.reset_s)
    turn = profile.turn_time_s / np.maximum(between[1:], SHORTEST_DWELL_S)
    times = line.length_s / profile.hold_s
    hold = np.clip(times, profile.hold_least, 1.0)
    lasting = np.clip(times - 1.0, 0.0, max(0.0, profile.hold_most - 1.0))
    memory = np.minimum(forget[:-1], forget[1:])
    midi = line.midi
    comes_again = (midi[:-2] == midi[2:]) & (midi[:-2] != midi[1:-1])
    return Timing(move, forget, turn * memory, hold, lasting, comes_again * memory)


def spots(horn_valves: tuple[str, ...], places: list[Place]) -> Spots:
    """Places as arrays; ``horn_valves`` gives the order of the valve bits."""
    bit = {name: 1 << number for number, name in enumerate(horn_valves)}
    return Spots(
        np.array([p.extension_m for p in places]),
        np.array([p.position for p in places]),
        np.array([p.lip_cents for p in places]),
        np.array([sum(bit[v] for v in p.valves) for p in places], np.int64),
        np.array([p.partial for p in places], np.int64),
        np.array([p.alternate for p in places], np.int64),
        np.array([p.spared for p in places], np.bool_),
    )


def held_terms(profile: Profile, at: Spots, add: Add) -> None:
    """Terms of standing in a place that grow with the note's length, for a long note.

    far_per_m2: times x². alternate: points for each step away from the plain places.
    """
    add("far_per_m2", profile.far_per_m2 * at.extension_m**2)
    add("alternate", profile.alternate * at.alternate)


def lasting_terms(profile: Profile, at: Spots, add: Add) -> None:
    """Terms of standing in a place that go on growing with a held note, for each ``hold_s``."""
    add("held_alternate", profile.held_alternate * at.alternate)
    add("odd_partial", profile.odd_partial * _is_odd(at))
    add("vibrato", profile.vibrato * (at.extension_m < STILL_M))


def _is_odd(at: Spots) -> NDArray[np.bool_]:
    seventh = (at.partial == 7) & (at.alternate > 0)
    return np.asarray(seventh | (at.partial == 11) | (at.partial == 13))


def place_terms(profile: Profile, at: Spots, add: Add) -> None:
    """Terms of standing in a place, handed to ``add(name, points)``, arrays of the shape of ``at``.

    between: how far off a whole position beyond the mark's tolerance of 0.2,
    as a share of the 0.3 that is halfway. odd_partial: the partials between two semitones, and the
    7th where the note has a lower one. The others: see ``profile``.
    """
    engaged = _ENGAGED[at.valves]
    off = np.abs(at.position - np.round(at.position))
    add("between", profile.between * np.maximum(0.0, off - 0.2) / 0.3)
    add("lip_per_cent", profile.lip_per_cent * at.lip_cents)
    add("valve_colour", profile.valve_colour * engaged)
    # The first valve is bit 0.
    add("second_valve", profile.second_valve * _ENGAGED[at.valves & ~1])
    with_valve = engaged > 0
    add("seventh", _seventh_points(profile, at))
    add("valve_far", profile.valve_far * (at.spared & (at.valves > 0)))
    add("valve_high", profile.valve_high * with_valve * np.maximum(0, at.partial - 3))
    add("valve_pedal", profile.valve_pedal * (with_valve & (at.partial == 1)))
    add("odd_partial", profile.odd_partial * _is_odd(at))
    add("valve_home", profile.valve_home * (with_valve & (at.alternate > HOME_ALTERNATE)))
    worth = np.zeros(int(at.partial.max(initial=0)) + 1)
    for partial, points in profile.partials.items():
        if partial < len(worth):
            worth[partial] = points
    add("partials", worth[at.partial])


def summed(size: int, terms: Callable[[Add], None]) -> Floats:
    """The sum of what ``terms`` hands to its ``add``: arrays of shape (size,)."""
    total = np.zeros(size)

    def add(_name: str, points: Floats) -> None:
        np.add(total, points, out=total)

    terms(add)
    return total


def standing_points(profile: Profile, at: Spots) -> Floats:
    """Points of a long note standing alone in each place (n,): the least is its usual one."""
    size = len(at.partial)
    stand = summed(size, lambda add: place_terms(profile, at, add))
    return stand + summed(size, lambda add: held_terms(profile, at, add))


def first_terms(profile: Profile, at: Spots, length_s: float, add: Add) -> None:
    """Terms of beginning a line in a place: of looking for it, and of coming in from 7th.

    A first note of ``FIRST_CALM_S`` seconds or more leaves time for that.
    """
    hurry = max(0.0, 1.0 - length_s / FIRST_CALM_S)
    add("seek", FIRST_SEEK * _seek_points(profile, at))
    add("seventh", FIRST_IN_SEVENTH * hurry * _seventh_points(profile, at))


def _seek_points(profile: Profile, at: Spots) -> Floats:
    """Points for looking for a place: none if it is plain, more from the third step away on."""
    return profile.seek * ((at.alternate > 0) + FAR_ALTERNATE * (at.alternate > 2))


def _seventh_points(profile: Profile, at: Spots) -> Floats:
    """Points for a note in a 7th position that a valve spares."""
    return np.asarray(profile.seventh * (at.spared & (at.valves == 0)))


def move_terms(
    profile: Profile,
    before: Spots,
    after: Spots,
    move_s: Floats,
    forget: Floats,
    slur: NDArray[np.bool_],
    rise: NDArray[np.int64],
    add: Add,
) -> None:
    """Terms of a move from ``before`` to ``after``, handed to ``add(name, points)``.

    ``rise`` is the melodic step in semitones; all arrays broadcast against each other.
    """
    step = after.extension_m - before.extension_m
    length = np.abs(step)
    changes = _ENGAGED[before.valves ^ after.valves]
    add("distance_per_m", profile.distance_per_m * length)
    pace = length / move_s
    add("speed_per_m2_s2", profile.speed_per_m2_s2 * PEAK_SPEED**2 * pace**2)
    add("jolt_per_m2_s4", profile.jolt_per_m2_s4 * PEAK_ACCELERATION**2 * (pace / move_s) ** 2)
    add("valve_move", profile.valve_move * changes * (1.0 + profile.valve_hurry_s / move_s))
    pressed = after.valves & ~before.valves
    add("valve_swap", profile.valve_swap * ((pressed > 0) & ((before.valves & ~after.valves) > 0)))
    looked_for = (length > SEEK_M) | (pressed > 0)
    add("seek", _seek_points(profile, after) * looked_for)
    add("seventh", OUT_TO_SEVENTH * _seventh_points(profile, after) * looked_for)
    if slur.any():
        same = (before.partial == after.partial) & (changes == 0)
        moved = slur & (length > STILL_M)
        smears = moved & same
        add("smear", profile.smear * smears)
        add("smear_per_m", profile.smear_per_m * length * smears)
        add("slur_with_pitch", (moved & ~same & (step * rise < 0)) * profile.slur_with_pitch)
    if (rise == 0).any():
        elsewhere = (length > SAME_SPOT_M) | (changes > 0) | (before.partial != after.partial)
        add("moved_repeat", profile.moved_repeat * forget * ((rise == 0) & elsewhere))


def turn_parts(profile: Profile, step: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Of moves ``step`` (m, out positive): how far each readies a turn, and what a turn costs.

    A turn about a note costs turn_per_m · (length of the move after it) · (share of
    ``turn_ready_m`` that the move before it went the other way, at most 1) · the factor of
    :func:`timing`. Returns (ready out, ready in, cost out, cost in): a turn out of an outward move
    is ``ready_out * cost_in``, of an inward move ``ready_in * cost_out``.
    """
    out, back = np.maximum(step, 0.0), np.maximum(-step, 0.0)
    scale = 1.0 / profile.turn_ready_m
    return (
        np.minimum(1.0, out * scale),
        np.minimum(1.0, back * scale),
        profile.turn_per_m * out,
        profile.turn_per_m * back,
    )


def route_terms(
    profile: Profile, line: Line, at: Spots, when: Timing, *, begins: bool = True
) -> tuple[dict[str, Floats], ...]:
    """All terms of one route: (of places, N), (of moves, N-1), (of turns, N-2), by name.

    ``begins``: this is the beginning of a line, not a stretch of it.
    """
    of_places: dict[str, Floats] = {}
    of_moves: dict[str, Floats] = {}

    def stand(name: str, points: Floats) -> None:
        of_places[name] = of_places.get(name, 0.0) + points

    def begin(name: str, points: Floats) -> None:
        stand(name, np.concatenate((points, np.zeros(len(line) - 1))))

    place_terms(profile, at, stand)
    held_terms(profile, at, lambda name, points: stand(name, points * when.hold))
    lasting_terms(profile, at, lambda name, points: stand(name, points * when.lasting))
    if begins:
        first_terms(profile, at.take(slice(0, 1)), float(line.length_s[0]), begin)
    if len(line) > 1:
        move_terms(
            profile,
            at.take(slice(None, -1)),
            at.take(slice(1, None)),
            when.move_s,
            when.forget,
            line.slur[:-1],
            np.diff(line.midi),
            of_moves.__setitem__,
        )
    ready_out, ready_in, cost_out, cost_in = turn_parts(profile, np.diff(at.extension_m))
    turn = when.turn * (ready_out[:-1] * cost_in[1:] + ready_in[:-1] * cost_out[1:])
    moved = np.zeros(max(0, len(line) - 2), bool)
    for column in (at.extension_m, at.valves, at.partial):
        moved |= column[:-2] != column[2:]
    return of_places, of_moves, {"turn_per_m": turn, "wander": profile.wander * when.wander * moved}
