"""The report of a take as a page: cents along the music, the slide's way under it, and advice.

Every note of the part has a slot of equal width. In both pictures up means higher: sharp notes lie
above the line, and the slide's picture has 1st position at the top, because further out is lower.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from handslide.sheets.frame import Area, Head, framed, free_area
from handslide.sheets.metrics import text_extent_mm
from handslide.sheets.prose import LEADING, column, moved_down, text_rows, wrapped
from handslide.sheets.shapes import MARKS, TEXT, Page, Shape, Text, pt
from handslide.sheets.takecontent import TakeNote, TakePage
from handslide.sheets.takeplot import GUTTER_MM, MARK_PT, NAME_PT, Scales, system

_SMALL_PT = 7.5
_LEAST_SLOT_MM, _MOST_SLOT_MM, _APART_MM = 5.0, 11.0, 0.8
_LEAST_SYSTEM_MM, _MOST_SYSTEM_MM, _BETWEEN_MM = 60.0, 96.0, 5.0
_COLUMN_GAP_MM, _ROW_GAP_MM = 8.0, 1.5
_LEAST_CENTS, _MOST_CENTS = 30.0, 60.0


def take_pages(head: Head, content: TakePage) -> tuple[Page, ...]:
    """The pages of a report: one where the notes fit, the advice always on the first."""
    area = free_area(head)
    advice = _advice(content, area)
    how_to = wrapped(content.texts.how_to, _SMALL_PT, area.width_mm)
    top = area.top_mm + len(how_to) * pt(_SMALL_PT) * LEADING + 3.0
    room = area.bottom_mm - advice.height_mm - 3.0 - top
    slot, shares = _share_out(content.notes, area, room)
    scales = scales_of(content)
    pages: list[list[Shape]] = []
    while shares or not pages:
        first = not pages
        y = top if first else area.top_mm + 2.0
        space = room if first else area.bottom_mm - y
        count = max(int((space + _BETWEEN_MM) // (_LEAST_SYSTEM_MM + _BETWEEN_MM)), 1)
        here, shares = shares[:count], shares[count:]
        height = min((space + _BETWEEN_MM) / max(len(here), 1) - _BETWEEN_MM, _MOST_SYSTEM_MM)
        if not first and len(here) < count:
            height = min(height, _MOST_SYSTEM_MM * 0.75)
        shapes: list[Shape] = []
        for share in here:
            # Every line fills the width, like music; a short last one doesn't stretch.
            wide = min((area.width_mm - GUTTER_MM) / len(share), 1.35 * slot)
            shapes += system(share, scales, content.texts, (area.left_mm, y, wide, height))
            y += height + _BETWEEN_MM
        if first:
            shapes += text_rows(how_to, area.left_mm, area.top_mm + 1.0, _SMALL_PT)
            shapes += advice.at(min(y, area.bottom_mm - advice.height_mm))
        pages.append(shapes)
    return framed(head, pages)


# The pictures.


def _share_out(
    notes: Sequence[TakeNote], area: Area, room_mm: float
) -> tuple[float, list[tuple[TakeNote, ...]]]:
    """Width of a slot, and the notes of each system; systems begin with a measure if they can."""
    if not notes:
        return _MOST_SLOT_MM, []
    line = area.width_mm - GUTTER_MM
    most = max(int(line // least_slot_mm(notes)), 1)
    fit = max(int((room_mm + _BETWEEN_MM) // (_LEAST_SYSTEM_MM + _BETWEEN_MM)), 1)
    count = math.ceil(len(notes) / most)
    if count <= fit:
        # One picture more, where there is room, is easier to read than narrow slots.
        while count < fit and len(notes) / count > 26:
            count += 1
    aim = math.ceil(len(notes) / count)
    shares: list[tuple[TakeNote, ...]] = []
    start = 0
    while start < len(notes):
        end = break_at(notes, start, aim, most)
        shares.append(tuple(notes[start:end]))
        start = end
    return min(line / max(map(len, shares)), _MOST_SLOT_MM), shares


def least_slot_mm(notes: Sequence[TakeNote]) -> float:
    """The narrowest slot in which no name or mark touches its neighbour's."""
    widths = [
        (
            text_extent_mm(note.name, NAME_PT, TEXT, 400, False)[0],
            text_extent_mm(note.mark, MARK_PT, MARKS, 700, False)[0],
        )
        for note in notes
    ]
    pairs = [max(one[k] + two[k] for k in (0, 1)) / 2 for one, two in pairwise(widths)]
    return max(max(pairs, default=0.0) + _APART_MM, _LEAST_SLOT_MM)


def break_at(notes: Sequence[TakeNote], start: int, aim: int, most: int) -> int:
    """Where the system that begins at ``start`` ends: at a measure near ``aim`` if there is one."""
    last = min(start + most, len(notes))
    if len(notes) - start <= most and len(notes) - start <= aim + 4:
        return len(notes)
    ends = [k for k in range(start + 1, last + 1)
            if k == len(notes) or notes[k].measure != notes[k - 1].measure]  # fmt: skip
    near = [k for k in ends if abs(k - start - aim) <= 5]
    return min(near, key=lambda k: abs(k - start - aim)) if near else min(start + aim, last)


def scales_of(content: TakePage) -> Scales:
    """Scales that hold all notes of a report."""
    cents = [abs(note.cents) for note in content.notes if note.cents is not None]
    reach = math.ceil((max(cents, default=0.0) + 5.0) / 10.0) * 10.0
    places = [note.place_mm for note in content.notes if note.place_mm is not None]
    slides = [note.slide_mm for note in content.notes if note.slide_mm is not None]
    furthest = max([*places, *slides], default=0.0)
    marked = [mm for _, mm in content.positions_mm]
    beyond = [mm for mm in marked if mm >= furthest - 1.0]
    lowest = max(min(beyond, default=furthest), furthest)
    return Scales(
        cents=min(max(reach, _LEAST_CENTS), _MOST_CENTS),
        furthest_mm=max(lowest, 200.0) + 25.0,
        nearest_mm=min(-35.0, min(slides, default=0.0) - 10.0),
        positions_mm=content.positions_mm,
    )


# The words.


@dataclass(frozen=True, slots=True)
class _Advice:
    """Columns of text, laid out from 0; ``at`` moves them down the page."""

    shapes: tuple[Text, ...]
    height_mm: float

    def at(self, top_mm: float) -> list[Shape]:
        return [*moved_down(self.shapes, top_mm)]


def _advice(content: TakePage, area: Area) -> _Advice:
    width = (area.width_mm - _COLUMN_GAP_MM) / 2
    texts = content.texts
    habits = content.habits or (texts.no_habits,)
    rows = [("", text) for text in habits]
    left, left_mm = column(texts.habits, rows, area.left_mm, width)
    practice = content.practice or (("", texts.no_practice),)
    x = area.left_mm + width + _COLUMN_GAP_MM
    right, right_mm = column(texts.practice, practice, x, width, numbered=True)
    height = max(left_mm, right_mm)
    shapes = [*left, *right]
    if content.heard is not None and content.trust is not None:
        heard = [("", text) for text in content.heard or (texts.nothing_heard,)]
        left, left_mm = column(texts.heard, heard, area.left_mm, width)
        right, right_mm = column(texts.trust, [("", text) for text in content.trust], x, width)
        shapes += moved_down([*left, *right], height + _ROW_GAP_MM)
        height += _ROW_GAP_MM + max(left_mm, right_mm)
    closing = wrapped(content.texts.closing, _SMALL_PT, area.width_mm)
    below = text_rows(closing, area.left_mm, height + 1.5, _SMALL_PT)
    height += 1.5 + len(closing) * pt(_SMALL_PT) * LEADING + 1.0
    return _Advice((*shapes, *below), height)
