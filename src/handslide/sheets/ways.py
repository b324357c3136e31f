"""Two ways to play the same measures: the music with its marks, and under it the slide's path.

The path goes down as the slide goes out. It stands still under each note and turns between them;
notes in which the two ways differ have a band behind them and the larger dots.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from handslide.sheets.shapes import (
    MARKS,
    Circle,
    Line,
    Page,
    Path,
    Picture,
    Rect,
    Shape,
    Text,
)

PATH_MM = 21.5  # height of a path with what stands about it
_TOP_MM, _FOOT_MM = 3.6, 1.4
_RULER_MM, _HOLD_MM, _STEPS = 5.0, 1.5, 12
_BAND_MM, _BAND_INK = 2.8, 0.9
_GAP_MM = 3.5  # between the lines of one way
_EDGE_MM, _LABEL_MM = 4.0, 11.0


@dataclass(frozen=True, slots=True)
class WayNote:
    """A note on the path: where it stands in its line, and how far the slide is out.

    ``sign`` is that of its valves, empty for the open horn; ``differs``: the other way has it
    elsewhere.
    """

    x_mm: float
    extension_mm: float
    sign: str
    differs: bool


@dataclass(frozen=True, slots=True)
class WayRow:
    """A line of music as a picture, and the notes under which the path goes."""

    svg: str
    width_mm: float
    height_mm: float
    notes: tuple[WayNote, ...]


@dataclass(frozen=True, slots=True)
class Ruler:
    """The positions of the open horn, (number, mm), on a slide of ``travel_mm``."""

    positions: tuple[tuple[int, float], ...]
    travel_mm: float


def way_shapes(
    rows: Sequence[WayRow], ruler: Ruler, left_mm: float = 0.0, top_mm: float = 0.0
) -> tuple[list[Shape], float]:
    """One way, its upper left corner at (left, top), and its height in mm."""
    shapes: list[Shape] = []
    y = top_mm
    for row in rows:
        bottom = y + row.height_mm + PATH_MM
        shapes += _bands(row, left_mm, y, bottom)
        shapes.append(Picture(left_mm, y, row.width_mm, row.height_mm, row.svg))
        shapes += _path(row, ruler, left_mm, y + row.height_mm)
        y = bottom + _GAP_MM
    return shapes, y - _GAP_MM - top_mm


def ways_page(ways: Sequence[tuple[str, Sequence[WayRow]]], ruler: Ruler, heading: str) -> Page:
    """Ways one above the other, each with its label, under a heading; as wide as they are."""
    title = Text(_EDGE_MM + _LABEL_MM, _EDGE_MM + 4.5, heading, 10.0, italic=True)
    widest = max(title.width_mm, *(row.width_mm for _, rows in ways for row in rows))
    width = widest + 2 * _EDGE_MM + _LABEL_MM
    shapes: list[Shape] = [title]
    y = _EDGE_MM + 7.5
    for number, (label, rows) in enumerate(ways):
        if number:
            shapes.append(Line(_EDGE_MM, y + 2.0, width - _EDGE_MM, y + 2.0, 0.15, 0.6))
            y += 5.0
        drawn, height = way_shapes(rows, ruler, _EDGE_MM + _LABEL_MM, y)
        shapes += drawn
        middle = y + rows[0].height_mm / 2 + 3.0
        shapes.append(Text(_EDGE_MM, middle, label, 24.0, face=MARKS, weight=700))
        y += height
    return Page(width, y + _EDGE_MM, tuple(shapes))


def _bands(row: WayRow, left_mm: float, top_mm: float, bottom_mm: float) -> list[Shape]:
    """Bands behind the notes that differ; neighbours have one."""
    bands: list[list[float]] = []
    before: WayNote | None = None
    for note in row.notes:
        if note.differs:
            start, end = note.x_mm - _BAND_MM, note.x_mm + _BAND_MM
            if bands and before is not None and before.differs:
                bands[-1][1] = end
            else:
                bands.append([start, end])
        before = note
    height = bottom_mm - top_mm
    return [
        Rect(left_mm + start, top_mm, end - start, height, fill=_BAND_INK, radius_mm=1.0)
        for start, end in bands
    ]


def _path(row: WayRow, ruler: Ruler, left_mm: float, top_mm: float) -> list[Shape]:
    room = PATH_MM - _TOP_MM - _FOOT_MM

    def y_of(extension_mm: float) -> float:
        return top_mm + _TOP_MM + room * extension_mm / ruler.travel_mm

    right = left_mm + row.width_mm - 1.0
    shapes: list[Shape] = []
    for number, mm in ruler.positions:
        y = y_of(mm)
        shapes.append(Line(left_mm + _RULER_MM, y, right, y, 0.1, 0.7))
        shapes.append(Text(left_mm + _RULER_MM - 1.0, y + 0.8, str(number), 6.0, anchor="end"))
    for first, second in pairwise(row.notes):
        shapes.append(_move(first, second, left_mm, y_of))
    for note in row.notes:
        x, y = left_mm + note.x_mm, y_of(note.extension_mm)
        shapes.append(Circle(x, y, 1.05 if note.differs else 0.7, fill=0.0, stroke_mm=None))
        if note.sign:
            shapes.append(Text(x, y - 1.6, note.sign, 7.0, MARKS, 700, anchor="middle"))
    return shapes


def _move(first: WayNote, second: WayNote, left_mm: float, y_of: Callable[[float], float]) -> Path:
    """The slide's way from one note to the next, as quick at its middle as a hand is."""
    gap = second.x_mm - first.x_mm
    hold = min(_HOLD_MM, 0.25 * gap)
    start, way = first.x_mm + hold, gap - 2 * hold
    out = second.extension_mm - first.extension_mm
    points = [(left_mm + first.x_mm, y_of(first.extension_mm))]
    for step in range(_STEPS + 1):
        t = step / _STEPS
        done = t**3 * (10.0 + t * (6.0 * t - 15.0))
        points.append((left_mm + start + t * way, y_of(first.extension_mm + done * out)))
    points.append((left_mm + second.x_mm, y_of(second.extension_mm)))
    changed = first.differs or second.differs
    return Path(tuple(points), 0.55 if changed else 0.35, 0.0 if changed else 0.45)
