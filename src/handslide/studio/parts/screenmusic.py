"""The music of a stand for the screen: engraved once, its marks kept up to date in the page.

The engraving makes room for the marks of the route without locks, so that a choice doesn't engrave
it again; the page writes the marks of the present route into it.
"""

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from handslide.edges.engraving.engrave import Paper, engrave_part
from handslide.edges.engraving.screen import for_screen
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact
from handslide.instrument.markreading import is_unplayable_sign
from handslide.instrument.marks import UNPLAYABLE
from handslide.studio.cache import CacheKind
from handslide.studio.parts.openpart import OpenPart
from handslide.studio.studio import Studio

# One endless page: on a screen nobody turns.
_HEIGHT_MM = 1e6
# Widths in mm at which staves and marks are legible on a phone, a tablet in portrait, a desk.
WIDTHS_MM = {"narrow": 88.0, "medium": 138.0, "wide": 190.0}
MOST_ENGRAVED = 24


@dataclass(frozen=True, slots=True)
class ScreenMusic:
    """An SVG element for a page; ``tag`` names its content, as for an ETag."""

    svg: str
    tag: str


# What the engraver dies of or is too slow for is remembered too: nobody waits for it again.
_ENGRAVED: CacheKind[str, ScreenMusic | Fact] = CacheKind(MOST_ENGRAVED)


def music_tag(part: OpenPart, width: str, other: OpenPart | None = None) -> str:
    """The name of what :func:`screen_music` gives, without engraving."""
    read = part.marked.part
    content: list[Any] = [part.key.digest, read.part_id, read.staff, read.voice, width]
    content += [sorted(marks.items()) for marks in _rows(part, other)]
    return hashlib.sha256(json.dumps(content).encode()).hexdigest()[:32]


def screen_music(
    studio: Studio, part: OpenPart, width: str, other: OpenPart | None = None
) -> ScreenMusic:
    """The music of a part in one of `WIDTHS_MM`.

    With ``other``, the same part for another student or horn, both have a row of marks as they
    are now; without, the marks are those of the route without locks. Raises ScoreError.
    """
    tag = music_tag(part, width, other)

    def made() -> ScreenMusic | Fact:
        try:
            return ScreenMusic(_engrave(part, width, other), tag)
        except ScoreError as error:
            return error.fact

    found = studio.caches.of(_ENGRAVED).get(tag, made)
    if isinstance(found, Fact):
        raise ScoreError(found.kind, **found.values)
    return found


def _rows(part: OpenPart, other: OpenPart | None) -> list[dict[int, str]]:
    ordinals = part.marked.part.ordinals
    if other is None:
        rows = [part.with_locks({}).marks]
    else:
        rows = [part.routed.marks, other.routed.marks]
    # Every note has room for a mark: what can't be played has a sign of its own.
    return [
        {ordinal: marks.get(number, UNPLAYABLE) for number, ordinal in enumerate(ordinals)}
        for marks in rows
    ]


def _engrave(part: OpenPart, width: str, other: OpenPart | None) -> str:
    paper = Paper(
        "screen", WIDTHS_MM[width], _HEIGHT_MM,
        side_mm=0.0, top_mm=0.0, foot_mm=0.0, title_mm=0.0, hang_mm=3.0,
    )  # fmt: skip
    read = part.marked.part
    marks, *second = _rows(part, other)
    engraving = engrave_part(
        part.marked.score,
        read.part_id,
        marks,
        paper,
        staff=read.staff,
        second=second[0] if second else None,
        # What reads as a place is shown by the page's own marks.
        hidden={
            (read.notes[reading.number].ordinal, text)
            for reading in part.existing.readings
            if reading.is_mark
            for text in reading.texts
        }
        | {
            (row.ordinal, row.text)
            for row in part.existing.fingerings
            if is_unplayable_sign(row.text)
        },
    )
    return for_screen(engraving.pages[0])
