"""Progress as a page for somebody who plays nothing: what got better, what is next, how to help."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from handslide.sheets.frame import Area, Head, framed, free_area
from handslide.sheets.progressplot import (
    PictureTexts,
    PlaceSeries,
    Strip,
    cents_scale,
    more_rows_mm,
    name_rows,
    place_picture,
    slide_picture,
    strip_height_mm,
)
from handslide.sheets.prose import LEADING, column, moved_down, text_rows, wrapped
from handslide.sheets.shapes import Page, Shape, Text, pt

MOST_SERIES = 6
_SAY_PT, _SMALL_PT = 11.0, 7.5
_GAP_MM, _ACROSS = 8.0, 3
_LEAST_PICTURE_MM, _MOST_PICTURE_MM, _BETWEEN_MM = 31.0, 44.0, 4.0


@dataclass(frozen=True, slots=True)
class ProgressPage:
    """What the page says. ``summary`` is in plain words; ``better``, ``next`` and ``helping`` are
    items as (bold, text); ``days`` the ends of the time axis; ``closing`` small print."""

    summary: str
    better_heading: str
    better: tuple[tuple[str, str], ...]
    next_heading: str
    next: tuple[tuple[str, str], ...]
    helping_heading: str
    helping: tuple[tuple[str, str], ...]
    series: tuple[PlaceSeries, ...]
    series_note: str
    strip: Strip | None
    strip_note: str
    pictures: PictureTexts
    days: tuple[str, str]
    closing: tuple[str, ...]


def progress_pages(head: Head, content: ProgressPage) -> tuple[Page, ...]:
    """One page; a second one for the pictures where the words leave them no room."""
    area = free_area(head)
    words, below = _words(content, area)
    closing = [row for text in content.closing for row in wrapped(text, _SMALL_PT, area.width_mm)]
    foot = len(closing) * pt(_SMALL_PT) * LEADING
    last = text_rows(closing, area.left_mm, area.bottom_mm - foot - 1.0, _SMALL_PT)
    rows = _name_rows(content, area)
    need = _pictures_mm(content, area, _LEAST_PICTURE_MM + more_rows_mm(rows))
    room = area.bottom_mm - foot - 3.0 - below
    if not content.series and content.strip is None:
        return framed(head, [[*words, *last]])
    if need <= room:
        return framed(head, [[*words, *_pictures(content, area, below, room), *last]])
    top = area.top_mm + 2.0
    pictures = _pictures(content, area, top, area.bottom_mm - foot - 3.0 - top)
    return framed(head, [list(words), [*pictures, *last]])


def _words(content: ProgressPage, area: Area) -> tuple[list[Shape], float]:
    """All that is said, and where it ends."""
    said = wrapped(content.summary, _SAY_PT, area.width_mm)
    y = area.top_mm + 1.0
    shapes: list[Shape] = [*text_rows(said, area.left_mm, y, _SAY_PT)]
    y += len(said) * pt(_SAY_PT) * LEADING + 3.0
    width = (area.width_mm - _GAP_MM) / 2
    left, left_mm = column(content.better_heading, content.better, area.left_mm, width)
    if content.helping:
        more, more_mm = column(content.helping_heading, content.helping, area.left_mm, width)
        left += moved_down(more, left_mm + 2.0)
        left_mm += more_mm + 2.0
    x = area.left_mm + width + _GAP_MM
    right, right_mm = column(content.next_heading, content.next, x, width, numbered=True)
    shapes += moved_down([*left, *right], y)
    return shapes, y + max(left_mm, right_mm) + 4.0


def _pictures_mm(content: ProgressPage, area: Area, picture_mm: float) -> float:
    """How much height the pictures take, each ``picture_mm`` high."""
    rows = math.ceil(len(content.series[:MOST_SERIES]) / _ACROSS)
    height = rows * (picture_mm + _BETWEEN_MM)
    if content.series:
        height += _note_mm(content.series_note, area)
    if content.strip is not None:
        height += strip_height_mm(content.strip) + _note_mm(content.strip_note, area) + 3.0
    return height


def _across(content: ProgressPage, area: Area) -> tuple[int, float]:
    """How many pictures stand beside each other, and how wide each is."""
    # Few pictures aren't blown up: a page of one take looks like its neighbours.
    across = max(min(len(content.series), _ACROSS), 2)
    return across, (area.width_mm - (across - 1) * _BETWEEN_MM) / across


def _name_rows(content: ProgressPage, area: Area) -> int:
    """How many rows the longest name above the pictures takes."""
    _, width = _across(content, area)
    return max((name_rows(one, width) for one in content.series[:MOST_SERIES]), default=1)


def _note_mm(note: str, area: Area) -> float:
    return len(wrapped(note, _SMALL_PT, area.width_mm)) * pt(_SMALL_PT) * LEADING + 2.0


def _pictures(content: ProgressPage, area: Area, top_mm: float, room_mm: float) -> list[Shape]:
    series = content.series[:MOST_SERIES]
    rows = math.ceil(len(series) / _ACROSS)
    spare = room_mm - _pictures_mm(content, area, 0.0)
    height = min(spare / rows, _MOST_PICTURE_MM) if rows else 0.0
    scale = cents_scale(series)
    across, width = _across(content, area)
    names = _name_rows(content, area)
    shapes: list[Shape] = []
    y = top_mm
    if series:
        shapes += _note(content.series_note, area, y)
        y += _note_mm(content.series_note, area)
    for number, one in enumerate(series):
        x = area.left_mm + (number % across) * (width + _BETWEEN_MM)
        top = y + (number // across) * (height + _BETWEEN_MM)
        box = (x, top, width, height)
        shapes += place_picture(one, box, scale, content.days, content.pictures, names)
    y += rows * (height + _BETWEEN_MM)
    if content.strip is not None:
        y += 1.0
        shapes += _note(content.strip_note, area, y)
        y += _note_mm(content.strip_note, area)
        shapes += slide_picture(content.strip, area.left_mm, y, area.width_mm, content.pictures)
    return shapes


def _note(note: str, area: Area, top_mm: float) -> Sequence[Text]:
    return text_rows(wrapped(note, _SMALL_PT, area.width_mm), area.left_mm, top_mm, _SMALL_PT)
