"""Notes to play in order, on staves: each with its number, its valves, and if it was heard."""

from collections.abc import Sequence
from dataclasses import dataclass

from handslide.ground.clefs import Clef
from handslide.ground.pitch import Pitch
from handslide.sheets.metrics import music_sign
from handslide.sheets.notes import note_head, staff_lines
from handslide.sheets.onenote import StaffNote
from handslide.sheets.shapes import MARKS, MUSIC, Circle, Line, Region, Shape, Text, pt

MOST_IN_ROW = 9
HEARD, LEFT_OUT = "heard", "left-out"
_SPACE_MM = 2.0  # between two staff lines
_LEFT_MM, _COLUMN_MM = 10.0, 11.5
_ROOM_MM = 3.0  # above and below the staff: a clef's ends
_OVER_MM, _UNDER_MM = 5.6, 5.2  # rows of valves and of numbers
_OVER_PT, _NUMBER_PT = 12.0, 11.0
_DISC_MM = 1.0


@dataclass(frozen=True, slots=True)
class ListedNote:
    """A note of a list. ``over`` stands above it (its valves, or a partial without a name);
    ``pitch`` None: it has no name. ``state``: empty, HEARD or LEFT_OUT."""

    number: int
    pitch: Pitch | None
    over: str = ""
    state: str = ""


def note_rows(clef: Clef, notes: Sequence[ListedNote]) -> tuple[StaffNote, ...]:
    """Staves of equal size with all ``notes``, as evenly filled as can be.

    A note's column is a Region named by its state, where it has one; a heard one has a disc before
    its number, one left out a line through it.
    """
    if not notes:
        return ()
    count = -(-len(notes) // MOST_IN_ROW)
    per_row = -(-len(notes) // count)
    places = [clef.place(clef.written(one.pitch)) for one in notes if one.pitch is not None]
    over_mm = _OVER_MM if any(one.over for one in notes) else 0.0
    above = max(_ROOM_MM, (max(places, default=4) - 4) * _SPACE_MM / 2 + _SPACE_MM)
    below = max(_ROOM_MM, (-4 - min(places, default=-4)) * _SPACE_MM / 2 + _SPACE_MM)
    middle = over_mm + above + 2 * _SPACE_MM
    height = middle + 2 * _SPACE_MM + below + _UNDER_MM
    width = _LEFT_MM + MOST_IN_ROW * _COLUMN_MM
    return tuple(
        StaffNote(tuple(_row(clef, notes[k : k + per_row], middle, height)), width, height)
        for k in range(0, len(notes), per_row)
    )


def _row(clef: Clef, notes: Sequence[ListedNote], middle: float, height: float) -> list[Shape]:
    right = _LEFT_MM + len(notes) * _COLUMN_MM
    shapes = staff_lines(0.0, right, middle, _SPACE_MM)
    sign_y = middle - clef.sign_place * _SPACE_MM / 2
    shapes.append(Text(0.8, sign_y, music_sign(clef.sign), 4 * _SPACE_MM / pt(1.0), face=MUSIC))
    top, foot = middle - 2 * _SPACE_MM, middle + 2 * _SPACE_MM
    shapes.append(Line(right, top, right, foot, 0.3))
    for column, note in enumerate(notes):
        shapes += _column(clef, note, _LEFT_MM + (column + 0.5) * _COLUMN_MM, middle, height)
    return shapes


def _column(clef: Clef, note: ListedNote, x: float, middle: float, height: float) -> list[Shape]:
    shapes: list[Shape] = []
    if note.pitch is not None:
        shapes += note_head(clef, note.pitch, x, middle, _SPACE_MM, "noteheadWhole")
    if note.over:
        shapes.append(
            Text(x, _OVER_MM - 1.4, note.over, _OVER_PT, MARKS, weight=700, anchor="middle")
        )
    base = height - 1.4
    number = Text(x, base, str(note.number), _NUMBER_PT, anchor="middle")
    shapes.append(number)
    left, mid = number.left_mm, base - 0.32 * pt(_NUMBER_PT)
    if note.state == HEARD:
        shapes.append(Circle(left - 1.8, mid, _DISC_MM, fill=0.0, stroke_mm=None))
    if note.state == LEFT_OUT:
        shapes.append(Line(left - 1.0, mid, left + number.width_mm + 1.0, mid, 0.35))
    if note.state:
        shapes.append(Region(x - _COLUMN_MM / 2, 0.0, _COLUMN_MM, height, note.state))
    return shapes
