"""Drawn sheets to PDF, SVG or PNG."""

import json
from typing import Any

from handslide.edges.typesetting.run import FORMATS, run_typst
from handslide.sheets.shapes import (
    Circle,
    Ink,
    Line,
    Page,
    Path,
    Picture,
    Rect,
    Region,
    Sheet,
    Text,
)

__all__ = ["FORMATS", "render"]

# Room beyond the measured width, so that a rounding never breaks a line of text.
_SPARE_MM = 2.0


def render(sheet: Sheet, form: str = "pdf", *, ppi: float = 150.0) -> tuple[bytes, ...]:
    """The sheet as one PDF, or as one SVG or PNG picture per page (``ppi`` pixels an inch).

    Raises
    ------
    OutputError
        When the typesetter can't set it.
    """
    files = {"drawing.json": json.dumps(_as_data(sheet))}
    return run_typst("drawing.typ", files, sheet.title, form, ppi)


def _as_data(sheet: Sheet) -> dict[str, Any]:
    return {
        "title": sheet.title,
        "language": sheet.language,
        "pages": [_page(page) for page in sheet.pages],
    }


def _page(page: Page) -> dict[str, Any]:
    return {
        "width": page.width_mm,
        "height": page.height_mm,
        "shapes": [_shape(shape) for shape in page.shapes if not isinstance(shape, Region)],
    }


def _shape(shape: Ink) -> dict[str, Any]:
    match shape:
        case Line():
            where = {"x1": shape.x1_mm, "y1": shape.y1_mm, "x2": shape.x2_mm, "y2": shape.y2_mm}
            return {"kind": "line", **where, **_pen(shape.width_mm, shape.ink, shape.dash_mm)}
        case Rect():
            pen = _pen(shape.stroke_mm, shape.ink, shape.dash_mm)
            size = {"w": shape.width_mm, "h": shape.height_mm, "r": shape.radius_mm}
            where = {"x": shape.x_mm, "y": shape.y_mm}
            return {"kind": "rect", **where, **size, "fill": shape.fill, **pen}
        case Circle():
            pen = _pen(shape.stroke_mm, shape.ink, ())
            where = {"x": shape.x_mm, "y": shape.y_mm, "r": shape.radius_mm}
            return {"kind": "circle", **where, "fill": shape.fill, **pen}
        case Path():
            pen = _pen(shape.width_mm, shape.ink, shape.dash_mm)
            points = [list(point) for point in shape.points_mm]
            return {"kind": "path", "points": points, "closed": shape.closed,
                    "fill": shape.fill, **pen}  # fmt: skip
        case Text():
            return _text(shape)
        case Picture():
            where = {"x": shape.x_mm, "y": shape.y_mm, "w": shape.width_mm}
            return {"kind": "picture", **where, "svg": shape.svg}


def _pen(width_mm: float | None, ink: float, dash_mm: tuple[float, ...]) -> dict[str, Any]:
    return {"width": width_mm, "ink": ink, "dash": list(dash_mm)}


def _text(text: Text) -> dict[str, Any]:
    x, y = (text.x_mm, text.left_mm) if text.turned else (text.left_mm, text.y_mm)
    return {
        "kind": "text", "x": x, "y": y, "w": text.width_mm + _SPARE_MM, "text": text.text,
        "size": text.size_pt, "face": text.face, "weight": text.weight, "italic": text.italic,
        "ink": text.ink, "turned": text.turned,
    }  # fmt: skip
