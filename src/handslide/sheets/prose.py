"""Running text on drawn sheets: rows that fit a width, and columns of items."""

from collections.abc import Sequence

from handslide.sheets.metrics import text_extent_mm
from handslide.sheets.shapes import TEXT, Text, pt

LEADING = 1.28
_BODY_PT, _HEADING_PT = 9.5, 11.0
_INDENT_MM = 4.5


def wrapped(text: str, size_pt: float, room_mm: float, weight: int = 400) -> list[str]:
    """The text in rows of at most ``room_mm``, broken at spaces."""
    rows: list[str] = []
    row = ""
    for word in text.split():
        longer = f"{row} {word}" if row else word
        if row and text_extent_mm(longer, size_pt, TEXT, weight, False)[0] > room_mm:
            rows.append(row)
            longer = word
        row = longer
    return [*rows, row] if row else rows


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
    y = pt(_HEADING_PT)
    shapes = [Text(left_mm, y, heading, _HEADING_PT, weight=600)]
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
    return [
        Text(t.x_mm, t.y_mm + by_mm, t.text, t.size_pt, t.face, t.weight, t.italic, t.anchor)
        for t in texts
    ]
