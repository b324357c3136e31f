"""The recursion over pairs of places that finds the best route, from both ends of a line.

A state is a pair of places of two neighbouring notes, because a turn of the slide needs three. With
N notes of at most K places each: time O(N·K³), memory O(N·K²).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.effort import Floats

# Costs are laid out for about this many bytes at a time: they stay in the cache, memory in O(N).
_CHUNK_BYTES = 400_000
# Points of leaving a place that is settled: far above any real sum, far below a broken glissando.
SETTLED = 1e6
StepCallback = Callable[[int, int], None]
"""Told how many steps of how many are done."""

Route = tuple[NDArray[np.intp], float]
"""The choices along a route, and its effort."""


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """What the recursion runs on, for N notes of K places.

    ``begin`` (K,) the points of beginning in a place; ``arrive`` (N-1, K, K) those of moving and
    standing; of each move also how far it readies a turn, weighed by the turn's factor, and what
    it costs as a turn. ``wander`` (N-2,) are the points of a note in another place than the next
    but one.
    """

    begin: Floats
    arrive: Floats
    ready_out: Floats
    ready_in: Floats
    cost_out: Floats
    cost_in: Floats
    wander: Floats

    @property
    def lanes(self) -> "Lanes":
        """Both recursions: the line as it is, and the line turned round.

        On the line turned round pair e of E is the transposed pair E-1-e. Each lane (x0, x1, y0,
        y1, arrive): a turn costs x0[t]·y0[t+1] + x1[t]·y1[t+1].
        """
        parts = self.ready_out, self.ready_in, self.cost_in, self.cost_out, self.arrive
        out_, into_, back_, onto_, arrive_ = (part[::-1].transpose(0, 2, 1) for part in parts)
        return parts, (back_, onto_, out_, into_, arrive_)

    def sweep(self, pairs: int, progress: StepCallback | None = None) -> "Swept":
        """Run the recursion over ``pairs`` pairs of notes from both ends at once.

        The move within a pair is included from both ends.
        """
        effort = self._begun(pairs)
        beyond = np.empty((pairs - 1, 2, *effort.shape[2:]), np.int8)
        self._run(effort, 0, beyond, progress)
        return Swept(effort, beyond)

    def swept_on(self, begun: Floats | None = None) -> Floats:
        """(N-1, 2, K, K): the effort of :meth:`sweep` over all pairs, without the places beyond.

        ``begun`` are those of its first pairs, as far as they are known.
        """
        effort = self._begun(len(self.arrive))
        if begun is not None:
            effort[: len(begun)] = begun
        self._run(effort, 0 if begun is None else len(begun) - 1, None, None)
        return effort

    def _begun(self, pairs: int) -> Floats:
        effort = np.empty((pairs, 2, *self.arrive.shape[1:]))
        effort[0] = self.begin[:, None] + self.arrive[0], self.arrive[-1].T
        return effort

    def _run(
        self,
        effort: Floats,
        first: int,
        beyond: NDArray[np.int8] | None,
        progress: StepCallback | None,
    ) -> None:
        """Go on from pair ``first`` of ``effort``; ``beyond``: see `Swept`, None: not wanted."""
        steps, width = len(effort) - 1, effort.shape[2]
        size = max(16, _CHUNK_BYTES // (16 * width**3))
        shape = (min(size, steps), 2, width, width, width)
        room, drawn = np.empty(shape), np.empty(shape[1:] + shape[:1]).transpose(4, 0, 1, 2, 3)
        for low in range(first, steps, size):
            high = min(steps, low + size)
            costs = self._costs(low, high, room, drawn)
            recur(effort[low : high + 1], costs)
            if beyond is not None:
                costs += effort[low:high, :, :, :, None]
                beyond[low:high] = costs.argmin(axis=2)
            if progress is not None:
                progress(high, steps)

    def _costs(self, low: int, high: int, room: Floats, drawn: Floats) -> Floats:
        """(T, 2, K, K, K): what the steps from ``low`` to ``high`` of both lanes cost."""
        costs, draft = room[: high - low], drawn[: high - low]
        now, later = slice(low, high), slice(low + 1, high + 1)
        for lane, (out, into, back, onto, arrive) in enumerate(self.lanes):
            ready, cost = (out[now], into[now]), (back[later], onto[later])
            _turns(draft[:, lane], ready, cost, arrive[later])
        costs[:] = draft
        for lane, apart in enumerate((self.wander, self.wander[::-1])):
            steps_apart = np.flatnonzero(apart[now])
            if len(steps_apart):
                more = apart[now][steps_apart, None, None] * elsewhere(costs.shape[2])
                costs[steps_apart, lane] += more[:, :, None, :]
        return costs

    def before(self, effort: Floats, lane: int, step: int, choices: tuple[int, int]) -> int:
        """The place of the note before pair ``step`` + 1 of a lane, whose places are ``choices``.

        ``effort`` as :meth:`swept_on` has it; what `Swept.beyond` has of every pair.
        """
        out, into, back, onto, arrive = self.lanes[lane]
        middle, last = choices
        later = step + 1
        costs = out[step, :, middle] * back[later, middle, last]
        costs += into[step, :, middle] * onto[later, middle, last]
        costs += arrive[later, middle, last]
        apart = (self.wander, self.wander[::-1])[lane][step]
        if apart:
            costs += apart * elsewhere(len(costs))[:, last]
        return int((costs + effort[step, lane, :, middle]).argmin())


Lanes = tuple[tuple[Floats, ...], tuple[Floats, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Swept:
    """Of P pairs from each end: the best effort up to each pair (P, 2, K, K), and the place of the
    note before the pair (P-1, 2, K, K). Lane 1 is on the line turned round."""

    effort: Floats
    beyond: NDArray[np.int8]


@dataclass(frozen=True, slots=True, eq=False)
class Met:
    """The recursion from both ends as far as the ``pair`` of notes in the middle where it meets."""

    moves: Moves
    swept: Swept
    pair: int

    @property
    def rest(self) -> int:
        """The same pair counted from the end."""
        return len(self.moves.arrive) - 1 - self.pair

    def whole(self, ahead: Floats | None = None, behind: Floats | None = None) -> Floats:
        """(K, K): the best whole route through each pair of places in the middle.

        ``ahead`` and ``behind`` stand in for what was found from the beginning and from the end.
        """
        ahead = self.swept.effort[self.pair, 0] if ahead is None else ahead
        behind = self.swept.effort[self.rest, 1] if behind is None else behind
        return np.asarray(ahead + behind.T - self.moves.arrive[self.pair])

    def traced(
        self,
        whole: Floats,
        before: NDArray[np.int8] | None = None,
        after: NDArray[np.int8] | None = None,
    ) -> Route:
        """The best route by ``whole``, and its effort; ``before`` and ``after`` as in `whole`."""
        first, second = divmod(int(whole.argmin()), len(whole))
        ahead, behind = [second, first], [first, second]
        _trace(ahead, (self.swept.beyond[: self.pair, 0] if before is None else before)[::-1])
        _trace(behind, (self.swept.beyond[: self.rest, 1] if after is None else after)[::-1])
        route = [*ahead[:1:-1], *behind]
        return np.array(route, np.intp), float(whole[first, second])


def meet(moves: Moves, progress: StepCallback | None = None) -> Met:
    """Run the recursion from both ends until it meets; of two notes or more."""
    half = len(moves.arrive) // 2 + 1
    return Met(moves, moves.sweep(half, progress), half - 1)


def best_route(moves: Moves) -> Route:
    """The best route and its effort."""
    if not len(moves.arrive):
        return np.array([moves.begin.argmin()]), float(moves.begin.min())
    met = meet(moves)
    return met.traced(met.whole())


def _turns(
    out: Floats, first: tuple[Floats, Floats], second: tuple[Floats, Floats], arrive: Floats
) -> None:
    """out[t, a, b, c] = first[0]·second[0] + first[1]·second[1] + arrive, over (a,b) and (b,c)."""
    np.multiply(first[0][:, :, :, None], second[0][:, None, :, :], out=out)
    out += first[1][:, :, :, None] * second[1][:, None, :, :]
    out += arrive[:, None, :, :]


def recur(state: Floats, costs: Floats) -> None:
    """state[t+1, :, b, c] = min over a of state[t, :, a, b] + costs[t, :, a, b, c]: the loop."""
    total = np.empty_like(costs[0])
    add, least = np.add, np.minimum.reduce
    for now, cost, later in zip(list(state[:-1, :, :, :, None]), list(costs), list(state[1:])):
        add(now, cost, total)
        least(total, 1, None, later)


def _trace(route: list[int], beyond: NDArray[np.int8]) -> None:
    """Go on from the last two choices of a route to those beyond them, (T, K, K) of them."""
    width = beyond.shape[1]
    flat, start = beyond.tobytes(), 0
    before, now = route[-2:]
    for start in range(0, len(flat), width * width):
        before, now = now, flat[start + now * width + before]
        route.append(now)


def priced(moves: Moves, held: Mapping[int, int]) -> Moves:
    """The moves in which leaving the choices of ``held`` costs more than any route."""
    if not held:
        return moves
    begin, arrive = moves.begin.copy(), moves.arrive.copy()
    for note, choice in held.items():
        price = price_of(len(begin), choice)
        if note:
            arrive[note - 1] += price
        else:
            begin += price
    return replace(moves, begin=begin, arrive=arrive)


def price_of(width: int, choice: int) -> Floats:
    """(K,) the points of each choice where one is settled."""
    price = np.full(width, SETTLED)
    price[choice] = 0.0
    return price


def elsewhere(width: int) -> Floats:
    """(K, K): 1 where two notes of one pitch have different places, else 0."""
    return 1.0 - np.eye(width)
