"""What was learnt, as a teacher can check it: a change, and two places in the music that need it.

Weights aren't known by themselves: only what they make of notes is. A change is told if putting
the weight back to what it was, all else as learnt, moves notes away from where the teacher has
them, that the profile he began from had elsewhere. Where single weights can't be told apart, a few
are taken together that a teacher would name in one breath.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.effort import Floats, timing
from handslide.instrument.horn import Horn
from handslide.instrument.learning.example import Answer, At, Examples
from handslide.instrument.learning.features import INDEX, route_features
from handslide.instrument.learning.learn import Learnt, chosen_by, lay_out_all
from handslide.instrument.learning.passages import (
    Bases,
    Passage,
    Pick,
    book_of,
    lay_out_answer,
    place_of,
)
from handslide.instrument.learning.weights import PARTIALS, WEIGHTS, profile_with, weights_of
from handslide.instrument.places import Place, PlaceBook
from handslide.instrument.profile import Profile
from handslide.instrument.route import lay_out, solve

MOST = 5
"""Changes that are told: more can't be checked at a glance."""
GROUPS: Mapping[str, tuple[str, ...]] = {
    "ways": ("distance_per_m", "speed_per_m2_s2", "jolt_per_m2_s4"),
    "valve_moves": ("valve_move", "valve_swap"),
    "without_valves": ("valve_colour", "valve_home"),
    "alternates": ("alternate", "held_alternate", "seek"),
    "smears": ("smear", "smear_per_m"),
    "high_partials": ("odd_partial", *(f"partials.{partial}" for partial in PARTIALS)),
}
"""Weights that are named in one breath."""
WHATS: Mapping[str, tuple[str, ...]] = {**{name: (name,) for name in WEIGHTS}, **GROUPS}
"""All that can be said to have changed, and the weights that it is."""
# A weight that changed by a smaller factor isn't told, whatever it moves.
LEAST_FACTOR = 1.25
# Nor one that doesn't do this much.
LEAST_GAIN = 2
# One weight stands for its group if it moves this share of what the group does.
_ALONE = 0.7
Ints = NDArray[np.intp]
# Notes as near as this to each other show one thing.
_APART = 2


@dataclass(frozen=True, slots=True)
class Shown:
    """A note that a change puts where the teacher has it (``his`` place), and where it would be
    ``without``; the numbers are those of `At`.

    Of an answer: the first note in which the two ways to play differ.
    """

    example: int
    note: int
    his: Place
    without: Place
    answered: bool = False

    @property
    def at(self) -> At:
        """Which note it is."""
        return At(self.example, self.note, self.answered)


@dataclass(frozen=True, slots=True)
class Change:
    """What seems to matter more or less than before: ``what`` is a key of :data:`WHATS`.

    ``factor`` says how much more, over the music of the examples; None where it didn't matter at
    all before. ``kind`` is the kind of horns that it was found on, None if it is so on all of
    them. ``notes`` are his choices that need it.
    """

    what: str
    factor: float | None
    kind: str | None
    shows: tuple[Shown, Shown]
    notes: int


@dataclass(frozen=True, slots=True)
class _Row:
    """One thing on one kind of horns ("": on all): the points that it gives to the routes before
    and now, the notes that it alone puts where he has them, and how many it puts elsewhere."""

    what: str
    kind: str
    before: float
    now: float
    won: tuple[Shown, ...]
    spoilt: int

    @property
    def rises(self) -> bool:
        return self.now > self.before

    @property
    def gain(self) -> int:
        """How many stretches it puts where he has them, less the notes that it puts elsewhere."""
        return len(_apart(self.won)) - self.spoilt


def changes(examples: Examples, learnt: Learnt, bases: Bases) -> tuple[Change, ...]:
    """What was learnt and can be shown, at most MOST changes, what moves most notes first.

    Raises HornError, AirError, BadData for a horn or a profile that can't be.
    """
    kinds = _kinds(examples, bases)
    rows = [row for kind, mine in sorted(kinds.items()) for row in _rows(kind, mine, learnt)]
    found: list[Change] = []
    told: set[At] = set()
    # What is told later shows in other notes.
    for row in sorted(_named_once(_merged(rows, len(kinds))), key=lambda row: -row.gain):
        shows = _two([each for each in row.won if each.at not in told])
        if len(found) == MOST or row.gain < LEAST_GAIN:
            break
        if shows is not None:
            factor = row.now / row.before if row.before > 0.0 else None
            found.append(Change(row.what, factor, row.kind or None, shows, len(row.won)))
            told |= {each.at for each in shows}
    return tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class _Kind:
    """What there is of one kind of horns: passages, and answers with what each of them shows."""

    base: Profile
    horn: Horn
    passages: list[Passage] = field(default_factory=list)
    picks: list[tuple[Pick, Shown]] = field(default_factory=list)


def _kinds(examples: Examples, bases: Bases) -> dict[str, _Kind]:
    kinds: dict[str, _Kind] = {}
    for passage in lay_out_all(examples, bases):
        kind = kinds.setdefault(passage.kind, _Kind(passage.base, passage.book.horn))
        kind.passages.append(passage)
    for number, answer in enumerate(examples.answers):
        pick = lay_out_answer(number, answer, bases)
        if pick is not None:
            book, _ = book_of(answer.question.stand, bases)
            kind = kinds.setdefault(pick.kind, _Kind(pick.base, book.horn))
            kind.picks.append((pick, _first_difference(number, answer, book)))
    return kinds


def _first_difference(number: int, answer: Answer, book: PlaceBook) -> Shown:
    """The first note in which the two ways of a question differ."""
    question = answer.question
    ways = question.first, question.second
    his, left = ways if answer.picked == 1 else ways[::-1]
    note = next(k for k, (one, other) in enumerate(zip(his, left)) if one != other)
    places = book.places(question.notes[note].midi)
    mine, other = (places[place_of(places, way[note])] for way in (his, left))
    return Shown(number, note, mine, other, answered=True)


def _rows(name: str, kind: _Kind, learnt: Learnt) -> Iterator[_Row]:
    """All that changed on one kind of horns."""
    base = kind.base
    profile = learnt.factors.profile(base, kind.horn)
    before, now = weights_of(base), weights_of(profile)
    tests: list[_Routes | _Asked] = [_Routes.of(passage, profile) for passage in kind.passages]
    tests += [_Asked(pick.more, shown, before, now) for pick, shown in kind.picks]
    for what, weights in WHATS.items():
        index = np.array([INDEX[each] for each in weights])
        changed = [k for k in index.tolist() if _differs(before[k], now[k])]
        rising = {bool(now[k] > before[k]) for k in changed}
        if len(rising) != 1:
            continue
        back = now.copy()
        back[index] = before[index]
        found = [test.without(profile_with(profile, back)) for test in tests]
        share = np.sum([each.points for each in found], axis=0)[index]
        sums = float(share @ before[index]), float(share @ now[index])
        won = tuple(shown for each in found for shown in each.won)
        yield _Row(what, name, *sums, won, sum(each.spoilt for each in found))


def _differs(before: float, now: float) -> bool:
    if before == 0.0:
        return now > 0.0
    return not 1.0 / LEAST_FACTOR < now / before < LEAST_FACTOR


@dataclass(frozen=True, slots=True, eq=False)
class _Without:
    """What another profile does: ``points`` (F,) are what each weight is multiplied by in what is
    compared, ``won`` the notes that are his by ours alone, ``spoilt`` how many by the other alone.
    """

    points: Floats
    won: list[Shown]
    spoilt: int


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """An answer, and the weights (F,) that it began from and those that were learnt.

    ``more`` (F,) is what the way that he left has more of each feature.
    """

    more: Floats
    shown: Shown
    before: Floats
    now: Floats

    def without(self, other: Profile) -> _Without:
        """What another profile would pick."""
        first, ours, theirs = (
            bool(self.more @ weights > 0.0)
            for weights in (self.before, self.now, weights_of(other))
        )
        won = [self.shown] if ours and not theirs and not first else []
        return _Without(np.abs(self.more), won, int(theirs and not ours))


@dataclass(frozen=True, slots=True, eq=False)
class _Routes:
    """A passage with the places that the learnt ``profile`` gives it (``ours``), exactly and as
    they are settled, and those by the profile that it began from."""

    passage: Passage
    exact: Ints
    ours: Ints
    first: Ints

    @classmethod
    def of(cls, passage: Passage, profile: Profile) -> "_Routes":
        ours, first = (chosen_by(passage, which) for which in (profile, passage.base))
        return cls(passage, _exact(passage, profile), ours, first)

    def without(self, other: Profile) -> _Without:
        """What another profile would choose."""
        route, ours = self._by(other), self.ours
        points = self._features(ours) + self._features(route)
        spoilt = int((self._his(route) & ~self._his(ours)).sum())
        return _Without(points, self._won(route), spoilt)

    def _by(self, other: Profile) -> Ints:
        # Where the exact route is the same, so is what is settled then.
        if np.array_equal(_exact(self.passage, other), self.exact):
            return self.ours
        return chosen_by(self.passage, other)

    def _won(self, other: Ints) -> list[Shown]:
        passage = self.passage
        only = self._his(self.ours) & ~self._his(other) & ~self._his(self.first)
        return [
            Shown(
                passage.example,
                int(passage.notes[row]),
                passage.choices.places[row][int(self.ours[row])],
                passage.choices.places[row][int(other[row])],
            )
            for row in np.flatnonzero(only).tolist()
        ]

    def _features(self, route: Ints) -> Floats:
        passage = self.passage
        line = passage.choices.line
        at = passage.choices.at.take((np.arange(len(line)), route))
        return route_features(passage.base, line, at, timing(passage.base, line), begins=True)

    def _his(self, route: Ints) -> NDArray[np.bool_]:
        passage = self.passage
        his = passage.his[np.arange(len(route)), route] & passage.seen
        return np.asarray(his)


def _exact(passage: Passage, profile: Profile) -> Ints:
    return solve(lay_out(passage.choices.line, passage.book, profile), profile).chosen


def _merged(rows: Sequence[_Row], kinds: int) -> list[_Row]:
    """One row for what changed the same way on all ``kinds`` of horns that there are."""
    merged: list[_Row] = []
    for what in WHATS:
        mine = [row for row in rows if row.what == what]
        if len(mine) < kinds or len({row.rises for row in mine}) > 1:
            merged += mine
        elif mine:
            won = tuple(shown for row in mine for shown in row.won)
            before, now = sum(row.before for row in mine), sum(row.now for row in mine)
            merged.append(_Row(what, "", before, now, won, sum(row.spoilt for row in mine)))
    return merged


def _named_once(rows: Sequence[_Row]) -> list[_Row]:
    """Without single weights where it takes their group, and without groups where one will do."""
    left = list(rows)
    for group in [row for row in rows if row.what in GROUPS]:
        singles = [row for row in rows if row.kind == group.kind and row.what in GROUPS[group.what]]
        most = max((row.gain for row in singles), default=0)
        together = most < _ALONE * group.gain
        left = [row for row in left if row not in (singles if together else [group])]
    return left


def _apart(shown: Sequence[Shown]) -> list[Shown]:
    """The first of each stretch of notes."""
    return [
        row
        for before, row in zip([None, *shown], shown)
        if before is None
        or (row.example, row.answered) != (before.example, before.answered)
        or row.note > before.note + _APART
    ]


def _two(shown: Sequence[Shown]) -> tuple[Shown, Shown] | None:
    """Two stretches, of different notes if there are any; None where there aren't two."""
    rows = _apart(shown)
    if len(rows) < 2:
        return None
    other = (row for row in rows if (row.his, row.without) != (rows[0].his, rows[0].without))
    return rows[0], next(other, rows[1])
