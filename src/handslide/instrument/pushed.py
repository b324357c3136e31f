"""A line solved again where some of its notes are held, without solving all of it again.

The recursion is run again from just before a held note, until every state differs from what it was
by the same points: from there on nothing has changed, and those points are what holding costs. In
the first half of a line that is done forwards, in the second half backwards, so that the recursion
that met in the middle is enough.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.effort import FORBIDDEN, Floats
from handslide.instrument.lattice import (
    Met,
    Route,
    best_route,
    elsewhere,
    price_of,
    priced,
    recur,
)

# A route that was pushed aside is back on its way within so many notes: tried one after the other.
REJOINS = (8, 30, 120)
# What was only added up in another order differs by less, in points.
_ROUNDING = 1e-8
_EPSILON = 1e-15
# Costs of so many numbers are laid out at a time.
_AT_ONCE = 200_000

Lane = Sequence[tuple[int, int]]
"""Held notes close together and their choices, by note counted from the end of the side."""


def resolved(met: Met, held: Mapping[int, int]) -> Route:
    """The best route in which the notes of ``held`` have these choices."""
    routes = _both(met, held)
    if routes is None:
        return best_route(priced(met.moves, held))
    ends, beyond, moved = zip(*((joint.ends, joint.beyond(), joint.moved) for joint in routes))
    chosen, total = met.traced(met.whole(*ends), *beyond)
    return chosen, total + sum(moved)


def effort_of(met: Met, held: Mapping[int, int]) -> float:
    """The effort of :func:`resolved`, without its route."""
    routes = _both(met, held)
    if routes is None:
        return best_route(priced(met.moves, held))[1]
    ahead, behind = routes
    return float(met.whole(ahead.ends, behind.ends).min()) + ahead.moved + behind.moved


def _both(met: Met, held: Mapping[int, int]) -> "tuple[_Joint, _Joint] | None":
    for reach in REJOINS:
        ahead = _joint(_Side.ahead(met), held, reach)
        behind = None if ahead is None else _joint(_Side.behind(met), held, reach)
        if ahead is not None and behind is not None:
            return ahead, behind
    return None


def dearer(met: Met, total: float, holds: Sequence[tuple[int, int]]) -> list[float]:
    """How many points above ``total`` the best route is with each of these notes held alone."""
    sides = _Side.ahead(met), _Side.behind(met)
    found: dict[tuple[int, int], float] = {}
    for reach in REJOINS:
        for side in sides:
            open_ = [hold for hold in holds if hold not in found and side.has(hold[0])]
            lanes = [[(side.place(note), choice)] for note, choice in open_]
            for hold, run in zip(open_, side.run(lanes, reach)):
                if run.moved is not None:
                    found[hold] = run.moved
                elif run.ends is not None:
                    found[hold] = float(met.whole(*side.as_ends(run.ends)).min()) - total
    return [
        found[hold] if hold in found else best_route(priced(met.moves, dict([hold])))[1] - total
        for hold in holds
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """The recursion run again over a lane, from pair ``first`` on: ``states`` (T+1, K, K) and
    ``costs`` (T, K, K, K). ``moved`` are the points by which all states differ at last, ``ends``
    the states where the sides meet; neither where the route isn't back on its way.
    """

    first: int
    states: Floats
    costs: Floats
    moved: float | None
    ends: Floats | None


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """One of the two recursions; arrays as the lanes of `lattice`, as far as pair ``limit``.

    ``late``: standing in a place is paid for when the pair that ends with its note is reached, not
    when the one that begins with it is.
    """

    met: Met
    late: bool
    limit: int
    ready: tuple[Floats, Floats]
    cost: tuple[Floats, Floats]
    arrive: Floats
    wander: Floats
    effort: Floats
    beyond: NDArray[np.int8]

    @classmethod
    def ahead(cls, met: Met) -> "_Side":
        """From the beginning of the line."""
        m, swept = met.moves, met.swept
        ready, cost = (m.ready_out, m.ready_in), (m.cost_in, m.cost_out)
        return cls(
            met, True, met.pair, ready, cost, m.arrive, m.wander,
            swept.effort[:, 0], swept.beyond[: met.pair, 0],
        )  # fmt: skip

    @classmethod
    def behind(cls, met: Met) -> "_Side":
        """From its end: the same on the line turned round."""
        m, swept = met.moves, met.swept
        turned = (m.ready_out, m.ready_in, m.cost_in, m.cost_out, m.arrive)
        out, into, back, onto, arrive = (part[::-1].transpose(0, 2, 1) for part in turned)
        return cls(
            met, False, met.rest, (back, onto), (out, into), arrive, m.wander[::-1],
            swept.effort[:, 1], swept.beyond[: met.rest, 1],
        )  # fmt: skip

    @property
    def width(self) -> int:
        return int(self.arrive.shape[1])

    def has(self, note: int) -> bool:
        """Whether holding a note changes this side."""
        return (note <= self.met.pair + 1) == self.late

    def place(self, note: int) -> int:
        """A note counted from the end of this side."""
        return note if self.late else len(self.met.moves.arrive) - note

    def lanes(self, held: Mapping[int, int], reach: int) -> list[Lane]:
        """The held notes of this side, those together that are too close to be apart."""
        rows = sorted((self.place(note), choice) for note, choice in held.items() if self.has(note))
        lanes: list[list[tuple[int, int]]] = []
        for row in rows:
            if lanes and row[0] - lanes[-1][-1][0] <= reach + 2:
                lanes[-1].append(row)
            else:
                lanes.append([row])
        return list(lanes)

    def as_ends(self, ends: Floats) -> tuple[Floats | None, Floats | None]:
        """States in the middle as arguments of :meth:`Met.whole`."""
        return (ends, None) if self.late else (None, ends)

    def run(self, lanes: Sequence[Lane], reach: int) -> Iterator[_Run]:
        """Run the recursion again over lanes, each ``reach`` pairs beyond its last held note."""
        low = longest = 0
        for high, lane in enumerate(lanes):
            steps = lane[-1][0] - lane[0][0] + reach + 2
            longest = max(longest, steps)
            if low < high and longest * (high + 1 - low) * self.width**3 > _AT_ONCE:
                yield from self._run(lanes[low:high], reach)
                low, longest = high, steps
        if lanes:
            yield from self._run(lanes[low:], reach)

    def _run(self, lanes: Sequence[Lane], reach: int) -> list[_Run]:
        # The first pair that holding a note changes, and the one before it.
        lead = 2 if self.late else 1
        first = np.array([max(lane[0][0] - lead, 0) for lane in lanes])
        last = np.minimum([lane[-1][0] + reach for lane in lanes], self.limit)
        steps = int((last - first).max())
        at = np.minimum(first + np.arange(steps + 1)[:, None], self.limit)
        states = np.empty((steps + 1, len(lanes), self.width, self.width))
        states[0] = self.effort[first]
        arrive = self.arrive[at]
        for number, lane in enumerate(lanes):
            for note, choice in lane:
                self._hold(note, choice, states[0, number], arrive[:, number], int(first[number]))
        costs = self._costs(at, arrive)
        if steps:
            recur(states, costs)
        moved = self._moved(last, states[last - first, np.arange(len(lanes))])
        runs = []
        for n, (low, high) in enumerate(zip(first.tolist(), last.tolist())):
            own, cost = states[: high - low + 1, n], costs[: high - low, n]
            at_end = high == self.limit
            ends = own[-1] if at_end else None
            runs.append(_Run(low, own, cost, None if at_end else moved[n], ends))
        return runs

    def _hold(self, note: int, choice: int, begin: Floats, arrive: Floats, first: int) -> None:
        price = price_of(self.width, choice)
        if self.late:
            pair, price = (note - 1, price) if note else (0, price[:, None])
        else:
            pair, price = note, price[:, None]
        if pair == first:
            begin += price
        else:
            arrive[pair - first] += price

    def _costs(self, at: NDArray[np.intp], arrive: Floats) -> Floats:
        """(T, lanes, K, K, K): turn, wander and arrival of each step from pair to pair."""
        now, later = at[:-1], at[1:]
        costs = self.ready[0][now][..., None] * self.cost[0][later][..., None, :, :]
        costs += self.ready[1][now][..., None] * self.cost[1][later][..., None, :, :]
        if len(self.wander):
            apart = self.wander[np.minimum(now, len(self.wander) - 1)]
            costs += (apart[..., None, None] * elsewhere(self.width))[..., :, None, :]
        costs += arrive[1:, :, None]
        return np.asarray(costs)

    def _moved(self, last: NDArray[np.intp], states: Floats) -> list[float | None]:
        """Of each lane the points by which its ``states`` (lanes, K, K) differ from what they were
        at its ``last`` pair; None where not all that can be do so by the same."""
        was = self.effort[last].reshape(len(last), -1)
        differ = states.reshape(was.shape) - was
        least = was.min(axis=1)
        open_ = was - least[:, None] < FORBIDDEN / 2.0
        most = differ.max(axis=1, where=open_, initial=-np.inf)
        spread = most - differ.min(axis=1, where=open_, initial=np.inf)
        one = differ[np.arange(len(last)), open_.argmax(axis=1)]
        # Behind a glissando that can't be all sums are huge, and rounded so.
        alike = spread <= _ROUNDING + _EPSILON * least
        return [moved if ok else None for moved, ok in zip(one.tolist(), alike.tolist())]


@dataclass(frozen=True, slots=True, eq=False)
class _Joint:
    """One side with all its lanes: the ``ends`` where the sides meet (None: as they were), and the
    points ``moved`` that all else differs by."""

    side: _Side
    runs: Sequence[_Run]

    @property
    def ends(self) -> Floats | None:
        """The states where the sides meet."""
        return self.runs[-1].ends if self.runs else None

    @property
    def moved(self) -> float:
        """The points by which they differ from what they were."""
        return sum(run.moved or 0.0 for run in self.runs)

    def beyond(self) -> NDArray[np.int8]:
        """The way back."""
        beyond = self.side.beyond.copy()
        for run in self.runs:
            back = run.states[:-1, :, :, None] + run.costs
            beyond[run.first : run.first + len(back)] = back.argmin(axis=1)
        return beyond


def _joint(side: _Side, held: Mapping[int, int], reach: int) -> _Joint | None:
    """One side with all its lanes; None where one isn't back on its way, or the lanes too long."""
    lanes = side.lanes(held, reach)
    if not lanes:
        return _Joint(side, ())
    longest = max(lane[-1][0] - lane[0][0] for lane in lanes) + reach
    if longest * len(lanes) > 2 * side.limit + REJOINS[0]:
        return None
    runs = []
    for run in side.run(lanes, reach):
        if run.moved is None and run.ends is None:
            return None
        runs.append(run)
    return _Joint(side, runs)
