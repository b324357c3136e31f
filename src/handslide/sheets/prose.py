"""Text on drawn sheets: rows that fit a width, type that shrinks to fit, columns of items."""

import re
from collections.abc import Sequence
from dataclasses import replace

from handslide.sheets.metrics import text_extent_mm
from handslide.sheets.shapes import TEXT, Text, pt

LEADING = 1.28
# Smaller type than this isn't read at arm's length.
LEAST_PT = 7.0
_BODY_PT, _HEADING_PT = 9.5, 11.0
_INDENT_MM = 4.5
# Where a row may end. Blanks that don't break (before a colon, between number and unit) stay.
_BLANKS = re.compile(r"[ \t\r\n]+")


def wrapped(
    text: str, size_pt: float, room_mm: float, weight: int = 400, *, italic: bool = False
) -> list[str]:
    """The text in rows of at most ``room_mm``, broken at blanks; a longer word is broken itself."""
    rows: list[str] = []
    row = ""
    for word in filter(None, _BLANKS.split(text)):
        longer = f"{row} {word}" if row else word
        if row and _width(longer, size_pt, weight, italic) > room_mm:
            rows.append(row)
            longer = word
        row = longer
        while len(row) > 1 and _width(row, size_pt, weight, italic) > room_mm:
            kept = _beginning(row, size_pt, room_mm, weight, italic)
            rows.append(kept)
            row = row[len(kept) :]
    return [*rows, row] if row else rows


def balanced(text: str, size_pt: float, room_mm: float) -> list[str]:
    """As `wrapped`, in rows of about one length."""
    rows = wrapped(text, size_pt, room_mm)
    room = room_mm
    while len(rows) > 1 and (closer := wrapped(text, size_pt, room - 1.0)):
        if len(closer) > len(rows) or room <= 2.0:
            break
        rows, room = closer, room - 1.0
    return rows


def _width(text: str, size_pt: float, weight: int, italic: bool) -> float:
    return text_extent_mm(text, size_pt, TEXT, weight, italic)[0]


def _beginning(word: str, size_pt: float, room_mm: float, weight: int, italic: bool) -> str:
    """As much of a word as fits, at least one letter."""
    count = len(word) - 1
    while count > 1 and _width(word[:count], size_pt, weight, italic) > room_mm:
        count -= 1
    return word[:count]


def fitting_pt(
    texts: Sequence[str],
    size_pt: float,
    room_mm: float,
    weight: int = 400,
    *,
    italic: bool = False,
    least_pt: float = LEAST_PT,
) -> float:
    """The largest type up to ``size_pt`` in which all texts fit ``room_mm``, or ``least_pt``."""
    widest = max((_width(text, size_pt, weight, italic) for text in texts), default=0.0)
    if widest <= room_mm:
        return size_pt
    # Widths grow with the size; a quarter point is as fine as anybody sees.
    return max(int(4.0 * size_pt * room_mm / widest) / 4.0, least_pt)


def text_rows(rows: Sequence[str], left_mm: float, top_mm: float, size_pt: float) -> list[Text]:
    """Rows below each other from ``top_mm`` on."""
    step = pt(size_pt) * LEADING
    return [Text(left_mm, top_mm + step * (k + 0.8), row, size_pt) for k, row in enumerate(rows)]


def column(
    heading: str,
    items: Sequence[tuple[str, str]],
    left_mm: float,
    width_mm: float,
    *,
    numbered: bool = False,
) -> tuple[list[Text], float]:
    """A heading with items below it, each with bold first rows if it has them; and its height."""
    shapes, y = [], 0.0
    for row in wrapped(heading, _HEADING_PT, width_mm, 600):
        y += pt(_HEADING_PT)
        shapes.append(Text(left_mm, y, row, _HEADING_PT, weight=600))
    room = width_mm - _INDENT_MM
    for number, (what, text) in enumerate(items, 1):
        y += 1.2
        sign = f"{number}." if numbered and what else "·"
        rows = [(row, 600) for row in wrapped(what, _BODY_PT, room, 600)]
        rows += [(row, 400) for row in wrapped(text, _BODY_PT, room)]
        for k, (row, weight) in enumerate(rows):
            y += pt(_BODY_PT) * LEADING
            if k == 0:
                shapes.append(Text(left_mm, y, sign, _BODY_PT, weight=600))
            shapes.append(Text(left_mm + _INDENT_MM, y, row, _BODY_PT, weight=weight))
    return shapes, y + 1.5


def moved_down(texts: Sequence[Text], by_mm: float) -> list[Text]:
    """The texts lower down the page."""
    return [replace(text, y_mm=text.y_mm + by_mm) for text in texts]
