"""The pictures of a take for a screen: short pieces that stand beside each other or below.

Each piece is as wide as a phone is; a wide screen has several in a row.
"""

from dataclasses import dataclass

from handslide.sheets.shapes import Box, Shape
from handslide.sheets.takecontent import TakePage
from handslide.sheets.takeplot import GUTTER_MM, system
from handslide.sheets.takereport import break_at, least_slot_mm, scales_of

HEIGHT_MM = 66.0
_AIM, _MOST = 8, 10
_MOST_SLOT_MM, _ROOM_MM, _EDGE_MM = 11.0, 74.0, 0.6


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of the pictures; ``spots`` are the notes' columns, counted from ``first`` on."""

    first: int
    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]
    spots: tuple[Box, ...]


def screen_pieces(content: TakePage) -> tuple[Piece, ...]:
    """The pictures of a take in pieces that break at measures where they can."""
    notes, scales = content.notes, scales_of(content)
    pieces = []
    start = 0
    while start < len(notes):
        end = break_at(notes, start, _AIM, _MOST)
        share = notes[start:end]
        slot = max(min(_MOST_SLOT_MM, _ROOM_MM / len(share)), least_slot_mm(share))
        shapes = system(share, scales, content.texts, (0.0, 0.0, slot, HEIGHT_MM))
        lefts = [GUTTER_MM + slot * k for k in range(len(share))]
        spots = tuple((left, 0.0, left + slot, HEIGHT_MM) for left in lefts)
        # All are equally wide, so that they can be scaled alike.
        width = GUTTER_MM + max(slot * len(share), _ROOM_MM) + _EDGE_MM
        pieces.append(Piece(start, width, HEIGHT_MM, tuple(shapes), spots))
        start = end
    return tuple(pieces)
