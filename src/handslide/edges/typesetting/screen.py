"""Drawn shapes as SVG that is part of a page: its inks and letters are those of the page.

Black is the page's own ink and lighter inks let more of the page through, so that one drawing
serves light and dark. Nothing is styled in the drawing; white is the class ``hole``, letters have
the classes ``letters``, ``marks`` and ``music``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from handslide.sheets.shapes import (
    MARKS,
    MUSIC,
    Box,
    Circle,
    Ink,
    Line,
    Path,
    Picture,
    Rect,
    Region,
    Shape,
    Text,
    pt,
)

_FACES = {MARKS: "marks", MUSIC: "music"}


@dataclass(frozen=True, slots=True)
class Spot:
    """A part of the drawing that can be clicked: its box in millimetres and its ``data-of``."""

    box_mm: Box
    of: str


def screen_svg(
    shapes: Sequence[Shape],
    width_mm: float,
    height_mm: float,
    *,
    label: str,
    spots: Sequence[Spot] = (),
    px_per_mm: float = 4.0,
) -> str:
    """The shapes as an ``<svg>`` element, ``label`` for those who hear the page.

    ``spots`` lie over the shapes' own regions.
    """
    size = f'width="{_n(width_mm * px_per_mm)}" height="{_n(height_mm * px_per_mm)}"'
    view = f'viewBox="0 0 {_n(width_mm)} {_n(height_mm)}"'
    drawn = "".join(_shape(shape) for shape in shapes if not isinstance(shape, Region))
    over = "".join(_spot(spot) for spot in (*map(_picked, _regions(shapes)), *spots))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {view} role="img" '
        f"aria-label={quoteattr(label)}>{drawn}{over}</svg>"
    )


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _regions(shapes: Sequence[Shape]) -> list[Region]:
    return [shape for shape in shapes if isinstance(shape, Region)]


def _picked(region: Region) -> Spot:
    left, top = region.x_mm, region.y_mm
    return Spot((left, top, left + region.width_mm, top + region.height_mm), region.of)


def _shape(shape: Ink) -> str:
    match shape:
        case Line():
            ends = (
                f'x1="{_n(shape.x1_mm)}" y1="{_n(shape.y1_mm)}" '
                f'x2="{_n(shape.x2_mm)}" y2="{_n(shape.y2_mm)}"'
            )
            return f"<line {ends}{_pen(shape.width_mm, shape.ink, shape.dash_mm)}/>"
        case Rect():
            where = (
                f'x="{_n(shape.x_mm)}" y="{_n(shape.y_mm)}" '
                f'width="{_n(shape.width_mm)}" height="{_n(shape.height_mm)}"'
            )
            if shape.radius_mm:
                where += f' rx="{_n(shape.radius_mm)}"'
            return f"<rect {where}{_both(shape.fill, shape.stroke_mm, shape.ink, shape.dash_mm)}/>"
        case Circle():
            where = f'cx="{_n(shape.x_mm)}" cy="{_n(shape.y_mm)}" r="{_n(shape.radius_mm)}"'
            return f"<circle {where}{_both(shape.fill, shape.stroke_mm, shape.ink, ())}/>"
        case Path():
            points = " ".join(f"{_n(x)},{_n(y)}" for x, y in shape.points_mm)
            name = "polygon" if shape.closed else "polyline"
            pen = _both(shape.fill, shape.width_mm, shape.ink, shape.dash_mm)
            return f'<{name} points="{points}"{pen}/>'
        case Text():
            return _text(shape)
        case Picture():
            where = f'x="{_n(shape.x_mm)}" y="{_n(shape.y_mm)}" '
            where += f'width="{_n(shape.width_mm)}" height="{_n(shape.height_mm)}"'
            # An element that was made ready for a page, by `edges.engraving.screen`.
            return shape.svg.replace("<svg", f"<svg {where}", 1)


def _pen(width_mm: float | None, ink: float, dash_mm: tuple[float, ...]) -> str:
    if width_mm is None:
        return ""
    said = f' stroke="currentColor" stroke-width="{_n(width_mm)}"'
    if ink:
        said += f' stroke-opacity="{_n(1.0 - ink)}"'
    if dash_mm:
        said += f' stroke-dasharray="{" ".join(map(_n, dash_mm))}"'
    return said


def _both(
    fill: float | None, stroke_mm: float | None, ink: float, dash_mm: tuple[float, ...]
) -> str:
    if fill is None:
        said = ' fill="none"'
    elif fill >= 1.0:
        said = ' class="hole"'
    else:
        said = ' fill="currentColor"' + (f' fill-opacity="{_n(1.0 - fill)}"' if fill else "")
    return said + _pen(stroke_mm, ink, dash_mm)


def _text(text: Text) -> str:
    where = f'x="{_n(text.x_mm)}" y="{_n(text.y_mm)}" font-size="{_n(pt(text.size_pt))}"'
    if text.anchor != "start":
        where += f' text-anchor="{text.anchor}"'
    if text.weight != 400:
        where += f' font-weight="{text.weight}"'
    if text.italic:
        where += ' font-style="italic"'
    if text.ink:
        where += f' fill-opacity="{_n(1.0 - text.ink)}"'
    if text.turned:
        where += f' transform="rotate(-90 {_n(text.x_mm)} {_n(text.y_mm)})"'
    face = _FACES.get(text.face, "letters")
    return f'<text class="{face}" fill="currentColor" {where}>{escape(text.text)}</text>'


def _spot(spot: Spot) -> str:
    left, top, right, bottom = spot.box_mm
    return (
        f'<rect class="spot" data-of={quoteattr(spot.of)} x="{_n(left)}" y="{_n(top)}" '
        f'width="{_n(right - left)}" height="{_n(bottom - top)}" fill="none" '
        'pointer-events="all"/>'
    )
