"""Places that the teacher has locked, as typed: ``MEASURE:INDEX=PLACE``."""

import re
from dataclasses import dataclass

from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch
from handslide.ground.wholenumber import whole_number
from handslide.instrument.markreading import read_mark
from handslide.instrument.marks import mark
from handslide.instrument.places import Place
from handslide.jobs.setup import Setup

_LOCK = re.compile(r"(?:(?P<measure>[^:=]+):)?(?P<index>\d+)=(?P<place>.+)")


@dataclass(frozen=True, slots=True)
class Lock:
    """``measure`` as printed, or ``#N`` for the Nth of the part; ``index`` counts from 1."""

    measure: str | None
    index: int
    place: str

    def __str__(self) -> str:
        where = f"{self.measure}:" if self.measure is not None else ""
        return f"{where}{self.index}={self.place}"


def parse_lock(text: str, *, with_measure: bool) -> Lock:
    """Read a lock. Raises BadUsage."""
    match = _LOCK.fullmatch(text.strip())
    if match is None or (match["measure"] is not None) != with_measure:
        if with_measure:
            raise BadUsage("marks.not_a_lock", text=text)
        raise BadUsage("marks.not_a_lock_of_line", text=text)
    index = whole_number(match["index"])
    if index is None or index < 1:
        raise BadUsage("marks.lock_from_one", text=text)
    measure = match["measure"]
    return Lock(measure.strip() if measure else None, index, match["place"].strip())


def find_locked(setup: Setup, lock: Lock, pitch: Pitch) -> Place:
    """The place of ``pitch`` that a lock names.

    It may be written in any way that `handslide.instrument.markreading` reads: in any mark style,
    with ``b``, ``#`` and ``.5`` for the signs, or as valves and a position (``F 2.3``).

    Raises
    ------
    BadUsage
        When the note has no such place, naming those it has.
    """
    places = setup.book.places(pitch.midi)
    read = read_mark(setup.horn, places, lock.place, setup.style)
    if read:
        return read[0]
    has = ", ".join(mark(setup.horn, place, setup.style) for place in places)
    if not has:
        raise BadUsage("marks.lock_unplayable", lock=str(lock), pitch=pitch)
    raise BadUsage("marks.lock_no_place", lock=str(lock), pitch=pitch, place=lock.place, has=has)
