"""The best route through a line: one place for each note, with the least effort in all.

Exact dynamic programming over (previous place, place), because a turn of the slide needs three
notes. It runs from both ends until they meet. Run on to the other ends, when that is first asked
for, it gives the min-marginals: how much worse the best whole route through each other place is.

With N notes of at most K places each: time O(N·K³), memory O(N·K²).
"""

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import count

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import BadData
from handslide.instrument.effort import (
    FORBIDDEN,
    Floats,
    Spots,
    Timing,
    first_terms,
    held_terms,
    lasting_terms,
    move_terms,
    place_terms,
    route_terms,
    spots,
    summed,
    timing,
    turn_parts,
)
from handslide.instrument.lattice import (
    SETTLED,
    Met,
    Moves,
    StepCallback,
    best_route,
    meet,
    priced,
)
from handslide.instrument.line import Line
from handslide.instrument.places import Place, PlaceBook
from handslide.instrument.profile import Profile
from handslide.instrument.pushed import dearer, effort_of, resolved

# Two totals within these points are nearly one to a player.
NEAR_TIE = 0.7
_MAX_ROUNDS = 60
# Points of a place that isn't open: dearer than any number of impossible glissandi.
_CLOSED = 1e4 * FORBIDDEN
_MAX_BRANCHES = 400
# Of a difference between two notes that must agree, this much is settled in a round.
_STEP = 0.8
# Forbidden places get a price like any other, but not one that drowns the others.
_FAR_WORSE = 1e4


@dataclass(frozen=True, slots=True, eq=False)
class Choices:
    """The places open to each note of a line, padded to K a note.

    ``places[i]`` are those of note i; arrays are (N, K); ``usable`` is false for padding and for
    what a lock excludes; ``stand`` holds the points of standing in each place, ``held`` those that
    grow with the note's length, for a long note, ``lasting`` those that a held note adds.
    """

    line: Line
    places: tuple[tuple[Place, ...], ...]
    at: Spots
    usable: NDArray[np.bool_]
    stand: Floats
    held: Floats
    lasting: Floats


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
        raise BadData("places.none")
    width = max(map(len, lists))
    flat = [row[min(k, len(row) - 1)] for row in lists for k in range(width)]
    table = spots(tuple(v.name for v in book.horn.valves), flat)
    stand = summed(len(flat), lambda add: place_terms(profile, table, add))
    held = summed(len(flat), lambda add: held_terms(profile, table, add))
    lasting = summed(len(flat), lambda add: lasting_terms(profile, table, add))
    usable = np.arange(width) < np.array([len(row) for row in lists])[:, None]
    shape = (len(lists), width)
    # Memory runs along the notes: array operations over (N, K, K) then loop over N innermost.
    index = np.ascontiguousarray(np.arange(len(flat)).reshape(shape).T[:, which])
    per_note = tuple([lists[j] for j in which.tolist()])
    grid = Spots(*(column[index].T for column in table.columns))
    points = (column[index].T for column in (stand, held, lasting))
    return Choices(line, per_note, grid, usable[which], *points)


def first_points(choices: Choices, profile: Profile) -> Floats:
    """(K,) what each place of the first note costs more, because the line begins there."""
    at, length_s = choices.at.take(0), float(choices.line.length_s[0])
    return summed(len(at.partial), lambda add: first_terms(profile, at, length_s, add))


def usual_place(choices: Choices, note: int) -> Place:
    """The place that a note gets standing alone and long."""
    return choices.places[note][int((choices.stand[note] + choices.held[note]).argmin())]


def all_usual(choices: Choices) -> list[Place]:
    """:func:`usual_place` of every note."""
    best = (choices.stand + choices.held).argmin(axis=1)
    return [row[k] for row, k in zip(choices.places, best.tolist())]


def playable(line: Line, book: PlaceBook) -> NDArray[np.intp]:
    """Indices of the notes that have at least one place."""
    has = {midi: bool(book.places(midi)) for midi in set(line.midi.tolist())}
    return np.flatnonzero([has[midi] for midi in line.midi.tolist()])


@dataclass(frozen=True, eq=False)
class Solution:
    """The best route, and everything that could have been.

    ``chosen`` (N,) indexes ``choices.places``; ``total`` is its effort in points. ``held`` are the
    choices of notes that were settled before, by note.
    """

    choices: Choices
    profile: Profile
    when: Timing
    chosen: NDArray[np.intp]
    total: float
    _moves: Moves = field(repr=False)
    _met: Met | None = field(repr=False)
    held: Mapping[int, int] = field(default_factory=dict)

    @property
    def places(self) -> tuple[Place, ...]:
        """The chosen place of every note."""
        return tuple(row[k] for row, k in zip(self.choices.places, self.chosen.tolist()))

    @cached_property
    def _held_moves(self) -> Moves:
        return priced(self._moves, self.held)

    @cached_property
    def _effort(self) -> Floats:
        """(N-1, 2, K, K): the best effort up to each pair from both ends."""
        known = None if self._met is None or self.held else self._met.swept.effort
        return self._held_moves.swept_on(known)

    @cached_property
    def _pairs(self) -> Floats:
        """(N-1, K, K): the best whole route through each pair of places of notes e and e+1."""
        effort = self._effort
        return effort[:, 0] + effort[::-1, 1].transpose(0, 2, 1) - self._held_moves.arrive

    @cached_property
    def worse_by(self) -> Floats:
        """(N, K): the min-marginal of each place above ``total``.

        FORBIDDEN and more means that no route goes there. Of a note that is settled, those of the
        line in which all others are settled.
        """
        if len(self.chosen) == 1:
            best: Floats = self._held_moves.begin[None]
        else:
            best = np.concatenate((self._pairs[:1].min(axis=2), self._pairs.min(axis=1)))
        worse: Floats = best - self.total
        worse[list(self.held)] -= SETTLED
        worse = np.maximum(worse, 0.0)
        worse[np.arange(len(worse)), self.chosen] = 0.0
        return worse

    def settled(self, held: Mapping[int, int]) -> "Solution":
        """The best route in which the notes of ``held`` have these choices, and what could be.

        Asked of a solution in which nothing is held.
        """
        if self._met is None:
            chosen, total = best_route(priced(self._moves, held))
        else:
            chosen, total = resolved(self._met, held)
        return replace(self, chosen=chosen, total=total, held=dict(held))

    def effort_with(self, held: Mapping[int, int]) -> float:
        """The total of :meth:`settled`."""
        if self._met is None:
            return best_route(priced(self._moves, held))[1]
        return effort_of(self._met, held)

    def dearer(self, holds: Sequence[tuple[int, int]]) -> list[float]:
        """The min-marginals of some choices, as (note, choice), where not all are wanted.

        Asked of a solution in which nothing is held.
        """
        if self._met is None:
            return [float(self.worse_by[hold]) for hold in holds]
        return dearer(self._met, self.total, holds)

    def points(self, chosen: NDArray[np.intp]) -> Floats:
        """(N,) what a route costs by the time each note is reached, less what it cost before."""
        notes = np.arange(len(chosen))
        at = self.choices.at.take((notes, chosen))
        places, moves, turns = route_terms(self.profile, self.choices.line, at, self.when)
        points = np.zeros(len(chosen))
        for skipped, terms in enumerate((places, moves, turns)):
            for term in terms.values():
                points[skipped:] += term
        return points

    def through(self, note: int, choice: int) -> tuple[int, NDArray[np.intp]]:
        """The best route through one place, as far as it differs from the best of all.

        Returns the first note of the differing stretch and the choices along it.
        """
        best = self.chosen
        if len(best) == 1:
            return 0, np.array([choice])
        route = {note: choice}
        if note + 1 < len(best):
            route[note + 1] = int(np.argmin(self._pairs[note, choice]))
        else:
            route[note - 1] = int(np.argmin(self._pairs[note - 1, :, choice]))
        low, high = min(route), max(route)
        moves, effort, end = self._held_moves, self._effort, len(best) - 2
        while low > 0 and (route[low] != best[low] or route[low + 1] != best[low + 1]):
            route[low - 1] = moves.before(effort, 0, low - 1, (route[low], route[low + 1]))
            low -= 1
        while high < len(best) - 1 and (
            route[high] != best[high] or route[high - 1] != best[high - 1]
        ):
            back = route[high], route[high - 1]
            route[high + 1] = moves.before(effort, 1, end - high, back)
            high += 1
        return low, np.array([route[i] for i in range(low, high + 1)])


def solve(
    choices: Choices,
    profile: Profile,
    usable: NDArray[np.bool_] | None = None,
    progress: StepCallback | None = None,
    prices: Floats | None = None,
) -> Solution:
    """The exact best route over ``choices`` (or over those of them in ``usable``).

    ``prices`` (N, K) are added to the points of standing in each place.
    """
    usable = choices.usable if usable is None else usable
    when = timing(profile, choices.line)
    stand = choices.stand + choices.held * when.hold[:, None]
    stand += choices.lasting * when.lasting[:, None]
    if prices is not None:
        stand += prices
    stand[0] += first_points(choices, profile)
    stand[~usable] = _CLOSED
    moves = _lay_moves(choices, profile, when, stand)
    if len(choices.line) == 1:
        return Solution(choices, profile, when, *best_route(moves), moves, None)
    met = meet(moves, progress)
    return Solution(choices, profile, when, *met.traced(met.whole()), moves, met)


def _lay_moves(choices: Choices, profile: Profile, when: Timing, stand: Floats) -> Moves:
    line = choices.line
    before = choices.at.take((slice(None, -1), slice(None), None))
    after = choices.at.take((slice(1, None), None, slice(None)))
    arrive = stand[1:, None, :] + np.zeros((1, stand.shape[1], 1))

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
    ready_out, ready_in, cost_out, cost_in = turn_parts(
        profile, after.extension_m - before.extension_m
    )
    ready_out[:-1] *= when.turn[per_move]
    ready_in[:-1] *= when.turn[per_move]
    wander = profile.wander * when.wander
    return Moves(stand[0], arrive, ready_out, ready_in, cost_out, cost_in, wander)


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
    progress: StepCallback | None = None,
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
        raise BadData("places.two_locks")
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
    progress: StepCallback | None = None,
) -> Tied:
    """The best route through a line of playable notes.

    ``locks`` fixes places by note index; ``written`` gives the number of the written note of each
    (default: each its own). Raises BadData when a lock isn't one of the note's places.
    """
    return solve_choices(lay_out(line, book, profile), profile, locks, written, progress)


def solve_choices(
    choices: Choices,
    profile: Profile,
    locks: Mapping[int, Place] | None = None,
    written: Sequence[int] | None = None,
    progress: StepCallback | None = None,
) -> Tied:
    """As :func:`solve_line`, over choices that are laid out already."""
    usable = choices.usable
    if locks:
        usable = usable.copy()
        for note, place in locks.items():
            if place not in choices.places[note]:
                raise BadData("places.no_such_lock")
            usable[note] = False
            usable[note, choices.places[note].index(place)] = True
    if written is None or len(set(written)) == len(written):
        return Tied(solve(choices, profile, usable, progress), True)
    return solve_tied(choices, profile, written, usable, progress)
