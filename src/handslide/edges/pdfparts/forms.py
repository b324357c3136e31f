"""What a page draws, sorted by form: level lines, uprights, slabs, slants, arcs, shapes.

A line is a stroke or a thin filled area: programs draw staff lines, stems and barlines either way.
"""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from handslide.edges.pdfparts.drawn import PageDrawing, Path, Point

_FLAT = 0.05
"""Points by which the ends of a level or upright stroke may differ."""
_SHORTEST = 0.8
"""Points: shorter strokes are no lines."""
_SOLID = 0.86
"""Share of its box that a bar fills, corners rounded off."""
_SLAB_CORNERS = 10


@dataclass(frozen=True, slots=True)
class Line:
    """A level line; ``width`` is its thickness."""

    x0: float
    x1: float
    y: float
    width: float

    @property
    def length(self) -> float:
        """From end to end."""
        return self.x1 - self.x0


@dataclass(frozen=True, slots=True)
class Upright:
    """An upright line; ``width`` is its thickness."""

    x: float
    y0: float
    y1: float
    width: float

    @property
    def length(self) -> float:
        """From end to end."""
        return self.y1 - self.y0


@dataclass(frozen=True, slots=True)
class Slab:
    """A filled area with upright ends, such as a beam: the middle and thickness of both ends."""

    x0: float
    x1: float
    left_y: float
    right_y: float
    thickness: float

    def y_at(self, x: float) -> float:
        """Its middle at ``x``."""
        run = max(self.x1 - self.x0, 1e-6)
        return self.left_y + (self.right_y - self.left_y) * (x - self.x0) / run


@dataclass(frozen=True, slots=True)
class Slant:
    """An oblique stroke from left to right."""

    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True, slots=True)
class Arc:
    """A bowed line: its ends and the height at which it stands furthest from them."""

    left: Point
    right: Point
    bow_y: float

    @property
    def above(self) -> bool:
        """It bows upwards."""
        return 2 * self.bow_y > self.left[1] + self.right[1]


@dataclass(frozen=True, slots=True)
class Shape:
    """A filled area that may be a sign."""

    polygons: tuple[tuple[Point, ...], ...]
    x0: float
    y0: float
    x1: float
    y1: float
    curved: bool
    of_bars: bool = False
    """It is put together of bars alone, which are among the other forms too."""

    @property
    def fullness(self) -> float:
        """The share of its box that it fills."""
        box = (self.x1 - self.x0) * (self.y1 - self.y0)
        return sum(area(polygon) for polygon in self.polygons) / box if box > 0 else 0.0


@dataclass(slots=True)
class Forms:
    """All forms of a page."""

    lines: list[Line] = field(default_factory=list)
    uprights: list[Upright] = field(default_factory=list)
    slabs: list[Slab] = field(default_factory=list)
    slants: list[Slant] = field(default_factory=list)
    arcs: list[Arc] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)


def area(polygon: Sequence[Point]) -> float:
    """The area within a closed polygon (shoelace formula)."""
    turned = itertools.pairwise((*polygon, polygon[0]))
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in turned)) / 2


def box_of(points: Sequence[Point]) -> tuple[float, float, float, float]:
    """x0, y0, x1, y1 of points."""
    xs = [point[0] for point in points]
    ys = [point[1] for point in points]
    return min(xs), min(ys), max(xs), max(ys)


def forms_of(page: PageDrawing) -> Forms:
    """Sort all paths of a page."""
    forms = Forms()
    for path in page.paths:
        if path.filled:
            _sort_area(forms, path)
        elif path.curved:
            _add_arc(forms, [point for polygon in path.polygons for point in polygon])
        else:
            for polygon in path.polygons:
                _sort_strokes(forms, polygon, path.width)
    forms.uprights = _once(forms.uprights)
    return forms


def _once(uprights: Iterable[Upright]) -> list[Upright]:
    """A bar that is filled and whose edges are stroked too is one upright."""
    found: list[Upright] = []
    for one in sorted(uprights, key=lambda one: (round(one.y0), round(one.y1), one.x)):
        last = found[-1] if found else None
        if last is not None and _overlap(last, one):
            left = min(last.x - last.width / 2, one.x - one.width / 2)
            right = max(last.x + last.width / 2, one.x + one.width / 2)
            y0, y1 = min(last.y0, one.y0), max(last.y1, one.y1)
            found[-1] = Upright((left + right) / 2, y0, y1, right - left)
        else:
            found.append(one)
    return found


def _overlap(a: Upright, b: Upright) -> bool:
    beside = abs(a.x - b.x) <= (a.width + b.width) / 2 + 0.02
    return beside and abs(a.y0 - b.y0) < 0.6 and abs(a.y1 - b.y1) < 0.6


def _sort_strokes(forms: Forms, polygon: Sequence[Point], width: float) -> None:
    for a, b in itertools.pairwise(polygon):
        left, right = min(a, b), max(a, b)
        if abs(a[1] - b[1]) < _FLAT:
            if right[0] - left[0] > _SHORTEST:
                forms.lines.append(Line(left[0], right[0], (a[1] + b[1]) / 2, width))
        elif abs(a[0] - b[0]) < _FLAT:
            if abs(a[1] - b[1]) > _SHORTEST:
                y0, y1 = sorted((a[1], b[1]))
                forms.uprights.append(Upright((a[0] + b[0]) / 2, y0, y1, width))
        elif right[0] - left[0] > _SHORTEST:
            forms.slants.append(Slant(*left, *right))


def _sort_area(forms: Forms, path: Path) -> None:
    grown = path.width if path.stroked else 0.0
    bars = [_bar_of(polygon, grown) for polygon in path.polygons]
    if all(bar is not None for bar in bars) and not _is_lattice(bars):
        for bar in bars:
            if isinstance(bar, Line):
                forms.lines.append(bar)
            elif isinstance(bar, Upright):
                forms.uprights.append(bar)
            elif bar is not None:
                forms.slabs.append(bar)
        uprights = sum(isinstance(bar, Upright) for bar in bars)
        if len(bars) < 3 or uprights in (0, len(bars)):
            return
    points = [point for polygon in path.polygons for point in polygon]
    of_bars = None not in bars
    forms.shapes.append(Shape(path.polygons, *box_of(points), path.curved, of_bars))


def _is_lattice(bars: Sequence[Line | Upright | Slab | None]) -> bool:
    """Uprights that cross, and outreach, level bars or slabs: a sharp drawn in four strokes. Stems
    end at their beams."""
    crossed = 0
    for upright in (bar for bar in bars if isinstance(bar, Upright)):
        for bar in bars:
            if isinstance(bar, Upright) or bar is None:
                continue
            ends = (bar.y, bar.y) if isinstance(bar, Line) else (bar.left_y, bar.right_y)
            inset = 0.05 * (bar.x1 - bar.x0)
            within = bar.x0 + inset < upright.x < bar.x1 - inset
            crossed += within and upright.y0 < min(ends) and upright.y1 > max(ends)
    return crossed >= 4


def _bar_of(polygon: Sequence[Point], grown: float) -> Line | Upright | Slab | None:
    x0, y0, x1, y1 = box_of(polygon)
    width, height = x1 - x0 + grown, y1 - y0 + grown
    if width <= 0 or height <= 0:
        return None
    if area(polygon) >= _SOLID * (x1 - x0) * (y1 - y0):
        if width > 4 * height and width > _SHORTEST:
            return Line(x0 - grown / 2, x1 + grown / 2, (y0 + y1) / 2, height)
        if height > 2.5 * width and height > _SHORTEST:
            return Upright((x0 + x1) / 2, y0 - grown / 2, y1 + grown / 2, width)
    return _slab_of(polygon, grown, x0, x1)


def _slab_of(polygon: Sequence[Point], grown: float, x0: float, x1: float) -> Slab | None:
    """Four corners, two on each upright end; or as many rounded ones."""
    if not 4 <= len(set(polygon)) <= _SLAB_CORNERS or x1 - x0 < _SHORTEST:
        return None
    edge = min(0.2 * (x1 - x0), 1.6)
    left = [y for x, y in polygon if x < x0 + edge]
    right = [y for x, y in polygon if x > x1 - edge]
    inside = [x for x, _ in polygon if x0 + edge <= x <= x1 - edge]
    if inside or len(left) < 2 or len(right) < 2:
        return None
    tall = max(left) - min(left), max(right) - min(right)
    if min(tall) <= 0 or max(tall) > 1.35 * min(tall) or max(tall) > 1.2 * (x1 - x0):
        return None
    return Slab(
        x0 - grown / 2, x1 + grown / 2, (max(left) + min(left)) / 2, (max(right) + min(right)) / 2,
        max(tall) + grown,
    )  # fmt: skip


def _add_arc(forms: Forms, points: Sequence[Point]) -> None:
    arc = arc_of(points)
    if arc is not None:
        forms.arcs.append(arc)


def arc_of(points: Sequence[Point]) -> Arc | None:
    """A curved outline or stroke as an arc; None where it has no width."""
    left, right = min(points), max(points)
    if right[0] - left[0] <= _SHORTEST:
        return None
    run = right[0] - left[0]

    def off(point: Point) -> float:
        return point[1] - left[1] - (right[1] - left[1]) * (point[0] - left[0]) / run

    return Arc(left, right, max(points, key=lambda point: abs(off(point)))[1])
