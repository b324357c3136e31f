"""Where the ink of an engraved system lies: boxes of the shapes in the engraver's SVG.

Lengths are in the engraver's units: 100 units are 1 mm, x to the right, y down. Curves are cut
into short pieces, so that a slur is a chain of small boxes and not one large one.
"""

import re
from collections.abc import Container, Iterator
from functools import cache
from typing import Any, NamedTuple

from lxml import etree

SVG = "{http://www.w3.org/2000/svg}"
HREF = "{http://www.w3.org/1999/xlink}href"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")
_SEGMENT = re.compile(r"([MLCZHVSlcmhvsz])([^A-Za-z]*)")
_MOVED = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\) scale\((-?[\d.]+), (-?[\d.]+)\)")
_STRAIGHT = re.compile(r"M(-?[\d.]+)[ ,](-?[\d.]+) ?L(-?[\d.]+)[ ,](-?[\d.]+) ?")
_CURVE_PIECES = 12
_LONG = 200.0  # a slanted line so wide is cut
_CURVE_WEIGHTS = [
    ((1 - t) ** 3, 3 * (1 - t) * (1 - t) * t, 3 * (1 - t) * t * t, t**3)
    for t in (step / _CURVE_PIECES for step in range(_CURVE_PIECES + 1))
]
_LETTER_EM = 0.5  # mean width of a letter of the text face
_SHAPES = tuple(
    f"{SVG}{tag}" for tag in ("use", "path", "rect", "polygon", "polyline", "ellipse", "text")
)


class Box(NamedTuple):
    """A rectangle in the engraver's units; y grows downwards.

    A tuple, since a page has thousands of them, and they are made several times as fast.
    """

    left: float
    top: float
    right: float
    bottom: float

    def beside(self, other: "Box", gap: float = 0.0) -> bool:
        """Whether the two share no column, with ``gap`` between them."""
        return self.right + gap <= other.left or other.right + gap <= self.left

    def touches(self, other: "Box", gap: float = 0.0) -> bool:
        """Whether the two come nearer than ``gap`` in both directions."""
        apart = self.bottom + gap <= other.top or other.bottom + gap <= self.top
        return not (apart or self.beside(other, gap))

    def moved(self, down: float) -> "Box":
        """Return the box shifted down by ``down`` units."""
        return Box(self.left, self.top + down, self.right, self.bottom + down)


def is_kind(element: etree._Element, kind: str) -> bool:
    """Whether a group of the engraver's SVG holds such a thing: a ``note``, a ``staff``."""
    found = element.get("class")
    return found is not None and (found == kind or found.startswith(f"{kind} "))


def of_kind(element: etree._Element, kind: str) -> list[etree._Element]:
    """The groups that hold such a thing, in their order: in ``element``, or itself."""
    found: list[etree._Element] = _finder(kind)(element)
    return found


def finder(condition: str) -> etree.XPath:
    """What finds an element of an SVG and all in it that meet a condition of XPath."""
    return etree.XPath(f"descendant-or-self::{condition}", namespaces={"s": SVG[1:-1]})


@cache
def _finder(kind: str) -> etree.XPath:
    return finder(f"s:g[@class = '{kind}' or starts-with(@class, '{kind} ')]")


def hull(boxes: list[Box]) -> Box:
    """Return the smallest box around all boxes (at least one)."""
    if len(boxes) == 1:
        return boxes[0]
    left, top, right, bottom = zip(*boxes)
    return Box(min(left), min(top), max(right), max(bottom))


class Glyphs:
    """Boxes of the music glyphs that a page defines, and of the shapes that were asked for."""

    def __init__(self, svg: etree._Element) -> None:
        self.boxes: dict[etree._Element, list[Box]] = {}
        self._paths: dict[str, str] = {}
        for defs in svg.iter(f"{SVG}defs"):
            for symbol in defs:
                path = symbol.find(f"{SVG}path")
                if path is not None and symbol.get("id"):
                    self._paths[symbol.get("id", "")] = path.get("d", "")

    def box(self, use: etree._Element) -> Box | None:
        """Return the box of one ``<use>``, or None when its glyph has no ink."""
        path = self._paths.get(use.get(HREF, "")[1:])
        if path is None:
            return None
        glyph = _glyph_box(path)
        if glyph is None:
            return None
        moved = use.get("transform", "")
        found = _MOVED.fullmatch(moved)
        numbers = _numbers(moved) if found is None else [float(text) for text in found.groups()]
        x, y, across, down = (
            [*numbers, 0.0, 0.0, 1.0, 1.0][:4] if len(numbers) >= 4 else (0, 0, 1, 1)
        )
        return Box(
            x + glyph.left * across,
            y - glyph.bottom * down,
            x + glyph.right * across,
            y - glyph.top * down,
        )


@cache
def _glyph_box(path: str) -> Box | None:
    """Return the box of a glyph outline (y up: ``top`` is its lowest point)."""
    x = y = 0.0
    points: list[tuple[float, float]] = []
    start = (0.0, 0.0)
    for command, text in _SEGMENT.findall(path):
        values = [float(number) for number in _NUMBER.findall(text)]
        if command in "Mm":
            x, y = (values[0], values[1]) if command == "M" else (x + values[0], y + values[1])
            start = (x, y)
            values = values[2:]
            command = "L" if command == "M" else "l"
        elif command in "Zz":
            x, y = start
        for dx, dy, inner in _steps(command, values):
            relative = command.islower()
            points += [(x + a, y + b) if relative else (a, b) for a, b in inner]
            x, y = (x + dx, y + dy) if relative else (_pick(dx, x), _pick(dy, y))
        points.append((x, y))
    if not points:
        return None
    across, up = [point[0] for point in points], [point[1] for point in points]
    return Box(min(across), min(up), max(across), max(up))


def _pick(value: float | None, default: float) -> float:
    return default if value is None else value


def _steps(command: str, values: list[float]) -> Iterator[tuple[Any, ...]]:
    """Yield (dx, dy, inner points) of each segment; the curves' middles stand for their bulge."""
    kind = command.lower()
    still = 0.0 if command.islower() else None
    if kind == "h":
        for value in values:
            yield value, still, [(value, 0.0)] if command.islower() else []
    elif kind == "v":
        for value in values:
            yield still, value, [(0.0, value)] if command.islower() else []
    elif kind == "l":
        for x, y in zip(values[::2], values[1::2]):
            yield x, y, [(x, y)]
    elif kind == "c":
        for at in range(0, len(values) - 5, 6):
            ax, ay, bx, by, x, y = values[at : at + 6]
            middle = ((3 * ax + 3 * bx + x) / 8, (3 * ay + 3 * by + y) / 8)
            yield x, y, [middle, (x, y)] if command.islower() else [(x, y)]
    elif kind == "s":
        for at in range(0, len(values) - 3, 4):
            bx, by, x, y = values[at : at + 4]
            yield x, y, [(x, y)]


def ink(element: etree._Element, glyphs: Glyphs) -> list[Box]:
    """Return the boxes of everything drawn inside ``element`` (no defs, no groups skipped)."""
    return ink_beside(element, (), glyphs)


def ink_beside(
    element: etree._Element, others: Container[etree._Element], glyphs: Glyphs
) -> list[Box]:
    """As `ink`, without the shapes that are among ``others``."""
    boxes: list[Box] = []
    known = glyphs.boxes
    for shape in element.iter(*_SHAPES):
        if shape not in others:
            found = known.get(shape)
            boxes += shape_boxes(shape, glyphs) if found is None else found
    return boxes


def shape_boxes(shape: etree._Element, glyphs: Glyphs) -> list[Box]:
    """Return the boxes of one drawn element; it must not be changed afterwards."""
    found = glyphs.boxes.get(shape)
    if found is None:
        found = glyphs.boxes[shape] = _boxes(shape, glyphs)
    return found


def _boxes(shape: etree._Element, glyphs: Glyphs) -> list[Box]:
    tag = shape.tag[len(SVG) :]
    if tag == "use":
        box = glyphs.box(shape)
        return [box] if box is not None else []
    if tag == "path":
        return _path_boxes(shape)
    if tag in ("polygon", "polyline"):
        numbers = _numbers(shape.get("points", ""))
        return _chain(list(zip(numbers[::2], numbers[1::2])), _half_stroke(shape), tag == "polygon")
    if tag == "rect":
        x, y = _real(shape, "x"), _real(shape, "y")
        return [Box(x, y, x + _real(shape, "width"), y + _real(shape, "height"))]
    if tag == "ellipse":
        x, y, rx, ry = (_real(shape, name) for name in ("cx", "cy", "rx", "ry"))
        return [Box(x - rx, y - ry, x + rx, y + ry)]
    if tag == "text":
        return _text_boxes(shape)
    return []


def _numbers(text: str) -> list[float]:
    try:
        return [float(number) for number in text.replace(",", " ").split()]
    except ValueError:  # nothing between them, or words
        return [float(number) for number in _NUMBER.findall(text)]


def _real(shape: etree._Element, name: str) -> float:
    try:
        return float(shape.get(name, "0"))
    except ValueError:
        return 0.0


def _half_stroke(shape: etree._Element) -> float:
    return _real(shape, "stroke-width") / 2 if shape.get("stroke-width") else 0.0


def _path_boxes(shape: etree._Element) -> list[Box]:
    half, path = _half_stroke(shape), shape.get("d", "")
    straight = _STRAIGHT.fullmatch(path)
    if straight is not None:  # most are: staff lines, stems, ledger lines
        x0, y0, x1, y1 = map(float, straight.groups())
        if x0 == x1 or y0 == y1:
            return [_around(x0, y0, x1, y1, half)]
        return _chain([(x0, y0), (x1, y1)], half, False)
    boxes: list[Box] = []
    at = (0.0, 0.0)
    for command, text in _SEGMENT.findall(path):
        numbers = _numbers(text)
        points = list(zip(numbers[::2], numbers[1::2]))
        if command == "M" and points:
            at, points = points[0], points[1:]
        if command == "C":
            for index in range(0, len(points) - 2, 3):
                boxes += _chain(_curve(at, *points[index : index + 3]), half, False)
                at = points[index + 2]
        elif command in "ML" and points:
            boxes += _chain([at, *points], half, False)
            at = points[-1]
    return boxes


def _curve(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float], d: tuple[float, float]
) -> list[tuple[float, float]]:
    return [
        (e * a[0] + f * b[0] + g * c[0] + h * d[0], e * a[1] + f * b[1] + g * c[1] + h * d[1])
        for e, f, g, h in _CURVE_WEIGHTS
    ]


def _chain(points: list[tuple[float, float]], half: float, closed: bool) -> list[Box]:
    """Return boxes along a line of points; long slanted pieces are cut."""
    if closed and len(points) == 4:
        return _band(points)
    boxes = []
    for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1] if closed else points[1:]):
        if x0 == x1 or y0 == y1 or -_LONG < x1 - x0 < _LONG:
            boxes.append(_around(x0, y0, x1, y1, half))
        else:
            boxes += _cut(x0, y0, x1, y1, half)
    return boxes


def _around(x0: float, y0: float, x1: float, y1: float, half: float) -> Box:
    left, right = (x0, x1) if x0 < x1 else (x1, x0)
    top, bottom = (y0, y1) if y0 < y1 else (y1, y0)
    return Box(left - half, top - half, right + half, bottom + half)


def _cut(x0: float, y0: float, x1: float, y1: float, half: float) -> list[Box]:
    """Boxes along a long slanted line."""
    pieces = 1 + int(abs(x1 - x0) / _LONG)
    boxes = []
    for piece in range(pieces):
        xa, xb = (x0 + (x1 - x0) * (piece + k) / pieces for k in (0, 1))
        ya, yb = (y0 + (y1 - y0) * (piece + k) / pieces for k in (0, 1))
        boxes.append(_around(xa, ya, xb, yb, half))
    return boxes


def _band(points: list[tuple[float, float]]) -> list[Box]:
    """Return boxes along a beam: a slanted band between a first and a second edge."""
    (xa, ya), (xb, yb), (_, yc), (_, yd) = points
    if ya == yb and yc == yd:
        return [hull([Box(xa, ya, xa, ya), Box(xb, yc, xb, yc)])]
    pieces = 1 + int(abs(xb - xa) / _LONG)
    boxes = []
    for piece in range(pieces):
        f, g = piece / pieces, (piece + 1) / pieces
        ys = ya + (yb - ya) * f, ya + (yb - ya) * g, yd + (yc - yd) * f, yd + (yc - yd) * g
        xs = xa + (xb - xa) * f, xa + (xb - xa) * g
        boxes.append(Box(min(xs), min(ys), max(xs), max(ys)))
    return boxes


def _text_boxes(shape: etree._Element) -> list[Box]:
    """Return one box for a text, from mean letter widths (generous)."""
    width = ascent = 0.0
    x, y = _real(shape, "x"), _real(shape, "y")
    for span in shape.iter():
        letters = (span.text or "").strip()
        if letters:
            size = _size(span)
            width += size * _LETTER_EM * len(letters)
            ascent = max(ascent, size)
    if not width:
        return []
    anchor = next((e.get("text-anchor") for e in shape.iter() if e.get("text-anchor")), "start")
    left = x - {"middle": width / 2, "end": width}.get(anchor, 0.0)
    return [Box(left, y - 0.82 * ascent, left + width, y + 0.22 * ascent)]


def _size(span: etree._Element) -> float:
    for element in (span, *span.iterancestors(f"{SVG}tspan", f"{SVG}text")):
        size = element.get("font-size", "")
        if size and size not in ("0px", "1px"):
            return _numbers(size.removesuffix("px"))[0]
    return 0.0
