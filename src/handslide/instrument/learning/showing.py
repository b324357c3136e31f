"""What was learnt, as a teacher can check it: a change, and two places in the music that need it.

Weights aren't known by themselves: only what they make of notes is. A change is told if putting
the weight back to what it was, all else as learnt, moves notes away from where the teacher has
them, that the profile he began from had elsewhere. Where single weights can't be told apart, a few
are taken together that a teacher would name in one breath.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.effort import Floats, timing
from handslide.instrument.learning.example import Examples
from handslide.instrument.learning.features import INDEX, route_features
from handslide.instrument.learning.learn import Learnt, chosen_by, lay_out_all
from handslide.instrument.learning.passages import Bases, Passage
from handslide.instrument.learning.weights import PARTIALS, WEIGHTS, profile_with, weights_of
from handslide.instrument.places import Place
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
    """A note of an example, by their numbers, that a change puts where the teacher has it (``his``
    place), and where it would be ``without``."""

    example: int
    note: int
    his: Place
    without: Place


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
    passages = lay_out_all(examples, bases)
    by_kind: dict[str, list[Passage]] = {}
    for passage in passages:
        by_kind.setdefault(passage.kind, []).append(passage)
    rows = [row for kind, mine in sorted(by_kind.items()) for row in _rows(kind, mine, learnt)]
    found: list[Change] = []
    shown: set[tuple[int, int]] = set()
    # What is told later shows in other notes.
    for row in sorted(_named_once(_merged(rows)), key=lambda row: -row.gain):
        shows = _two([each for each in row.won if (each.example, each.note) not in shown])
        if len(found) == MOST or row.gain < LEAST_GAIN:
            break
        if shows is not None:
            factor = row.now / row.before if row.before > 0.0 else None
            found.append(Change(row.what, factor, row.kind or None, shows, len(row.won)))
            shown |= {(each.example, each.note) for each in shows}
    return tuple(found)


def _rows(kind: str, passages: Sequence[Passage], learnt: Learnt) -> Iterator[_Row]:
    """All that changed on one kind of horns."""
    base, horn = passages[0].base, passages[0].book.horn
    profile = learnt.factors.profile(base, horn)
    before, now = weights_of(base), weights_of(profile)
    routes = [_Routes.of(passage, profile) for passage in passages]
    for what, weights in WHATS.items():
        index = np.array([INDEX[name] for name in weights])
        changed = [k for k in index.tolist() if _differs(before[k], now[k])]
        rising = {bool(now[k] > before[k]) for k in changed}
        if len(rising) != 1:
            continue
        back = now.copy()
        back[index] = before[index]
        without = profile_with(profile, back)
        points, won, spoilt = np.zeros(len(WEIGHTS)), list[Shown](), 0
        for row in routes:
            other = row.by(without)
            points += row.features(row.ours) + row.features(other)
            won += row.won(other)
            spoilt += row.spoilt(other)
        share = points[index]
        sums = float(share @ before[index]), float(share @ now[index])
        yield _Row(what, kind, *sums, tuple(won), spoilt)


def _differs(before: float, now: float) -> bool:
    if before == 0.0:
        return now > 0.0
    return not 1.0 / LEAST_FACTOR < now / before < LEAST_FACTOR


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

    def by(self, without: Profile) -> Ints:
        """The route by another profile. Where the exact one is the same, so is what follows."""
        if np.array_equal(_exact(self.passage, without), self.exact):
            return self.ours
        return chosen_by(self.passage, without)

    def won(self, other: Ints) -> list[Shown]:
        """What is his by ``ours`` alone."""
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

    def spoilt(self, other: Ints) -> int:
        """How many notes would be his by ``other`` only."""
        return int((self._his(other) & ~self._his(self.ours)).sum())

    def features(self, route: Ints) -> Floats:
        """(F,) what each weight is multiplied by on a route."""
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


def _merged(rows: Sequence[_Row]) -> list[_Row]:
    """One row for what changed the same way on all kinds of horns."""
    kinds = {row.kind for row in rows}
    merged: list[_Row] = []
    for what in WHATS:
        mine = [row for row in rows if row.what == what]
        if len(mine) < len(kinds) or len({row.rises for row in mine}) > 1:
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
        if before is None or row.example != before.example or row.note > before.note + _APART
    ]


def _two(shown: Sequence[Shown]) -> tuple[Shown, Shown] | None:
    """Two stretches, of different notes if there are any; None where there aren't two."""
    rows = _apart(shown)
    if len(rows) < 2:
        return None
    other = (row for row in rows if (row.his, row.without) != (rows[0].his, rows[0].without))
    return rows[0], next(other, rows[1])
