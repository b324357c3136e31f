"""The rows of many takes: the tuning of each day taken off, and the groups that notes belong to."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.instrument.marks import position_text
from handslide.instrument.progress.estimate import median, spread_of

LEAST_TUNING = 4
_CLOSED_MM, _MOVE_MM = 5.0, 30.0
LEAST_SIGMA = 2.0
_TUNED = ("right", "free")
_SCORED = ("right", "wrong", "missing", "octave")
_LEAST_GROUP = 6
Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class TakenNote:
    """A note of a take. ``when_days`` counts from any day; ``valves`` and ``position`` (on the open
    horn's scale, so that horns compare) are None where no place is known.

    ``played``: right, wrong, missing, octave, unsure; ``free`` in a take without a part.
    ``move_mm`` is the way of the slide from the note before, None after a rest or a fault.
    """

    when_days: float
    take: int
    midi: int
    played: str
    valves: tuple[str, ...] | None = None
    partial: int | None = None
    position: float | None = None
    extension_mm: float | None = None
    cents: float | None = None
    cents_se: float | None = None
    slide_mm: float | None = None
    slide_se_mm: float | None = None
    move_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Tuning:
    """The tuning of the horn in a take; ``closed`` is false where no closed notes vouch for it."""

    take: int
    when_days: float
    cents: float
    notes: int
    closed: bool


class Table:
    """The rows as columns; ``cents`` beside the tuning, NaN where a note isn't in tune's book.

    ``order`` holds the takes by time, ``turn`` each row's place among them.
    """

    def __init__(self, rows: Sequence[TakenNote]) -> None:
        self.rows = rows
        self.take = np.array([row.take for row in rows], np.intp)
        self.when = np.array([row.when_days for row in rows], float)
        tuned = [row.played in _TUNED and row.cents is not None for row in rows]
        raw = [row.cents if ok else np.nan for row, ok in zip(rows, tuned)]
        self.cents = np.array(raw, float)
        self.closed = np.array(
            [row.extension_mm is not None and row.extension_mm <= _CLOSED_MM for row in rows]
        )
        firsts = {row.take: row.when_days for row in reversed(rows)}
        self.order = sorted(firsts, key=lambda take: (firsts[take], take))
        self.first_day = firsts
        turns = {take: turn for turn, take in enumerate(self.order)}
        self.turn = np.array([turns[row.take] for row in rows], np.intp)
        self.scored = np.array([row.played in _SCORED for row in rows])
        self.right = np.array([row.played == "right" for row in rows])
        self.tuning = tuple(self._tuning(take) for take in self.order)
        for one in self.tuning:
            self.cents[self.take == one.take] -= one.cents
        self.sigma = max(self._within(), LEAST_SIGMA)

    def _tuning(self, take: int) -> Tuning:
        at = (self.take == take) & ~np.isnan(self.cents)
        cents = self.cents[at]
        when, count = self.first_day[take], len(cents)
        if count < LEAST_TUNING:
            return Tuning(take, when, 0.0, count, False)
        whole = median(cents)
        closed = self.cents[at & self.closed]
        if len(closed) < 2:
            return Tuning(take, when, whole, count, False)
        here = median(closed)
        # A tuning slide moves all notes alike: only what both show is the tuning.
        shared = min(whole, here, key=abs) if whole * here > 0 else 0.0
        return Tuning(take, when, shared, count, True)

    def _within(self) -> float:
        """The spread of a note within a take, over all notes of one pitch in one take."""
        cells: dict[tuple[int, int], list[float]] = {}
        for row, cents in zip(self.rows, self.cents):
            if not np.isnan(cents):
                cells.setdefault((row.take, row.midi), []).append(cents)
        found = [(len(c) - 1, spread_of(np.array(c)) ** 2) for c in cells.values() if len(c) > 1]
        total = sum(df for df, _ in found)
        return float(np.sqrt(sum(df * v for df, v in found) / total)) if total else IN_TUNE_CENTS


# The groups.


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """The rows ``at`` that belong together, and what names them."""

    kind: str
    at: Ints
    valves: tuple[str, ...] | None = None
    position: float | None = None
    midi: int | None = None
    partial: int | None = None


def find_groups(table: Table) -> list[Group]:
    """All rows, places, notes in places, and the groups in which a habit may show."""
    rows = table.rows
    everything = Group("all", np.arange(len(rows)))
    places = _places(rows)
    notes = [
        replace(place, kind="note", at=np.array(at, np.intp), midi=midi)
        for place in places
        for midi, at in sorted(grouped(place.at.tolist(), lambda n: rows[n].midi).items())
    ]
    nowhere = [n for n, row in enumerate(rows) if row.position is None]
    notes += [
        Group("note", np.array(at, np.intp), midi=midi)
        for midi, at in sorted(grouped(nowhere, lambda n: rows[n].midi).items())
    ]
    known = [n for n, row in enumerate(rows) if row.position is not None]
    away = [n for n in known if not table.closed[n]]
    wide = [
        _group("away", away),
        _group("out", [n for n in known if (rows[n].move_mm or 0.0) > _MOVE_MM]),
        _group("in", [n for n in away if (rows[n].move_mm or 0.0) < -_MOVE_MM]),
    ]
    for valves, at in sorted(grouped(known, lambda n: rows[n].valves or ()).items()):
        if valves:
            wide.append(replace(_group("valve", at), valves=valves))
    for partial, at in sorted(grouped(known, lambda n: rows[n].partial or 0).items()):
        if partial:
            wide.append(replace(_group("partial", at), partial=partial))
    place_of = {n: number for number, place in enumerate(places) for n in place.at.tolist()}
    wide = [
        group
        for group in wide
        if len(group.at) >= _LEAST_GROUP and len({place_of[n] for n in group.at.tolist()}) > 1
    ]
    return [everything, *places, *notes, *wide]


def grouped(numbers: Iterable[int], key: Callable[[int], Any]) -> dict[Any, list[int]]:
    """Row numbers by what ``key`` says of each, in their order."""
    found: dict[Any, list[int]] = {}
    for number in numbers:
        found.setdefault(key(number), []).append(number)
    return found


def _group(kind: str, at: list[int]) -> Group:
    return Group(kind, np.array(at, np.intp))


def _places(rows: Sequence[TakenNote]) -> list[Group]:
    """Notes by valves and half position; named after the middle of the positions played.

    Half positions, because a new fit of the horn moves a place by a few millimetres.
    """
    cells: dict[tuple[tuple[str, ...], float], list[int]] = {}
    for n, row in enumerate(rows):
        if row.position is not None and row.valves is not None:
            cells.setdefault((row.valves, round(2.0 * row.position) / 2.0), []).append(n)
    named: dict[tuple[tuple[str, ...], str], list[int]] = {}
    for (valves, _), at in sorted(cells.items(), key=lambda cell: (len(cell[0][0]), cell[0])):
        named.setdefault((valves, position_text(_middle(rows, at))), []).extend(at)
    return [
        Group("place", np.array(sorted(at), np.intp), valves, _middle(rows, at))
        for (valves, _), at in named.items()
    ]


def _middle(rows: Sequence[TakenNote], at: Sequence[int]) -> float:
    return median(np.array([rows[n].position or 1.0 for n in at]))
