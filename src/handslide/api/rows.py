"""A place of a note, and all of them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import overload

import numpy as np

from handslide.api.arrays import Bools, Floats, Ints, fixed
from handslide.ground.facts import Fact


@dataclass(frozen=True, slots=True)
class Place:
    """One way to play a note.

    ``valves`` are engaged, ``partial`` sounds (1 is the pedal), the slide is ``extension_mm`` out
    from the closed stop. ``position`` is the same in semitones of the open horn, 1 closed.
    ``lip_cents`` is how far the note must be lipped up there, ``mark`` what is written over it.
    """

    valves: tuple[str, ...]
    partial: int
    extension_mm: float
    position: float
    lip_cents: float
    mark: str


@dataclass(frozen=True, eq=False)
class Places(Sequence[Place]):
    """The places of one note, shortest slide first; a sequence, and arrays with an entry a place.

    ``midi`` is the note, with a fraction where it was given with one. Empty where the note can't be
    played: ``why`` is then a fact that says why, and None otherwise.
    """

    midi: float
    why: Fact | None
    _rows: tuple[Place, ...] = field(repr=False)
    _valves: tuple[str, ...] = field(repr=False)

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, index: int) -> Place: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[Place, ...]: ...

    def __getitem__(self, index: int | slice) -> Place | tuple[Place, ...]:
        return self._rows[index]

    @property
    def extension_mm(self) -> Floats:
        """(P,) how far out, mm."""
        return fixed([place.extension_mm for place in self._rows])

    @property
    def position(self) -> Floats:
        """(P,) positions, 1 closed."""
        return fixed([place.position for place in self._rows])

    @property
    def lip_cents(self) -> Floats:
        """(P,) how far to lip up, cents."""
        return fixed([place.lip_cents for place in self._rows])

    @property
    def partial(self) -> Ints:
        """(P,) partials."""
        return fixed([place.partial for place in self._rows], np.int64)

    @property
    def valves(self) -> Bools:
        """(P, V) whether each valve of the horn is engaged, in the order of ``horn.valves``."""
        return valve_table(self._rows, self._valves)


def valve_table(rows: Iterable[Place | None], valves: tuple[str, ...]) -> Bools:
    """(rows, V) which valves each place engages; none where there is no place."""
    table = [[place is not None and name in place.valves for name in valves] for place in rows]
    return fixed(np.reshape(np.array(table, np.bool_), (len(table), len(valves))), np.bool_)
