"""The best route through a line: one place for each note, with the least effort in all.

Exact dynamic programming over (previous place, place), because a turn of the slide needs three
notes. The same programme run from both ends gives the min-marginals: how much worse the best whole
route through each other place is.

With N notes of at most K places each: time O(N·K³), memory O(N·K²).
"""

import heapq
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import BadData
from handslide.instrument.effort import (
    FORBIDDEN,
    Add,
    Floats,
    Spots,
    Timing,
    first_points,
    held_terms,
    move_terms,
    place_terms,
    spots,
    timing,
    turn_parts,
)
from handslide.instrument.line import Line
from handslide.instrument.places import Place, PlaceBook
from handslide.instrument.profile import Profile

# Costs are laid out for about this many bytes at a time: they stay in the cache, memory in O(N).
_CHUNK_BYTES = 400_000
_MAX_ROUNDS = 60
# Points of a place that isn't open: dearer than any number of impossible glissandi.
_CLOSED = 1e4 * FORBIDDEN
_MAX_BRANCHES = 400
# Of a difference between two notes that must agree, this much is settled in a round.
_STEP = 0.8
# Forbidden places get a price like any other, but not one that drowns the others.
_FAR_WORSE = 1e4
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, eq=False)
class Choices:
    """The places open to each note of a line, padded to K a note.

    ``places[i]`` are those of note i; arrays are (N, K); ``usable`` is false for padding and for
    what a lock excludes; ``stand`` holds the points of standing in each place, ``held`` those that
    grow with the note's length, for a long note.
    """

    line: Line
    places: tuple[tuple[Place, ...], ...]
    at: Spots
    usable: NDArray[np.bool_]
    stand: Floats
    held: Floats


def lay_out(line: Line, book: PlaceBook, profile: Profile) -> Choices:
    """The choices of every note; notes of equal pitch share them.

    Raises
    ------
    BadData
        When a note has no place (ask :func:`playable` first).
    """
    pitches, which = np.unique(line.midi, return_inverse=True)
    lists = [book.places(int(midi)) for midi in pitches]
    if not all(lists):
        raise BadData("a note of the line has no place on this horn")
    width = max(map(len, lists))
    flat = [row[min(k, len(row) - 1)] for row in lists for k in range(width)]
    table = spots(tuple(v.name for v in book.horn.valves), flat)
    stand = _summed(len(flat), lambda add: place_terms(profile, table, add))
    held = _summed(len(flat), lambda add: held_terms(profile, table, add))
    usable = np.arange(width) < np.array([len(row) for row in lists])[:, None]
    shape = (len(lists), width)
    # Memory runs along the notes: array operations over (N, K, K) then loop over N innermost.
    index = np.ascontiguousarray(np.arange(len(flat)).reshape(shape).T[:, which])
    per_note = tuple([lists[j] for j in which.tolist()])
    grid = Spots(*(column[index].T for column in table.columns))
    return Choices(line, per_note, grid, usable[which], stand[index].T, held[index].T)


def _summed(size: int, terms: Callable[[Add], None]) -> Floats:
    total = np.zeros(size)

    def add(_name: str, points: Floats) -> None:
        np.add(total, points, out=total)

    terms(add)
    return total


def usual_place(choices: Choices, note: int) -> Place:
    """The place that a note gets standing alone and long."""
    return choices.places[note][int((choices.stand[note] + choices.held[note]).argmin())]


def playable(line: Line, book: PlaceBook) -> NDArray[np.intp]:
    """Indices of the notes that have at least one place."""
    has = {int(midi): bool(book.places(int(midi))) for midi in np.unique(line.midi)}
    return np.flatnonzero([has[midi] for midi in line.midi.tolist()])


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """The best route and everything that could have been.

    ``chosen`` (N,) indexes ``choices.places``; ``worse_by`` (N, K) is the min-marginal of each
    place above ``total``; FORBIDDEN and more means that no route goes there.
    """

    choices: Choices
    profile: Profile
    when: Timing
    chosen: NDArray[np.intp]
    total: float
    worse_by: Floats
    pairs: Floats = field(repr=False)  # (N-1, K, K): best whole route through each pair
    forward: Floats = field(repr=False)  # (N-1, K, K): best effort up to each pair
    after: NDArray[np.int8] = field(repr=False)  # (N-2, K, K): best place two notes after

    @property
    def places(self) -> tuple[Place, ...]:
        """The chosen place of every note."""
        return tuple(row[k] for row, k in zip(self.choices.places, self.chosen.tolist()))

    def through(self, note: int, choice: int) -> tuple[int, NDArray[np.intp]]:
        """The best route through one place, as far as it differs from the best of all.

        Returns the first note of the differing stretch and the choices along it.
        """
        best = self.chosen
        if len(best) == 1:
            return 0, np.array([choice])
        # Pair e joins notes e and e+1; start from the pair that begins, or ends, with this note.
        route = {note: choice}
        if note + 1 < len(best):
            route[note + 1] = int(np.argmin(self.pairs[note, choice]))
        if note > 0 and note + 1 >= len(best):
            route[note - 1] = int(np.argmin(self.pairs[note - 1, :, choice]))
        low, high = min(route), max(route)
        while low > 0 and (route[low] != best[low] or route[low + 1] != best[low + 1]):
            route[low - 1] = self._before(low, route[low], route[low + 1])
            low -= 1
        while high < len(best) - 1 and (
            route[high] != best[high] or route[high - 1] != best[high - 1]
        ):
            route[high + 1] = int(self.after[high - 1, route[high - 1], route[high]])
            high += 1
        return low, np.array([route[i] for i in range(low, high + 1)])

    def _before(self, note: int, choice: int, following: int) -> int:
        """The best place before a note, given its own place and the following note's."""
        at = self.choices.at.extension_m
        ready_out, ready_in, *_ = turn_parts(self.profile, at[note, choice] - at[note - 1])
        _, _, cost_out, cost_in = turn_parts(
            self.profile, at[note + 1, following] - at[note, choice]
        )
        turn = self.when.turn[note - 1] * (ready_out * cost_in + ready_in * cost_out)
        return int(np.argmin(self.forward[note - 1, :, choice] + turn))


def solve(
    choices: Choices,
    profile: Profile,
    usable: NDArray[np.bool_] | None = None,
    progress: Progress | None = None,
    prices: Floats | None = None,
) -> Solution:
    """The exact best route over ``choices`` (or over those of them in ``usable``).

    ``prices`` (N, K) are added to the points of standing in each place.
    """
    usable = choices.usable if usable is None else usable
    when = timing(profile, choices.line)
    stand = choices.stand + choices.held * when.hold[:, None]
    if prices is not None:
        stand += prices
    stand[0] += first_points(profile, choices.at.take(0))
    stand[~usable] = _CLOSED
    if len(stand) == 1:
        return _single(choices, profile, when, stand)
    step, arrive = _moves(choices, profile, when, stand)
    table = _sweep(profile, when, stand, step, arrive, progress)
    pairs = table.pairs
    flat = int(np.argmin(pairs[0]))
    chosen = np.empty(len(stand), np.intp)
    chosen[:2] = divmod(flat, stand.shape[1])
    q, r = chosen[:2].tolist()
    total = float(pairs[0, q, r])
    width = stand.shape[1]
    follow = table.after.reshape(len(stand) - 2, width * width)
    cells = follow.tolist()
    route = [q, r]
    for row in cells:
        q, r = r, row[q * width + r]
        route.append(r)
    chosen[:] = route
    marginal = np.empty_like(stand)
    marginal[1:] = pairs.min(axis=1)
    marginal[0] = pairs[0].min(axis=1)
    worse = np.maximum(marginal - total, 0.0)
    worse[np.arange(len(chosen)), chosen] = 0.0
    return Solution(choices, profile, when, chosen, total, worse, pairs, table.forward, table.after)


def _single(choices: Choices, profile: Profile, when: Timing, stand: Floats) -> Solution:
    chosen = np.array([np.argmin(stand[0])])
    total = float(stand[0].min())
    none = np.zeros((0, 1, 1))
    empty = np.zeros((0, 1, 1), np.int8)
    return Solution(choices, profile, when, chosen, total, stand - total, none, none, empty)


def _moves(
    choices: Choices, profile: Profile, when: Timing, stand: Floats
) -> tuple[Floats, Floats]:
    """(N-1, K, K): the step of each move in m, and the points of moving there and standing."""
    line = choices.line
    before = choices.at.take((slice(None, -1), slice(None), None))
    after = choices.at.take((slice(1, None), None, slice(None)))
    width = stand.shape[1]
    arrive = stand[1:, None, :] + np.zeros((1, width, 1))

    def add(_name: str, points: Floats) -> None:
        np.add(arrive, points, out=arrive)

    per_move = (slice(None), None, None)
    move_terms(
        profile,
        before,
        after,
        when.move_s[per_move],
        when.forget[per_move],
        line.slur[:-1][per_move],
        np.diff(line.midi)[per_move],
        add,
    )
    if line.gliss.any():
        other = (before.partial != after.partial) | (before.valves != after.valves)
        # Added to what is there: a place that isn't open must stay dearer than one that is.
        arrive += FORBIDDEN * (line.gliss[:-1][per_move] & other)
    return after.extension_m - before.extension_m, arrive


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    forward: Floats
    pairs: Floats
    after: NDArray[np.int8]


def _sweep(
    profile: Profile,
    when: Timing,
    stand: Floats,
    step: Floats,
    arrive: Floats,
    progress: Progress | None,
) -> _Table:
    """Run the recursion from both ends at once: it is the same one on the line turned round.

    state[t, 0, q, r] is the best effort up to the pair (note t, note t+1) in places (q, r);
    state[t, 1, r, q] the best effort from the pair (N-2-t, N-1-t) in places (q, r) to the end,
    the move within the pair included in both.
    """
    steps, width = len(arrive) - 1, stand.shape[1]
    state = np.empty((steps + 1, 2, width, width))
    state[0, 0] = stand[0][:, None] + arrive[0]
    state[0, 1] = arrive[-1].T
    after = np.empty((steps, width, width), np.int8)
    ready_out, ready_in, cost_out, cost_in = turn_parts(profile, step)
    ready_out[:-1] *= when.turn[:, None, None]
    ready_in[:-1] *= when.turn[:, None, None]
    parts = ready_out, ready_in, cost_in, cost_out, arrive
    # Pair e of the line turned round is the transposed pair steps-e.
    turned = tuple(part[::-1].transpose(0, 2, 1) for part in parts)
    size = max(16, _CHUNK_BYTES // (16 * width**3))
    shape = (min(size, steps), 2, width, width, width)
    room, drawn = np.empty(shape), np.empty(shape[1:] + shape[:1]).transpose(4, 0, 1, 2, 3)
    for low in range(0, steps, size):
        high = min(steps, low + size)
        costs, draft = room[: high - low], drawn[: high - low]
        now, later = slice(low, high), slice(low + 1, high + 1)
        out, into, back, onto, come = parts
        _turns(draft[:, 0], (out[now], into[now]), (back[later], onto[later]), come[later])
        out, into, back, onto, come = turned
        _turns(draft[:, 1], (back[now], onto[now]), (out[later], into[later]), come[later])
        costs[:] = draft
        _recur(state[low : high + 1], costs)
        costs[:, 1] += state[low:high, 1, :, :, None]
        after[now] = costs[:, 1].argmin(axis=1)
        if progress is not None:
            progress(high, steps)
    pairs = state[:, 0] + state[::-1, 1].transpose(0, 2, 1) - arrive
    return _Table(state[:, 0], pairs, after[::-1].transpose(0, 2, 1))


def _turns(
    out: Floats, first: tuple[Floats, Floats], second: tuple[Floats, Floats], arrive: Floats
) -> None:
    """out[t, a, b, c] = first[0]·second[0] + first[1]·second[1] + arrive, over (a,b) and (b,c)."""
    np.multiply(first[0][:, :, :, None], second[0][:, None, :, :], out=out)
    out += first[1][:, :, :, None] * second[1][:, None, :, :]
    out += arrive[:, None, :, :]


def _recur(state: Floats, costs: Floats) -> None:
    """state[t + 1, ..., b, c] = min over a of state[t, ..., a, b] + costs[t, ..., a, b, c]."""
    total = np.empty_like(costs[0])
    add, least = np.add, np.minimum.reduce
    for now, cost, later in zip(list(state[:-1, :, :, :, None]), list(costs), list(state[1:])):
        add(now, cost, total)
        least(total, 1, None, later)


@dataclass(frozen=True, slots=True, eq=False)
class Tied:
    """A solution in which notes that are one written note have one place."""

    solution: Solution
    exact: bool


def solve_tied(
    choices: Choices,
    profile: Profile,
    written: Sequence[int],
    usable: NDArray[np.bool_],
    progress: Progress | None = None,
) -> Tied:
    """The best route in which all notes with the same number in ``written`` share a place.

    Dual decomposition (averaging of min-marginals; Sontag, Globerson and Jaakkola in Optimization
    for Machine Learning, 2011, ch. 8): where a written note got two places, points are moved
    between its notes, so that all see the same price for each place; they cancel in the sum. A
    route that agrees is then the optimum of the tied line. Where the prices don't settle, the rest
    is searched by branch and bound; ``exact`` is false when that grew too long and the last ties
    were made one after the other.
    """
    numbers = np.asarray(written)
    usable = _shared(numbers, usable)
    prices = np.zeros_like(choices.stand)
    for round_ in range(_MAX_ROUNDS):
        solution = solve(choices, profile, usable, progress if round_ == 0 else None, prices)
        conflicts = _conflicts(numbers, solution.chosen)
        if not conflicts:
            return Tied(solution, True)
        for notes in conflicts:
            worse = np.minimum(solution.worse_by[notes], _FAR_WORSE)
            prices[notes] += _STEP * (worse.mean(axis=0) - worse)
    return _branch(choices, profile, numbers, usable, prices)


def _shared(numbers: NDArray[np.intp], usable: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What is open to all notes of a written note: a lock on one of them holds for all."""
    values, which = np.unique(numbers, return_inverse=True)
    shared = np.ones((len(values), usable.shape[1]), bool)
    np.logical_and.at(shared, which, usable)
    usable = shared[which]
    if not usable.any(axis=1).all():
        raise BadData("locks give two places to one written note")
    return usable


def _branch(
    choices: Choices,
    profile: Profile,
    numbers: NDArray[np.intp],
    usable: NDArray[np.bool_],
    prices: Floats,
) -> Tied:
    """Best first: where a written note got two places, try each place for all its notes."""
    order = count()
    heap: list[tuple[float, int, NDArray[np.bool_], Solution | None]]
    heap = [(0.0, next(order), usable, None)]
    while heap and next(order) < _MAX_BRANCHES:
        _, _, usable, agreed = heapq.heappop(heap)
        if agreed is not None:
            return Tied(agreed, True)
        solution = solve(choices, profile, usable, None, prices)
        conflicts = _conflicts(numbers, solution.chosen)
        if not conflicts:
            heapq.heappush(heap, (solution.total, next(order), usable, solution))
            continue
        notes = conflicts[0]
        for choice in np.flatnonzero(usable[notes[0]]).tolist():
            narrowed = usable.copy()
            narrowed[notes] = False
            narrowed[notes, choice] = True
            bound = solution.total + float(solution.worse_by[notes, choice].max())
            if bound < FORBIDDEN:
                heapq.heappush(heap, (bound, next(order), narrowed, None))
    return Tied(_tie_greedily(choices, profile, numbers, usable), False)


def _conflicts(numbers: NDArray[np.intp], chosen: NDArray[np.intp]) -> list[list[int]]:
    """The notes of each written note that got more than one place."""
    notes: dict[int, list[int]] = {}
    for note, number in enumerate(numbers.tolist()):
        notes.setdefault(number, []).append(note)
    return [group for group in notes.values() if len(set(chosen[group].tolist())) > 1]


def _tie_greedily(
    choices: Choices, profile: Profile, numbers: NDArray[np.intp], usable: NDArray[np.bool_]
) -> Solution:
    while True:
        solution = solve(choices, profile, usable)
        conflicts = _conflicts(numbers, solution.chosen)
        if not conflicts:
            return solution
        notes = conflicts[0]
        worse = solution.worse_by[notes].sum(axis=0)
        best = np.where(usable[notes[0]], worse, np.inf).argmin()
        usable = usable.copy()
        usable[notes] = False
        usable[notes, best] = True


def solve_line(
    line: Line,
    book: PlaceBook,
    profile: Profile,
    locks: Mapping[int, Place] | None = None,
    written: Sequence[int] | None = None,
    progress: Progress | None = None,
) -> Tied:
    """The best route through a line of playable notes.

    ``locks`` fixes places by note index; ``written`` gives the number of the written note of each
    (default: each its own). Raises BadData when a lock isn't one of the note's places.
    """
    choices = lay_out(line, book, profile)
    usable = choices.usable
    if locks:
        usable = usable.copy()
        for note, place in locks.items():
            if place not in choices.places[note]:
                raise BadData("a lock names a place that its note doesn't have")
            usable[note] = False
            usable[note, choices.places[note].index(place)] = True
    if written is None or len(set(written)) == len(written):
        return Tied(solve(choices, profile, usable, progress), True)
    return solve_tied(choices, profile, written, usable, progress)
