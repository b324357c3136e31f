"""What every kind of block of a hand-out is made of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from handslide.edges.htmlfile.page import HtmlBlock
from handslide.ground.facts import Fact
from handslide.instrument.places import Place
from handslide.jobs.setup import Setup
from handslide.words.places import place_out
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class HandoutBlock:
    """A block, whose horn it is for, and the glyphs that its drawings use.

    ``count`` notes and ``length_s`` seconds are in it, of a part the ``measures`` from one to
    another, from 0; ``told`` is what should be known of it.
    """

    html: HtmlBlock
    setup: Setup
    glyphs: Mapping[str, str] = field(default_factory=dict)
    count: int = 0
    length_s: float = 0.0
    told: Sequence[Fact] = ()
    measures: tuple[int, int] = (0, 0)


def place_json(say: Speech, setup: Setup, place: Place, mark: str) -> dict[str, Any]:
    """A place for the scripts of a page, with its mark and in words."""
    extension_mm = 1000.0 * place.extension_m
    return {
        "valves": list(place.valves),
        "partial": place.partial,
        "position": round(place.position, 4),
        "extension_mm": round(extension_mm, 2),
        "mark": mark,
        "words": place_out(say, setup.told(place).position, place.valves, extension_mm),
    }
