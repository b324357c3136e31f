"""What all drawn sheets share: paper, title, the small line that names the horn, legend, number.

The line with horn, tuning pitch and temperature is on every page, so that a sheet is never mistaken
for another horn's.
"""

from dataclasses import dataclass, replace

from handslide.ground.papers import CHART_PAPERS, DEFAULT_PAPER
from handslide.sheets.dots import place_dot
from handslide.sheets.metrics import text_extent_mm
from handslide.sheets.prose import fitting_pt, text_rows, wrapped
from handslide.sheets.shapes import (
    MARKS,
    TEXT,
    Line,
    Page,
    Path,
    Shape,
    Text,
    enlarged,
    lowest_mm,
    pt,
)

MARGIN_MM = 12.0
_TITLE_PT, _LEAST_TITLE_PT, _LINE_PT, _LEGEND_PT = 20.0, 10.0, 9.0, 8.5
_LEADING = 1.35
_INDEX_PT = 7.0
_RIM_MM = 1.7
# How far below the line of a mark its partial stands: raised it would read as a power.
INDEX_DOWN_MM = 0.75
_DOT_MM = 1.15
_ENTRY_GAP_MM = 5.0
_EDGE_MM = 1.0  # about a piece on a screen
_NUMBER_MM = 18.0  # right of the legend, for the number of the page


@dataclass(frozen=True, slots=True)
class Head:
    """The texts of a sheet's frame. ``lines`` stand under the title; ``legend`` at the foot.

    A sign ``dot:K`` in the legend is drawn as the filled dot of the horn's valve set K, ``ring:K``
    as its hollow one, ``index:4:3`` as a 4 with a small, lowered 3, ``rim`` as the arrow
    head at the bell's rim. On a paper for the wall all is
    drawn as for the stand and enlarged, unless ``true_size``.

    ``screen_mm`` is there for a page on a screen that has a title of its own: pieces so wide, and
    at most so high as the second, without title and margins, each only as high as what is on it;
    the legend, and ``lines`` but for the first, are a piece behind them.
    """

    title: str
    lines: tuple[str, ...]
    paper: str = DEFAULT_PAPER
    landscape: bool = False
    legend: tuple[tuple[str, str], ...] = ()
    true_size: bool = False
    screen_mm: tuple[float, float] | None = None

    @property
    def enlarged(self) -> float:
        """How much larger all is printed than it is drawn."""
        if self.true_size or self.screen_mm is not None:
            return 1.0
        return CHART_PAPERS[self.paper].enlarged


@dataclass(frozen=True, slots=True)
class Area:
    """What the frame leaves free on a page, in millimetres."""

    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float

    @property
    def width_mm(self) -> float:
        return self.right_mm - self.left_mm

    @property
    def height_mm(self) -> float:
        return self.bottom_mm - self.top_mm


def paper_mm(head: Head) -> tuple[float, float]:
    """Width and height of a page, before it is enlarged."""
    if head.screen_mm is not None:
        return head.screen_mm
    paper = CHART_PAPERS[head.paper]
    width, height = paper.width_mm / head.enlarged, paper.height_mm / head.enlarged
    return (height, width) if head.landscape else (width, height)


def free_area(head: Head) -> Area:
    """The area that every page of a sheet has for its content."""
    width, height = paper_mm(head)
    if head.screen_mm is not None:
        return Area(_EDGE_MM, _EDGE_MM, width - _EDGE_MM, height - _EDGE_MM)
    lines = _wrapped_lines(head, width - 2 * MARGIN_MM)
    top = MARGIN_MM + pt(_TITLE_PT) + len(lines) * pt(_LINE_PT) * _LEADING + 4.0
    foot = len(_legend_rows(head, width - 2 * MARGIN_MM - _NUMBER_MM)) * pt(_LEGEND_PT) * 1.5
    return Area(MARGIN_MM, top, width - MARGIN_MM, height - MARGIN_MM - max(foot, 5.0) - 3.0)


def framed(head: Head, contents: list[list[Shape]]) -> tuple[Page, ...]:
    """Pages with the frame around each of ``contents``."""
    if head.screen_mm is not None:
        pieces = [*contents, _below(head)]
        return tuple(_piece(head.screen_mm[0], shapes) for shapes in pieces if shapes)
    return tuple(
        _page(head, shapes, number, len(contents)) for number, shapes in enumerate(contents, 1)
    )


def _piece(width_mm: float, shapes: list[Shape]) -> Page:
    return Page(width_mm, lowest_mm(shapes) + _EDGE_MM, tuple(shapes))


def _below(head: Head) -> list[Shape]:
    """What a screen has below its pieces: the legend, and what else is to be known."""
    room = free_area(head).width_mm
    top = _EDGE_MM + pt(_LEGEND_PT) - 4.2
    legend = _legend(head, top, _EDGE_MM, room)
    y = max(lowest_mm(legend), 0.0) + 1.0
    rows = _wrapped_lines(replace(head, lines=head.lines[1:]), room)
    return [*legend, *text_rows(rows, _EDGE_MM, y, _LINE_PT)]


def _page(head: Head, content: list[Shape], number: int, total: int) -> Page:
    width, height = paper_mm(head)
    shapes: list[Shape] = []
    title_y = MARGIN_MM + pt(_TITLE_PT) * 0.75
    room = width - 2 * MARGIN_MM
    size = fitting_pt([head.title], _TITLE_PT, room, 600, least_pt=_LEAST_TITLE_PT)
    title = _shortened(head.title, size, room)
    shapes.append(Text(MARGIN_MM, title_y, title, size, weight=600))
    y = MARGIN_MM + pt(_TITLE_PT) + 0.5
    for line in _wrapped_lines(head, room):
        y += pt(_LINE_PT) * _LEADING
        shapes.append(Text(MARGIN_MM, y - 1.0, line, _LINE_PT))
    foot = free_area(head).bottom_mm + 2.0
    shapes.append(Line(MARGIN_MM, foot, width - MARGIN_MM, foot, 0.15))
    shapes.extend(_legend(head, foot, MARGIN_MM, width - 2 * MARGIN_MM - _NUMBER_MM))
    if total > 1:
        mark = f"{number} / {total}"
        shapes.append(Text(width - MARGIN_MM, foot + 4.2, mark, _LEGEND_PT, anchor="end"))
    if (factor := head.enlarged) != 1.0:
        every = tuple(enlarged(shape, factor) for shape in (*shapes, *content))
        return Page(width * factor, height * factor, every)
    return Page(width, height, (*shapes, *content))


def _shortened(title: str, size_pt: float, room_mm: float) -> str:
    """A title that is too long even in small type ends in three dots."""
    text = title
    while len(text) > 1 and text_extent_mm(text, size_pt, TEXT, 600, False)[0] > room_mm:
        text = text.rstrip("…")[:-1].rstrip() + "…"
    return text


def _wrapped_lines(head: Head, room_mm: float) -> list[str]:
    """The head's lines, broken at their dots where they are too long, and at blanks if need be."""
    rows = []
    for line in head.lines:
        row = ""
        for piece in line.split(" · "):
            longer = f"{row} · {piece}" if row else piece
            if row and text_extent_mm(longer, _LINE_PT, TEXT, 400, False)[0] > room_mm:
                rows.append(row)
                longer = piece
            row = longer
        rows += wrapped(row, _LINE_PT, room_mm) or [row]
    return rows


@dataclass(frozen=True, slots=True)
class _Entry:
    """A sign and its meaning where they stand in a row of the legend; more of a long one: no sign.

    ``sign_mm`` is the room of the sign, ``x_mm`` counts from the left margin.
    """

    x_mm: float
    sign: str
    sign_mm: float
    meaning: str


def _legend_rows(head: Head, room_mm: float) -> list[list[_Entry]]:
    rows: list[list[_Entry]] = [[]]
    used = 0.0
    for sign, meaning in head.legend:
        sign_mm = _sign_width(sign) + 1.5 if sign else 0.0
        width = sign_mm + text_extent_mm(meaning, _LEGEND_PT, TEXT, 400, False)[0] + _ENTRY_GAP_MM
        if rows[-1] and used + width > room_mm:
            rows.append([])
            used = 0.0
        said = [meaning]
        if used + width - _ENTRY_GAP_MM > room_mm:
            said = wrapped(meaning, _LEGEND_PT, room_mm - sign_mm)
        for number, piece in enumerate(said):
            if number:
                rows.append([])
            rows[-1].append(_Entry(used, "" if number else sign, sign_mm, piece))
        used = room_mm if len(said) > 1 else used + width
    return rows


def _legend(head: Head, foot_mm: float, left_mm: float, room_mm: float) -> list[Shape]:
    shapes: list[Shape] = []
    y = foot_mm + 4.2
    for row in _legend_rows(head, room_mm):
        for entry in row:
            x = left_mm + entry.x_mm
            if entry.sign:
                shapes += _sign(x, y, entry.sign)
            shapes.append(Text(x + entry.sign_mm, y, entry.meaning, _LEGEND_PT))
        y += pt(_LEGEND_PT) * 1.5
    return shapes


def _dot_of(sign: str) -> tuple[str, int] | None:
    kind, _, which = sign.partition(":")
    return (kind, int(which)) if kind in ("dot", "ring") and which.isdigit() else None


def _index_of(sign: str) -> tuple[str, str] | None:
    kind, _, rest = sign.partition(":")
    mark, _, index = rest.partition(":")
    return (mark, index) if kind == "index" else None


def _sign_width(sign: str) -> float:
    if (index := _index_of(sign)) is not None:
        return _sign_width(index[0]) + text_extent_mm(index[1], _INDEX_PT, TEXT, 400, False)[0]
    if sign == "rim":
        return _RIM_MM
    if _dot_of(sign) is not None:
        return 2 * _DOT_MM
    return text_extent_mm(sign, _LEGEND_PT, MARKS, 700, False)[0]


def rim_sign(x_mm: float, y_mm: float, *, upright: bool = False) -> Path:
    """An arrow head with its point at (x, y): from the left, or from below if ``upright``."""
    points = [(0.0, 0.0), (-_RIM_MM, -0.5 * _RIM_MM), (-_RIM_MM, 0.5 * _RIM_MM)]
    if upright:
        points = [(dy, -dx) for dx, dy in points]
    return Path(tuple((x_mm + dx, y_mm + dy) for dx, dy in points), None, fill=0.0, closed=True)


def _sign(x_mm: float, y_mm: float, sign: str) -> list[Shape]:
    if sign == "rim":
        return [rim_sign(x_mm + _RIM_MM, y_mm - 1.05)]
    if (index := _index_of(sign)) is not None:
        mark = Text(x_mm, y_mm, index[0], _LEGEND_PT, face=MARKS, weight=700)
        return [mark, Text(x_mm + mark.width_mm, y_mm + INDEX_DOWN_MM, index[1], _INDEX_PT)]
    dot = _dot_of(sign)
    if dot is None:
        return [Text(x_mm, y_mm, sign, _LEGEND_PT, face=MARKS, weight=700)]
    kind, which = dot
    return [place_dot(which, x_mm + _DOT_MM, y_mm - 1.05, _DOT_MM, filled=kind == "dot")]
