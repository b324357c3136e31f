"""Drawn sheets to PDF, SVG or PNG, by Typst."""

import json
import tempfile
from importlib import resources
from pathlib import Path as FilePath
from typing import Any

import typst

from handslide.ground.errors import OutputError
from handslide.sheets.shapes import Circle, Line, Page, Path, Rect, Shape, Sheet, Text

FORMATS = ("pdf", "svg", "png")
_TIMESTAMP = 1767225600  # 2026-01-01: PDF/A wants a date, equal sheets want equal bytes
# Room beyond the measured width, so that a rounding never breaks a line of text.
_SPARE_MM = 2.0


def render(sheet: Sheet, form: str = "pdf", *, ppi: float = 150.0) -> tuple[bytes, ...]:
    """The sheet as one PDF, or as one SVG or PNG picture per page (``ppi`` pixels an inch).

    Raises
    ------
    OutputError
        When the typesetter can't set it.
    """
    options: dict[str, Any] = {"format": form}
    if form == "pdf":
        options["pdf_standards"] = ["a-2b"]
    elif form == "png":
        options["ppi"] = ppi
    data = resources.files("handslide") / "data"
    with (
        tempfile.TemporaryDirectory(prefix="handslide-") as name,
        resources.as_file(data / "fonts") as fonts,
    ):
        folder = FilePath(name)
        template = (data / "typst" / "drawing.typ").read_text(encoding="utf-8")
        (folder / "drawing.typ").write_text(template, encoding="utf-8")
        (folder / "drawing.json").write_text(json.dumps(_as_data(sheet)), encoding="utf-8")
        try:
            compiler = typst.Compiler(
                str(folder / "drawing.typ"),
                root=name,
                font_paths=[str(fonts)],
                ignore_system_fonts=True,
            )
            result, _ = compiler.compile_with_warnings(timestamp=_TIMESTAMP, **options)
        except typst.TypstError as error:
            raise OutputError(f"the sheet {sheet.title!r} can't be typeset: {error}") from error
    return (result,) if isinstance(result, bytes) else tuple(result or ())


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
        "shapes": [_shape(shape) for shape in page.shapes],
    }


def _shape(shape: Shape) -> dict[str, Any]:
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


def _pen(width_mm: float | None, ink: float, dash_mm: tuple[float, ...]) -> dict[str, Any]:
    return {"width": width_mm, "ink": ink, "dash": list(dash_mm)}


def _text(text: Text) -> dict[str, Any]:
    x, y = (text.x_mm, text.left_mm) if text.turned else (text.left_mm, text.y_mm)
    return {
        "kind": "text", "x": x, "y": y, "w": text.width_mm + _SPARE_MM, "text": text.text,
        "size": text.size_pt, "face": text.face, "weight": text.weight, "italic": text.italic,
        "ink": text.ink, "turned": text.turned,
    }  # fmt: skip
