"""One note on a staff of its own."""

from dataclasses import dataclass

from handslide.ground.clefs import Clef
from handslide.ground.pitch import Pitch
from handslide.sheets.metrics import music_sign
from handslide.sheets.notes import note_head, staff_lines
from handslide.sheets.shapes import MUSIC, Line, Rect, Shape, Text, pt

_SPACE_MM = 2.0  # between two staff lines
_WIDTH_MM = 46.0
_ROOM_MM = 3.4  # above and below the staff: a clef's ends


@dataclass(frozen=True, slots=True)
class StaffNote:
    """The drawing and its size in mm."""

    shapes: tuple[Shape, ...]
    width_mm: float
    height_mm: float


def staff_note(clef: Clef, pitch: Pitch) -> StaffNote:
    """A whole note of sounding ``pitch`` in ``clef``, with a closing bar line."""
    place = clef.place(clef.written(pitch))
    above = max(_ROOM_MM, (place - 4) * _SPACE_MM / 2 + _SPACE_MM)
    below = max(_ROOM_MM, (-4 - place) * _SPACE_MM / 2 + _SPACE_MM)
    middle = above + 2 * _SPACE_MM
    shapes = staff_lines(0.0, _WIDTH_MM, middle, _SPACE_MM)
    sign_y = middle - clef.sign_place * _SPACE_MM / 2
    shapes.append(Text(0.8, sign_y, music_sign(clef.sign), 4 * _SPACE_MM / pt(1.0), face=MUSIC))
    shapes += note_head(clef, pitch, 0.46 * _WIDTH_MM, middle, _SPACE_MM, "noteheadWhole")
    top, tall = middle - 2 * _SPACE_MM, 4 * _SPACE_MM
    thin = _WIDTH_MM - 2.0
    shapes.append(Line(thin, top, thin, top + tall, 0.3))
    shapes.append(Rect(_WIDTH_MM - 1.1, top - 0.1, 1.1, tall + 0.2, 0.0))
    return StaffNote(tuple(shapes), _WIDTH_MM, middle + 2 * _SPACE_MM + below)
