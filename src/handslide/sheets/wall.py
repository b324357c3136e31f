"""The wall chart: the usual place of every note, so large that a class reads it from its seats.

Figures are at least 16 minutes of arc high, which ISO 9241-303 asks of characters that are to be
read, seen from three metres: 14 mm, one 215th of the distance. They are so on any paper; what
doesn't fit one page goes on to the next, to be hung beside it. Where the last page has room, the
slide lies at its foot, closed and to scale, with the positions of the open horn.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from handslide.ground.clefs import Clef
from handslide.sheets.content import ChartNote, region_key
from handslide.sheets.frame import Area, Head, framed, free_area
from handslide.sheets.metrics import MM_PER_PT, music_sign, text_extent_mm
from handslide.sheets.notes import note_head, staff_lines
from handslide.sheets.shapes import MARKS, MUSIC, TEXT, Line, Page, Picture, Region, Shape, Text, pt
from handslide.sheets.slide import SlideMeasures, printed_height_mm, printed_slide

SEEN_FROM_MM = 3000.0
LEAST_ARC = math.radians(16.0 / 60.0)
FIGURE_MM = 2.0 * SEEN_FROM_MM * math.tan(LEAST_ARC / 2.0)
# Height of the digits of the face of the marks, as a share of the type size.
_DIGITS = 0.729
_FIGURE_PT = math.ceil(FIGURE_MM / (_DIGITS * MM_PER_PT))
_NAME_PT, _OTHER_PT = 40.0, 28.0
_SPACE_MM = 3.2
_GAP_MM, _ROW_GAP_MM = 9.0, 9.0
_CLEF_MM, _AIR_MM = 16.0, 4.0
# Under the slide: a tick of a position; its number, no smaller than this share of a name, and air.
_TICK_MM, _UNDER_MM, _LEAST_SHARE = 2.5, 2.0, 0.6


@dataclass(frozen=True, slots=True)
class _Sizes:
    """The sizes as drawn: the page is enlarged after that, and figures are as large on any."""

    figure_pt: float
    name_pt: float
    other_pt: float
    space_mm: float
    gap_mm: float
    row_gap_mm: float
    clef_mm: float
    air_mm: float

    @classmethod
    def on(cls, head: Head) -> "_Sizes":
        sizes = _FIGURE_PT, _NAME_PT, _OTHER_PT, _SPACE_MM, _GAP_MM, _ROW_GAP_MM, _CLEF_MM, _AIR_MM
        return cls(*(size / head.enlarged for size in sizes))

    def width_mm(self, note: ChartNote) -> float:
        """How wide a note is."""
        texts = (
            (note.places[0].mark, self.figure_pt, MARKS, 700),
            (note.name, self.name_pt, TEXT, 600),
            (note.other, self.other_pt, TEXT, 400),
        )
        return max(text_extent_mm(*text, False)[0] for text in texts)


@dataclass(frozen=True, slots=True)
class _Heights:
    """How high the pieces of a row are, alike in all rows."""

    figure_mm: float
    up_mm: float
    staff_mm: float
    down_mm: float
    names_mm: float

    @property
    def total_mm(self) -> float:
        return self.figure_mm + self.up_mm + self.staff_mm + self.down_mm + self.names_mm


def wall_pages(
    head: Head, clef: Clef, notes: Sequence[ChartNote], slide: SlideMeasures
) -> tuple[Page, ...]:
    """Pages with the first place of each of ``notes``; at their end the ``slide``, if it fits."""
    area, sizes = free_area(head), _Sizes.on(head)
    rows = _rows(sizes, notes, area.width_mm - sizes.clef_mm)
    heights = [_heights(sizes, clef, row) for row in rows]
    contents: list[list[Shape]] = []
    paged = _paged([each.total_mm for each in heights], area, sizes.row_gap_mm)
    for page in paged:
        spare = area.height_mm - sum(heights[k].total_mm for k in page)
        drawn = _slide(sizes, slide, area) if page is paged[-1] else None
        if drawn is not None and spare >= drawn.height_mm + len(page) * sizes.row_gap_mm:
            spare -= drawn.height_mm
        else:
            drawn = None
        gap = min(spare / len(page), 3.0 * sizes.row_gap_mm)
        shapes: list[Shape] = []
        y = area.top_mm
        for k in page:
            shapes += _row(sizes, heights[k], clef, rows[k], area, y)
            y += heights[k].total_mm + gap
        contents.append(shapes if drawn is None else [*shapes, *drawn.shapes])
    return framed(head, contents)


@dataclass(frozen=True, slots=True)
class _Slide:
    """The slide at the foot of an area, and the height that it takes."""

    shapes: tuple[Shape, ...]
    height_mm: float


def _slide(sizes: _Sizes, slide: SlideMeasures, area: Area) -> _Slide | None:
    """The slide, closed, over its positions; None where their numbers would be too small."""
    marks = [area.left_mm + slide.share(mm) * area.width_mm for mm in slide.rulers[0].marks_mm]
    apart = min(b - a for a, b in pairwise(marks))
    one = text_extent_mm("4", 1.0, MARKS, 700, False)[0]
    size = min(sizes.name_pt, 0.65 * apart / one)
    if size < _LEAST_SHARE * sizes.name_pt:
        return None
    tubes, digits = printed_height_mm(slide, area.width_mm), pt(size) * _DIGITS
    height = tubes + 2 * _TICK_MM + digits + _UNDER_MM
    top = area.bottom_mm - height
    line, base = top + tubes, area.bottom_mm - _UNDER_MM
    end = area.left_mm + slide.share(slide.travel_mm) * area.width_mm
    tubes_svg = printed_slide(slide, 0.0, area.width_mm)
    shapes: list[Shape] = [
        Picture(area.left_mm, top, area.width_mm, tubes, tubes_svg),
        Line(marks[0], line, end, line, 0.4),
    ]
    for number, x in enumerate(marks, 1):
        shapes.append(Line(x, line, x, line + _TICK_MM, 0.4))
        shapes.append(Text(x, base, str(number), size, face=MARKS, weight=700, anchor="middle"))
    return _Slide(tuple(shapes), height)


def _rows(sizes: _Sizes, notes: Sequence[ChartNote], room_mm: float) -> list[list[ChartNote]]:
    """The fewest rows that the notes fit, of about one width."""
    rows, room = _filled(sizes, notes, room_mm), room_mm
    while len(rows) > 1:
        room -= sizes.gap_mm
        closer = _filled(sizes, notes, room)
        if len(closer) > len(rows):
            break
        rows = closer
    return rows


def _filled(sizes: _Sizes, notes: Sequence[ChartNote], room_mm: float) -> list[list[ChartNote]]:
    rows: list[list[ChartNote]] = []
    used = math.inf
    for note in notes:
        width = sizes.width_mm(note) + sizes.gap_mm
        if used + width > room_mm:
            rows.append([])
            used = 0.0
        rows[-1].append(note)
        used += width
    return rows


def _paged(heights: Sequence[float], area: Area, gap_mm: float) -> list[list[int]]:
    """The numbers of the rows on each page."""
    pages: list[list[int]] = []
    used = math.inf
    for number, height in enumerate(heights):
        if used + height > area.height_mm:
            pages.append([])
            used = 0.0
        pages[-1].append(number)
        used += height + gap_mm
    return pages


def _heights(sizes: _Sizes, clef: Clef, notes: Sequence[ChartNote]) -> _Heights:
    places = [clef.place(clef.written(note.pitch)) for note in notes]
    half = sizes.space_mm / 2
    other = pt(sizes.other_pt) * 1.15 if any(note.other for note in notes) else 0.0
    return _Heights(
        figure_mm=pt(sizes.figure_pt) * _DIGITS + sizes.air_mm,
        up_mm=max(0.0, (max(places) - 4) * half) + 1.8 * sizes.space_mm,
        staff_mm=4 * sizes.space_mm,
        down_mm=max(0.0, (-4 - min(places)) * half) + 1.6 * sizes.space_mm,
        names_mm=pt(sizes.name_pt) + other,
    )


def _row(
    sizes: _Sizes,
    heights: _Heights,
    clef: Clef,
    notes: Sequence[ChartNote],
    area: Area,
    top_mm: float,
) -> list[Shape]:
    widths = [sizes.width_mm(note) for note in notes]
    spare = area.width_mm - sizes.clef_mm - sum(widths)
    gap = min(spare / len(notes), 4.0 * sizes.gap_mm)
    figures = top_mm + heights.figure_mm - sizes.air_mm
    middle = top_mm + heights.figure_mm + heights.up_mm + heights.staff_mm / 2
    names = middle + heights.staff_mm / 2 + heights.down_mm + pt(sizes.name_pt) * 0.75
    right = area.left_mm + sizes.clef_mm + sum(widths) + gap * len(notes)
    shapes: list[Shape] = staff_lines(area.left_mm, right, middle, sizes.space_mm)
    y = middle - clef.sign_place * sizes.space_mm / 2
    size = heights.staff_mm / pt(1.0)
    shapes.append(Text(area.left_mm + sizes.gap_mm / 3, y, music_sign(clef.sign), size, face=MUSIC))
    x = area.left_mm + sizes.clef_mm
    for note, width in zip(notes, widths):
        at = x + (width + gap) / 2
        mark = note.places[0].mark
        shapes.append(
            Text(at, figures, mark, sizes.figure_pt, face=MARKS, weight=700, anchor="middle")
        )
        shapes += note_head(clef, note.pitch, at, middle, sizes.space_mm)
        shapes.append(Text(at, names, note.name, sizes.name_pt, weight=600, anchor="middle"))
        if note.other:
            y = names + pt(sizes.other_pt) * 1.1
            shapes.append(Text(at, y, note.other, sizes.other_pt, anchor="middle", ink=0.3))
        key = region_key(note.pitch.midi)
        over = min(sizes.air_mm, top_mm)
        shapes.append(Region(x, top_mm - over, width + gap, heights.total_mm + over, key))
        x += width + gap
    under = top_mm + heights.total_mm + sizes.air_mm
    return [*shapes, Line(area.left_mm, under, right, under, 0.15, 0.6)]
