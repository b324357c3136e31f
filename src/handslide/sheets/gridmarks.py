"""The signs of the harmonic grid: lines and points of valve sets, hatching, marks, the key.

Valve sets are told apart without colour: by the dash of the curve and the shape of the dot.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from handslide.sheets.dots import place_dot
from handslide.sheets.metrics import text_extent_mm
from handslide.sheets.shapes import (
    MARKS,
    TEXT,
    Box,
    Circle,
    Line,
    Path,
    Picture,
    Rect,
    Region,
    Shape,
    Text,
    pt,
)

MARK_PT = 8.0
USUAL_MM, OTHER_MM = 1.05, 0.85
_KEY_PT = 8.0
_KEY_LEADING_MM = 4.8
_KEY_GAP_MM = 5.0
_HATCH_MM = 2.2
_DASHES: tuple[tuple[float, ...], ...] = (
    (),
    (2.2, 1.0),
    (0.5, 0.9),
    (2.6, 0.8, 0.5, 0.8),
    (4.5, 1.0),
    (1.0, 1.0),
    (2.6, 0.7, 0.5, 0.7, 0.5, 0.7),
    (4.5, 0.8, 1.2, 0.8),
)


@dataclass(frozen=True, slots=True)
class GridTexts:
    """What stands on a harmonic grid, in the reader's language.

    ``columns`` and ``sets`` have one text for each valve set of the horn, the open horn first:
    short over its partial numbers (``F``), and in full in the key (``F valve``). ``never`` and
    ``not_yet`` say of the notes from one name to another that they aren't on the horn, or not
    within the student's limits.
    """

    columns: tuple[str, ...]
    sets: tuple[str, ...]
    partial: str
    usual: str
    other: str
    lipped: str
    end: str
    beyond_reach: str
    never: Callable[[str, str], str]
    not_yet: Callable[[str, str], str]


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the key: a sign drawn from x = 0 about y = 0, its width, its meaning."""

    sign: tuple[Shape, ...]
    sign_mm: float
    meaning: str

    @property
    def width_mm(self) -> float:
        """Width of sign and meaning."""
        return self.sign_mm + 1.5 + text_extent_mm(self.meaning, _KEY_PT, TEXT, 400, False)[0]


def dash_of(kind: int) -> tuple[float, ...]:
    """Dash of the curves of valve set number ``kind``, drawn and left out in mm."""
    return _DASHES[kind % len(_DASHES)]


def lip_sign(x_mm: float, y_mm: float) -> list[Shape]:
    """A small arrow head upwards: the note is lipped up to its line."""
    points = ((x_mm - 0.8, y_mm + 0.5), (x_mm, y_mm - 0.7), (x_mm + 0.8, y_mm + 0.5))
    return [Path(points, 0.35)]


def hatching(box: Box) -> list[Shape]:
    """Slanting lines that fill a box."""
    left, top, right, bottom = box
    height = bottom - top
    lines: list[Shape] = []
    start = left - height
    while start < right:
        # From the bottom edge up to the right at 45 degrees, cut at the sides.
        first, last = max(start, left), min(start + height, right)
        if last - first > 0.05:
            lines.append(Line(first, bottom - (first - start), last, bottom - (last - start),
                              0.12, 0.6))  # fmt: skip
        start += _HATCH_MM
    return lines


def ground(box: Box, beside_mm: float, above_mm: float) -> Rect:
    """White paper under a text, so that no line runs through it."""
    left, top, right, bottom = box
    size = right - left + 2 * beside_mm, bottom - top + 2 * above_mm
    return Rect(left - beside_mm, top - above_mm, *size, fill=1.0)


def place_marks(
    usual: Sequence[tuple[float, float, str]], around: Sequence[Box], inside: Box
) -> tuple[list[Shape], list[Shape]]:
    """Masks and texts of marks beside their points (x, y, mark), clear of the boxes ``around``.

    A mark stands above and right of its point, where the falling curve leaves room; elsewhere
    around it where something is in the way.
    """
    masks: list[Shape] = []
    texts: list[Text] = []
    blocked = list(around)
    for x, y, mark in usual:
        options = [t for t in _beside(x, y, mark) if _within(t.box_mm, inside)]
        free = [t for t in options if not any(meet(t.box_mm, box) for box in blocked)]
        if not free:
            # Rather over a small point than not at all; never over another text.
            words = [t.box_mm for t in texts]
            free = [t for t in options if not any(meet(t.box_mm, box) for box in words)]
        if free:
            masks.append(ground(free[0].box_mm, 0.3, 0.2))
            texts.append(free[0])
            blocked.append(free[0].box_mm)
    return masks, list(texts)


def _beside(x: float, y: float, mark: str) -> list[Text]:
    middle = y + pt(MARK_PT) * 0.35
    spots = [
        (x + 1.4, y - 0.6, "start"),
        (x - 1.4, y + 2.6, "end"),
        (x + 1.7, middle, "start"),
        (x - 1.7, middle, "end"),
        (x - 0.9, y - 0.9, "end"),
        (x + 0.9, y + 2.9, "start"),
        (x, y - 1.5, "middle"),
        (x, y + 3.4, "middle"),
        (x + 4.5, middle, "start"),
        (x - 4.5, middle, "end"),
    ]
    return [
        Text(at, base, mark, MARK_PT, face=MARKS, weight=700, anchor=anchor)
        for at, base, anchor in spots
    ]


def _within(box: Box, inside: Box) -> bool:
    return (
        box[0] >= inside[0] + 0.3
        and box[2] <= inside[2] - 0.3
        and box[1] >= inside[1] - 0.3
        and box[3] <= inside[3] + 0.3
    )


def meet(one: Box, two: Box, gap_mm: float = 0.25) -> bool:
    """Whether two boxes come nearer to each other than ``gap_mm``."""
    return (
        one[0] < two[2] + gap_mm
        and two[0] < one[2] + gap_mm
        and one[1] < two[3] + gap_mm
        and two[1] < one[3] + gap_mm
    )


def key_entries(
    texts: GridTexts, kinds: Sequence[int], *, others: bool, lipped: bool
) -> list[Entry]:
    """The key: lines and dots of the valve sets, and only those other signs that occur."""
    entries = []
    for kind in kinds:
        line = Line(0.0, 0.0, 11.0, 0.0, 0.32, 0.15, dash_of(kind))
        dot = place_dot(kind, 5.5, 0.0, USUAL_MM, filled=True)
        entries.append(Entry((line, dot), 11.0, texts.sets[kind]))
    number = Text(0.0, pt(_KEY_PT) * 0.35, "2, 3 …", _KEY_PT, weight=600)
    entries.append(Entry((number,), number.width_mm, texts.partial))
    first = kinds[0] if kinds else 0
    usual = place_dot(first, 1.1, 0.0, USUAL_MM, filled=True)
    entries.append(Entry((usual,), 2.2, texts.usual))
    if others:
        other = place_dot(first, 1.1, 0.0, OTHER_MM, filled=False)
        entries.append(Entry((other,), 2.2, texts.other))
    if lipped:
        entries.append(Entry(tuple(lip_sign(1.1, 0.0)), 2.2, texts.lipped))
    return entries


def _key_lines(entries: Sequence[Entry], room_mm: float) -> list[list[tuple[float, Entry]]]:
    rows: list[list[tuple[float, Entry]]] = [[]]
    x = 0.0
    for entry in entries:
        if rows[-1] and x + entry.width_mm > room_mm:
            rows.append([])
            x = 0.0
        rows[-1].append((x, entry))
        x += entry.width_mm + _KEY_GAP_MM
    return rows


def key_height_mm(entries: Sequence[Entry], room_mm: float) -> float:
    """Height of the key over a width."""
    return _KEY_LEADING_MM * len(_key_lines(entries, room_mm))


def key_rows(
    entries: Sequence[Entry], left_mm: float, top_mm: float, room_mm: float
) -> list[Shape]:
    """The drawn key with its upper left corner at ``left_mm``, ``top_mm``."""
    shapes: list[Shape] = []
    y = top_mm + _KEY_LEADING_MM / 2
    for row in _key_lines(entries, room_mm):
        for x, entry in row:
            shapes += [moved(shape, left_mm + x, y) for shape in entry.sign]
            start = left_mm + x + entry.sign_mm + 1.5
            shapes.append(Text(start, y + pt(_KEY_PT) * 0.33, entry.meaning, _KEY_PT))
        y += _KEY_LEADING_MM
    return shapes


def moved(shape: Shape, x: float, y: float) -> Shape:
    """A shape moved by ``x`` to the right and ``y`` down, in mm."""
    match shape:
        case Line():
            return replace(
                shape,
                x1_mm=shape.x1_mm + x,
                y1_mm=shape.y1_mm + y,
                x2_mm=shape.x2_mm + x,
                y2_mm=shape.y2_mm + y,
            )
        case Path():
            return replace(shape, points_mm=tuple((a + x, b + y) for a, b in shape.points_mm))
        case Text() | Circle() | Rect() | Picture() | Region():
            return replace(shape, x_mm=shape.x_mm + x, y_mm=shape.y_mm + y)
