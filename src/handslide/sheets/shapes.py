"""What a drawn sheet is made of: shapes in millimetres, y downwards from the top of the page.

A sheet is a pure function of its content to pages of shapes; an edge writes them.
Ink is a grey value from 0 (black) to 1 (white): sheets are safe for black-and-white printers.
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import Any

from handslide.sheets.metrics import MM_PER_PT, text_extent_mm

TEXT, MARKS, MUSIC = "Libertinus Serif", "Handslide Marks", "Handslide Music"
Box = tuple[float, float, float, float]
"""Left, top, right, bottom in millimetres."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line; ``dash_mm`` alternates drawn and left out."""

    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float
    width_mm: float = 0.2
    ink: float = 0.0
    dash_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle; ``fill`` and ``stroke_mm`` None for none."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    fill: float | None = None
    stroke_mm: float | None = None
    ink: float = 0.0
    radius_mm: float = 0.0
    dash_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle about its centre."""

    x_mm: float
    y_mm: float
    radius_mm: float
    fill: float | None = None
    stroke_mm: float | None = 0.25
    ink: float = 0.0


@dataclass(frozen=True, slots=True)
class Path:
    """A chain of straight pieces through ``points_mm``."""

    points_mm: tuple[tuple[float, float], ...]
    width_mm: float | None = 0.2
    ink: float = 0.0
    fill: float | None = None
    closed: bool = False
    dash_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``y_mm`` is its baseline, ``anchor`` start, middle or end of it is at x.

    ``turned`` text reads upwards, its baseline on x and ``anchor`` counted along y.
    """

    x_mm: float
    y_mm: float
    text: str
    size_pt: float
    face: str = TEXT
    weight: int = 400
    italic: bool = False
    anchor: str = "start"
    ink: float = 0.0
    turned: bool = False

    @property
    def left_mm(self) -> float:
        """Where the text starts, along its baseline (x, or y for turned text)."""
        width = self.width_mm
        before = {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        return self.y_mm + before if self.turned else self.x_mm - before

    @property
    def width_mm(self) -> float:
        """Advance width of the text."""
        return text_extent_mm(self.text, self.size_pt, self.face, self.weight, self.italic)[0]

    @property
    def box_mm(self) -> Box:
        """The box that the text's ink may fill."""
        width, up, down = text_extent_mm(
            self.text, self.size_pt, self.face, self.weight, self.italic
        )
        if self.turned:
            return self.x_mm - up, self.left_mm - width, self.x_mm + down, self.left_mm
        return self.left_mm, self.y_mm - up, self.left_mm + width, self.y_mm + down


@dataclass(frozen=True, slots=True)
class Picture:
    """An SVG, such as engraved music, with its upper left corner at (x, y)."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    svg: str


@dataclass(frozen=True, slots=True)
class Region:
    """Where something lies that can be picked on a screen, and what it is; nothing on paper."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    of: str


Ink = Line | Rect | Circle | Path | Text | Picture
Shape = Ink | Region


@dataclass(frozen=True, slots=True)
class Page:
    """One page and what is on it, drawn in order."""

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]

    @property
    def texts(self) -> tuple[Text, ...]:
        """All texts of the page."""
        return tuple(shape for shape in self.shapes if isinstance(shape, Text))


@dataclass(frozen=True, slots=True)
class Sheet:
    """A document of drawn pages."""

    title: str
    pages: tuple[Page, ...]
    language: str = "en"


def pt(size_pt: float) -> float:
    """A type size in millimetres."""
    return size_pt * MM_PER_PT


def lowest_mm(shapes: Iterable[Shape]) -> float:
    """How far down the shapes reach; 0 for none."""
    return max(map(_lowest, shapes), default=0.0)


def _lowest(shape: Shape) -> float:
    match shape:
        case Line():
            return max(shape.y1_mm, shape.y2_mm)
        case Path():
            return max(y for _, y in shape.points_mm)
        case Circle():
            return shape.y_mm + shape.radius_mm
        case Text():
            return shape.box_mm[3]
        case Rect() | Picture() | Region():
            return shape.y_mm + shape.height_mm


def enlarged(shape: Shape, factor: float) -> Shape:
    """The shape with all its lengths and its type ``factor`` times as large, about (0, 0)."""
    sizes = {
        field.name: _times(getattr(shape, field.name), factor)
        for field in fields(shape)
        if field.name.endswith(("_mm", "_pt"))
    }
    return replace(shape, **sizes)


def _times(size: Any, factor: float) -> Any:
    if isinstance(size, tuple):
        return tuple(_times(each, factor) for each in size)
    return None if size is None else size * factor


def overlapping_texts(page: Page, slack_mm: float = 0.05) -> list[tuple[Text, Text]]:
    """Pairs of texts of a page whose boxes overlap by more than ``slack_mm``."""
    boxes = sorted(((text.box_mm, text) for text in page.texts), key=lambda pair: pair[0][0])
    pairs = []
    for number, (one, first) in enumerate(boxes):
        for other, second in boxes[number + 1 :]:
            if other[0] >= one[2] - slack_mm:
                break
            if other[1] < one[3] - slack_mm and one[1] < other[3] - slack_mm:
                pairs.append((first, second))
    return pairs


def leaving_page(page: Page, margin_mm: float = 0.0) -> list[Text]:
    """Texts that cross the page's margin."""
    return [
        text
        for text in page.texts
        if text.box_mm[0] < margin_mm
        or text.box_mm[1] < margin_mm
        or text.box_mm[2] > page.width_mm - margin_mm
        or text.box_mm[3] > page.height_mm - margin_mm
    ]
