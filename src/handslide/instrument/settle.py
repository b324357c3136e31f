"""The route as a teacher writes it: near ties go to the plain place, what returns stays the same.

First the exact route. Then all notes that are the same note of a figure are looked at together:
where they lie in several places, or (of ``QUICK_S`` or more) in an alternate or in a far place that
valves spare, they go where the best whole routes cost least in all, or to their plain place if that
costs at most ``NEAR_TIE`` more for each. A note for which it costs more than ``FIGURE_TIE``
stays; a note that is no figure's goes home if that costs at most ``NEAR_TIE``. All these are held,
and the line is solved again, exactly. Where a stretch of the new route costs more above the first
one than a note in it may alone, only the first of its new places stays held, or none, and the line
is solved again. Near what has moved, notes are looked at in the same way twice more.

Where a profile wants one place for each note, that comes instead: see :func:`_one_place`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.lattice import StepCallback
from handslide.instrument.line import Line
from handslide.instrument.places import Place, PlaceBook
from handslide.instrument.profile import Profile
from handslide.instrument.pushed import REJOINS
from handslide.instrument.route import NEAR_TIE, Choices, Solution, lay_out, solve_choices

QUICK_S = 0.2
"""Shorter notes lie where the hand is: nobody hears them in a plainer place."""

FIGURE_TIE = 3.0
"""Points that a player gives up to play a figure as the hand knows it."""

ROUNDS = 3
# No place that a note can be played in costs so many points.
_CANNOT = 1e4
# A figure has this many notes at least; longer ones are looked for by doubling it so many times.
FIGURE = 3
_DOUBLINGS = 2
# Rhythms that differ by less are the same.
_SAME_S = 1e-3
# A turn is about three notes: stretches that differ are apart where two notes between them agree.
_APART = 3
# Of a larger group, one note is asked first.
_MANY = 4
# Notes that are held make no difference to each other further apart.
_NEAR = 2 * REJOINS[-1]

Held = dict[int, int]
"""Choices by note."""


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """A route and the exact best one that it was settled from (one object where nothing was).

    ``exact`` is false where the ties of written notes were made without proof of the optimum.
    """

    solution: Solution
    first: Solution
    exact: bool


def choose(
    line: Line,
    book: PlaceBook,
    profile: Profile,
    locks: Mapping[int, Place] | None = None,
    written: Sequence[int] | None = None,
    progress: StepCallback | None = None,
) -> Settled:
    """The settled route through a line of playable notes.

    ``locks`` fixes places by note index; ``written`` gives the number of the written note of each
    (default: each its own). Raises BadData when a lock isn't one of the note's places.
    """
    return choose_from(lay_out(line, book, profile), profile, locks, written, progress)


def choose_from(
    choices: Choices,
    profile: Profile,
    locks: Mapping[int, Place] | None = None,
    written: Sequence[int] | None = None,
    progress: StepCallback | None = None,
) -> Settled:
    """As :func:`choose`, over choices that are laid out already."""
    tied = solve_choices(choices, profile, locks, written, progress)
    return Settled(settle(tied.solution, written), tied.solution, tied.exact)


def settle(first: Solution, written: Sequence[int] | None = None) -> Solution:
    """Settle the exact route ``first``; notes with one number in ``written`` stay together."""
    count = len(first.chosen)
    numbers = np.arange(count)
    if written is not None:
        numbers = np.unique(np.asarray(written), return_inverse=True)[1].reshape(-1)
    plain = (first.choices.stand + first.choices.held).argmin(axis=1)
    if first.profile.one_place > 0.0:
        return _kept_to_one_place(first, plain, numbers)
    roots = figure_roots(first.choices.line, numbers)
    settled = first
    open_ = np.ones(count, bool)
    for _ in range(ROUNDS):
        groups = _unsettled(settled, plain, roots, open_)
        if not groups:
            break
        new = _wanted(_costs(first, settled, numbers, groups), groups)
        trial, alone = settled, not settled.held
        while new:
            trial = _solved(first, {**settled.held, **new}, numbers)
            kept = _within(first, trial, new, numbers, roots, alone=alone)
            if len(kept) == len(new):
                break
            trial, new, alone = settled, kept, False
        if trial is settled:
            break
        near = np.flatnonzero(trial.chosen != settled.chosen)[:, None] + np.arange(
            -_APART, _APART + 1
        )
        open_ = np.zeros(count, bool)
        open_[near[(near >= 0) & (near < count)]] = True
        open_[list(trial.held)] = False
        settled = trial
    return settled


def figure_roots(line: Line, numbers: NDArray[np.intp]) -> NDArray[np.intp]:
    """For each note, the first of all those that are the same note of a figure."""
    sources = earlier_figures(line, numbers)
    roots = np.where(sources >= 0, sources, np.arange(len(sources)))
    while (roots[roots] != roots).any():
        roots = roots[roots]
    return roots


def earlier_figures(line: Line, numbers: NDArray[np.intp]) -> NDArray[np.intp]:
    """For each note, the note that it was when its figure came first; -1 where there is none.

    A figure is three notes or more of the same pitches, rhythm and slurs. Where a note belongs to
    several, the longest counts (of 3, 6 and 12 notes), then the one that begins first. A note that
    is played again because it is written once follows its first time.
    """
    count = len(line)
    _, first, which = np.unique(numbers, return_index=True, return_inverse=True)
    sources = first[which.reshape(-1)]
    sources[sources == np.arange(count)] = -1
    gap = np.append(np.diff(line.onset_s), line.length_s[-1:])
    kinds = (np.rint(gap / _SAME_S).astype(np.int64) * 128 + line.midi) * 2 + line.slur
    single = _Windows.single(kinds)
    windows = single
    for _ in range(FIGURE - 1):
        windows = windows.followed(single)
    found = [windows]
    for _ in range(_DOUBLINGS):
        found.append(found[-1].followed(found[-1]))
    for windows in reversed(found):
        windows.fill(sources)
    return sources


class _Windows:
    """All runs of ``length`` notes in a line, by what they are: equal runs have equal numbers."""

    def __init__(self, length: int, numbers: NDArray[np.intp], first: NDArray[np.intp]) -> None:
        self.length, self.numbers, self.first = length, numbers, first

    @classmethod
    def single(cls, kinds: NDArray[np.int64]) -> "_Windows":
        """The notes themselves."""
        _, first, numbers = np.unique(kinds, return_index=True, return_inverse=True)
        return cls(1, numbers.reshape(-1), first)

    def followed(self, other: "_Windows") -> "_Windows":
        """Each run with the one of ``other`` that comes after it."""
        later = other.numbers[self.length :]
        pairs = self.numbers[: len(later)] * (len(other.first) + 1) + later
        _, first, numbers = np.unique(pairs, return_index=True, return_inverse=True)
        return _Windows(self.length + other.length, numbers.reshape(-1), first)

    def fill(self, sources: NDArray[np.intp]) -> None:
        """Give notes without a source theirs in the first run of the same kind."""
        first = self.first[self.numbers]
        again = np.flatnonzero(first < np.arange(len(first)))
        for offset in range(self.length - 1, -1, -1):
            notes = again + offset
            free = sources[notes] < 0
            sources[notes[free]] = first[again[free]] + offset


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Notes that are the same note of a figure, and the ``ways`` that they could all be played.

    ``home`` is their plain place, if one of them should go there; -1 otherwise.
    """

    notes: list[int]
    ways: list[int]
    home: int

    def mostly(self, chosen: NDArray[np.intp], way: int) -> bool:
        """Whether most of the notes lie there already."""
        return 2 * int((chosen[self.notes] == way).sum()) > len(self.notes)


def _unsettled(
    settled: Solution, plain: NDArray[np.intp], roots: NDArray[np.intp], open_: NDArray[np.bool_]
) -> list[_Group]:
    """The groups that lie in several places, or away from home though they are long enough.

    At least one of their notes must be in ``open_``.
    """
    chosen, at = settled.chosen, settled.choices.at
    here = np.arange(len(chosen)), chosen
    lies_plain = (at.alternate[here] == 0) & ~at.spared[here]
    away = ~lies_plain & (settled.choices.line.length_s >= QUICK_S) & (chosen != plain)
    unsettled = set(roots[away | (chosen != chosen[roots])].tolist())
    groups = []
    for root in sorted(unsettled.intersection(roots[open_].tolist())):
        notes = np.flatnonzero(roots == root).tolist()
        ways = list(dict.fromkeys(chosen[notes].tolist()))
        home = int(plain[root]) if away[notes].any() else -1
        if home >= 0 and home not in ways:
            ways.append(home)
        groups.append(_Group(notes, ways, home))
    return groups


@dataclass(frozen=True, slots=True, eq=False)
class _Costs:
    """How much worse the best whole route through a place is, for all notes of its written note.

    Those of the first solution that are sure to be asked for are ``known``; the others are solved
    for one by one.
    """

    first: Solution
    settled: Solution
    numbers: NDArray[np.intp]
    known: dict[tuple[int, int], float]

    def of(self, note: int, choice: int) -> float:
        if self.settled.chosen[note] == choice:
            return 0.0
        if len(self.numbers) == int(self.numbers[-1]) + 1:
            return self._alone(note, choice)
        notes = np.flatnonzero(self.numbers == self.numbers[note]).tolist()
        return sum(self._alone(each, choice) for each in notes)

    def _alone(self, note: int, choice: int) -> float:
        hold = note, choice
        if hold not in self.known:
            self.known[hold] = self._solved(note, choice)
        return self.known[hold]

    def _solved(self, note: int, choice: int) -> float:
        if not self.settled.held:
            return self.first.dearer([(note, choice)])[0]
        if note in self.settled.held:
            return 0.0 if self.settled.held[note] == choice else np.inf
        # What is held further away than any route is pushed aside makes no difference.
        near = {n: k for n, k in self.settled.held.items() if abs(n - note) <= _NEAR}
        dearer = self.first.effort_with({**near, note: choice}) - self.first.effort_with(near)
        return max(0.0, dearer)


def _costs(
    first: Solution, settled: Solution, numbers: NDArray[np.intp], groups: list[_Group]
) -> _Costs:
    if settled.held or len(numbers) != int(numbers[-1]) + 1:
        return _Costs(first, settled, numbers, {})
    known: dict[tuple[int, int], float] = {}
    chosen = settled.chosen

    def ask(holds: Iterable[tuple[int, int]]) -> None:
        new = sorted(hold for hold in holds if chosen[hold[0]] != hold[1] and hold not in known)
        known.update(zip(new, first.dearer(new)))

    # Where the first note of many can't go, what it costs the others is of no interest.
    many = [group for group in groups if len(group.notes) > _MANY]
    if many:
        ask((group.notes[0], way) for group in many for way in group.ways)
    lost = {
        (group.notes[0], way)
        for group in many
        for way in group.ways
        if known.get((group.notes[0], way), 0.0) > FIGURE_TIE and not group.mostly(chosen, way)
    }
    ask(
        (note, way)
        for group in groups
        for way in group.ways
        if (group.notes[0], way) not in lost
        for note in group.notes
    )
    return _Costs(first, settled, numbers, known)


def _wanted(costs: _Costs, groups: list[_Group]) -> Held:
    """Where the notes of each group go; what returns most often decides first.

    A group waits for the next round where a note of a larger one moves beside it.
    """
    new: Held = {}
    beside: dict[int, int] = {}
    for group in sorted(groups, key=lambda group: -len(group.notes)):
        size = len(group.notes)
        if any(beside.get(note, 0) > size for note in group.notes):
            continue
        for note, choice in _together(costs, group).items():
            new[note] = choice
            for near in range(note - _APART + 1, note + _APART):
                beside.setdefault(near, size)
    return new


def _together(costs: _Costs, group: _Group) -> Held:
    """The notes of a group that move: to where all cost least, or home if nearly so.

    They go where all of them can go for ``FIGURE_TIE`` (``NEAR_TIE`` if the note is alone), or as
    many as can where most of them lie.
    """
    chosen, notes = costs.settled.chosen, group.notes
    each = list({int(costs.numbers[note]): note for note in notes}.values())
    most = FIGURE_TIE if len(each) > 1 else NEAR_TIE
    points: dict[int, list[float]] = {way: [] for way in group.ways}
    for way, row in points.items():
        common = group.mostly(chosen, way)
        for note in each:
            row.append(costs.of(note, way))
            if row[-1] > most and not common:
                break
    ways = [way for way in group.ways if max(points[way]) <= most or group.mostly(chosen, way)]
    if not ways:
        return {}
    sums = {way: sum(min(most, cost) for cost in points[way]) for way in ways}
    take = min(ways, key=lambda way: sums[way])
    if group.home in ways and sums[group.home] <= sums[take] + NEAR_TIE * len(each):
        take = group.home
    able = {int(costs.numbers[note]) for note, cost in zip(each, points[take]) if cost <= most}
    return {
        note: take
        for note in notes
        if chosen[note] != take and costs.numbers[note] in able and note not in costs.settled.held
    }


def _kept_to_one_place(
    first: Solution, plain: NDArray[np.intp], numbers: NDArray[np.intp]
) -> Solution:
    settled = first
    for _ in range(ROUNDS):
        new = _one_place(settled, plain)
        if not new:
            break
        settled = _solved(first, {**settled.held, **new}, numbers)
    return settled


def _one_place(settled: Solution, plain: NDArray[np.intp]) -> Held:
    """For all notes of a pitch the one place that costs least over the line.

    That is the place with the least sum of min-marginals, or the plain place where this has at most
    ``one_place`` points more for each note. Only a note that can't be played there goes elsewhere.
    """
    midi, worse = settled.choices.line.midi, np.minimum(settled.worse_by, _CANNOT)
    new: Held = {}
    for pitch in sorted(set(midi.tolist())):
        notes = np.flatnonzero(midi == pitch)
        sums = worse[notes].sum(axis=0)
        home, best = int(plain[notes[0]]), int(sums.argmin())
        if sums[home] <= sums[best] + settled.profile.one_place * len(notes):
            best = home
        away = notes[(worse[notes, best] < _CANNOT) & (settled.chosen[notes] != best)]
        new.update((note, best) for note in away.tolist() if note not in settled.held)
    return new


def _solved(first: Solution, held: Held, numbers: NDArray[np.intp]) -> Solution:
    """The line solved with notes held, all notes of a written note in one place."""
    while True:
        trial = first.settled(held)
        apart = np.flatnonzero(trial.chosen != first.chosen)
        if len(numbers) == int(numbers.max()) + 1 or not len(apart):
            return trial
        torn = set(numbers[apart].tolist())
        more: Held = {}
        for number in torn:
            notes = np.flatnonzero(numbers == number).tolist()
            places = {int(trial.chosen[note]) for note in notes}
            if len(places) > 1:
                where = next((held[note] for note in notes if note in held), None)
                stay = int(first.chosen[notes[0]]) if where is None else where
                more.update((note, stay) for note in notes)
        if not more:
            return trial
        held = {**held, **more}


def _within(
    first: Solution,
    trial: Solution,
    new: Held,
    numbers: NDArray[np.intp],
    roots: NDArray[np.intp],
    *,
    alone: bool,
) -> Held:
    """What is left of the ``new`` places where each stretch costs what one of them may.

    ``alone``: the first new place of each stretch, which alone is a near tie, may stay.
    """
    kept = dict(new)
    differs = np.flatnonzero(first.chosen != trial.chosen)
    if trial.total - first.total <= NEAR_TIE or not len(differs):
        return kept
    returns = (
        np.bincount(roots[np.unique(numbers, return_index=True)[1]], minlength=len(roots))[roots]
        > 1
    )
    dearer = np.cumsum(trial.points(trial.chosen) - first.points(first.chosen))
    follows = np.array([note for note in trial.held if returns[note]], np.intp)
    cuts = np.flatnonzero(np.diff(differs) >= _APART) + 1
    for stretch in np.split(differs, cuts):
        low, high = int(stretch[0]), int(stretch[-1])
        before = dearer[low - 1] if low else 0.0
        in_figure = ((follows > low - _APART) & (follows < high + _APART)).any()
        most = FIGURE_TIE if in_figure else NEAR_TIE
        if dearer[min(high + 2, len(dearer) - 1)] - before <= most:
            continue
        inside = sorted(note for note in new if low - _APART < note < high + _APART)
        for note in inside:
            if not alone or numbers[note] != numbers[inside[0]]:
                kept.pop(note, None)
    return kept
