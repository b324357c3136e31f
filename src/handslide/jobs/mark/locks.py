"""Places that the teacher has locked, as typed: ``MEASURE:INDEX=PLACE``."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch
from handslide.instrument.marks import mark
from handslide.instrument.markstyle import VALVE_SIGNS, MarkStyle
from handslide.instrument.places import Place
from handslide.jobs.setup import Setup

_LOCK = re.compile(r"(?:(?P<measure>[^:=]+):)?(?P<index>\d+)=(?P<place>.+)")
_ASCII = str.maketrans({"♭": "b", "♯": "#", "·": None})
_NEAR = 0.25


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
    if int(match["index"]) < 1:
        raise BadUsage("marks.lock_from_one", text=text)
    measure = match["measure"]
    return Lock(measure.strip() if measure else None, int(match["index"]), match["place"].strip())


def find_locked(setup: Setup, lock: Lock, pitch: Pitch) -> Place:
    """The place of ``pitch`` that a lock names.

    It may be written in any mark style (``6``, ``T1``, ``F1``, ``V2``), with ``b``, ``#`` and
    ``.5`` for the signs, or as valves and a position (``F 2.3``).

    Raises
    ------
    BadUsage
        When the note has no such place, naming those it has.
    """
    places = setup.book.places(pitch.midi)
    wanted = _plain(lock.place)
    for place in places:
        if wanted in _spellings(setup, place):
            return place
    by_number = _by_number(setup, wanted, places)
    if by_number is not None:
        return by_number
    has = ", ".join(mark(setup.horn, place, setup.style) for place in places)
    if not has:
        raise BadUsage("marks.lock_unplayable", lock=str(lock), pitch=pitch)
    raise BadUsage("marks.lock_no_place", lock=str(lock), pitch=pitch, place=lock.place, has=has)


def _plain(text: str) -> str:
    text = text.translate(_ASCII).replace("½", ".5").replace("1/2", ".5").replace(" ", "")
    return re.sub(r"(?<=\d)\.50*(?=$)", ".5", text).lower()


def _spellings(setup: Setup, place: Place) -> set[str]:
    styles = *(MarkStyle(signs) for signs in VALVE_SIGNS), setup.style
    return {_plain(mark(setup.horn, place, style)) for style in styles}


def _by_number(setup: Setup, wanted: str, places: Sequence[Place]) -> Place | None:
    match = re.fullmatch(r"(?P<sign>[a-z#+]*?)(?P<position>\d+(\.\d+)?)", wanted)
    if match is None:
        return None
    position = float(match["position"])
    fitting = []
    for place in places:
        signs = {re.sub(r"[b#]?[\d.]+$", "", text) for text in _spellings(setup, place)}
        signs.add("+".join(place.valves).lower())
        if match["sign"] in signs and abs(place.position - position) < _NEAR:
            fitting.append(place)
    return min(fitting, key=lambda p: abs(p.position - position), default=None)
