"""One line of a part: on a student's desk, and on the first page to show what handslide does."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from handslide import __version__
from handslide.edges.musicxml.read import read_score
from handslide.ground.limits import OPEN_SHEETS_BYTES
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, choose_for
from handslide.jobs.mark.opening import Opening, Room, opening_of
from handslide.jobs.mark.slideview import slide_view
from handslide.jobs.setup import make_setup
from handslide.studio.cache import CacheKind
from handslide.studio.parts.openpart import OpenPart
from handslide.studio.studio import Studio

ROOMS = {
    "wide": Room(230.0, 7, 22),
    "medium": Room(150.0, 4, 16),
    "narrow": Room(84.0, 2, 11),
}
DEMO_HORN = "tenor-f"
_DEMO_MEASURE = 19
DEMO_ROOMS = {"wide": Room(250.0, 4, 40), "narrow": Room(84.0, 1, 12)}
_STRIPS: CacheKind[str, str] = CacheKind(400, len, OPEN_SHEETS_BYTES)


def strip_tag(part: OpenPart, width: str) -> str:
    """The name of what :func:`stand_strip` gives, without engraving; the same after a restart."""
    read = part.marked.part
    content: list[Any] = [__version__, part.key.digest, read.part_id, read.staff, read.voice, width]
    marks = sorted((read.ordinals[number], mark) for number, mark in part.marked.printed.items())
    content += [marks, part.score.title]
    return hashlib.sha256(json.dumps(content).encode()).hexdigest()[:32]


def stand_strip(studio: Studio, part: OpenPart, width: str) -> str:
    """The first line of a part on a stand as an SVG element, in one of the ROOMS.

    Raises
    ------
    ScoreError, BadData
        A part that can't be engraved.
    """
    tag = strip_tag(part, width)
    return studio.caches.of(_STRIPS).get(tag, lambda: opening_of(part.marked, ROOMS[width]).svg)


@dataclass(frozen=True, slots=True)
class Demo:
    """What the first page shows: a line of music, and where the slide is at each of its marks."""

    svg: str
    places: tuple[Mapping[str, Any], ...]


@cache
def demo_slide() -> dict[str, Any]:
    """The slide of the demonstration, as `slide_view` gives it."""
    return slide_view(make_setup(DEMO_HORN))


@cache
def demo(width: str) -> Demo:
    """The demonstration in one of the DEMO_ROOMS: our own melody on a tenor with an F valve."""
    marked = _demo_part()
    line: Opening = opening_of(marked, DEMO_ROOMS[width], _DEMO_MEASURE)
    return Demo(line.svg, tuple(_place(marked, number) for number in line.notes))


@cache
def _demo_part() -> MarkedPart:
    data = resources.files("handslide") / "data" / "example" / "lanterns.musicxml"
    return choose_for(read_score(data.read_bytes()), make_setup(DEMO_HORN), MarkOptions())


def _place(marked: MarkedPart, number: int) -> dict[str, Any]:
    place = marked.routed.places[number]
    return {
        "valves": list(place.valves),
        "partial": place.partial,
        "extension_mm": round(1000.0 * place.extension_m, 2),
        "position": round(place.position, 2),
        "mark": marked.printed[number],
    }
