"""What each weight is multiplied by: effort is linear in the weights while times and shapes stay.

The features are the terms of ``effort`` themselves, with all weights 1: there is no second copy of
their formulas. F weights in the order of :data:`~handslide.instrument.learning.weights.WEIGHTS`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.effort import (
    Floats,
    Spots,
    Timing,
    first_terms,
    held_terms,
    lasting_terms,
    move_terms,
    place_terms,
    route_terms,
    timing,
    turn_parts,
)
from handslide.instrument.learning.weights import PARTIALS, WEIGHTS, unit
from handslide.instrument.line import Line
from handslide.instrument.profile import Profile

INDEX = {name: number for number, name in enumerate(WEIGHTS)}
MOVES = (
    "distance_per_m", "speed_per_m2_s2", "jolt_per_m2_s4", "valve_move", "valve_swap", "seek",
    "seventh", "smear", "smear_per_m", "slur_with_pitch", "moved_repeat",
)  # fmt: skip
"""The weights of moves."""
_MOVE = {name: number for number, name in enumerate(MOVES)}
MOVE_INDEX = np.array([INDEX[name] for name in MOVES])
TURN, WANDER = INDEX["turn_per_m"], INDEX["wander"]


@dataclass(frozen=True, slots=True, eq=False)
class Tensors:
    """Features of N notes of K places: ``stand`` (N, K, F), ``move`` (N-1, K, K, M) in the order of
    :data:`MOVES`, ``turn`` and ``wander`` (N-2, K, K, K) and (N-2, K, K): first and third note."""

    stand: Floats
    move: Floats
    turn: Floats
    wander: Floats


def tensors(
    profile: Profile,
    line: Line,
    at: Spots,
    when: Timing,
    which: NDArray[np.intp],
    begins: bool,
) -> Tensors:
    """The features of all places (N, K) of a line.

    ``which`` (N, K) are numbers that are equal for equal places of equal notes; ``begins`` as in
    :func:`~effort.route_terms`.
    """
    one = unit(profile)
    count, width = at.partial.shape
    stand = np.zeros((count, width, len(WEIGHTS)))
    place_terms(one, at, lambda name, points: _add(stand, name, points))
    held_terms(one, at, lambda name, points: _add(stand, name, points * when.hold[:, None]))
    lasting_terms(one, at, lambda name, points: _add(stand, name, points * when.lasting[:, None]))
    for partial in PARTIALS:
        stand[..., INDEX[f"partials.{partial}"]] = at.partial == partial
    if begins:
        first = stand[0]
        first_terms(
            one, at.take(0), float(line.length_s[0]), lambda name, points: _add(first, name, points)
        )
    before = at.take((slice(None, -1), slice(None), None))
    after = at.take((slice(1, None), None, slice(None)))
    move = np.zeros((max(0, count - 1), width, width, len(MOVES)))
    per_move = (slice(None), None, None)
    if count > 1:
        move_terms(
            one, before, after, when.move_s[per_move], when.forget[per_move],
            line.slur[:-1][per_move], np.diff(line.midi)[per_move],
            lambda name, points: _add_move(move, name, points),
        )  # fmt: skip
    step = after.extension_m - before.extension_m
    ready_out, ready_in, cost_out, cost_in = turn_parts(one, step)
    turn = ready_out[:-1, :, :, None] * cost_in[1:, None] + (
        ready_in[:-1, :, :, None] * cost_out[1:, None]
    )
    turn *= when.turn[:, None, None, None]
    apart = which[:-2, :, None] != which[2:, None, :]
    return Tensors(stand, move, turn, apart * when.wander[:, None, None])


def _add(out: Floats, name: str, points: Floats) -> None:
    if name != "partials":
        out[..., INDEX[name]] += points


def _add_move(out: Floats, name: str, points: Floats) -> None:
    out[..., _MOVE[name]] += points


def route_features(
    profile: Profile, line: Line, at: Spots, when: Timing, *, begins: bool = True
) -> Floats:
    """(F,) the features of one route: its effort is their sum times the weights.

    ``at`` has one place for each note; ``begins`` as in :func:`~effort.route_terms`.
    """
    total = np.zeros(len(WEIGHTS))
    for terms in route_terms(unit(profile), line, at, when, begins=begins):
        for name, points in terms.items():
            if name != "partials":
                total[INDEX[name]] += float(np.sum(points))
    for partial in PARTIALS:
        total[INDEX[f"partials.{partial}"]] += float((at.partial == partial).sum())
    return total


def difference(
    profile: Profile,
    line: Line,
    grid: Spots,
    routes: tuple[NDArray[np.intp], NDArray[np.intp]],
    window: NDArray[np.intp],
) -> Floats:
    """(F,) features of the second of two ``routes`` less those of the first, within a window.

    ``grid`` (N, K) are the places of the whole line and the routes (N,) index it; where the routes
    differ, the window reaches two notes further on both sides or to an end of the line.
    """
    part = line.only(window)
    first, second = (
        route_features(
            profile, part, grid.take((window, route[window])), timing(profile, part),
            begins=bool(window[0] == 0),
        )
        for route in routes
    )  # fmt: skip
    return second - first
