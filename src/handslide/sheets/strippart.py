"""One part of the slide strip: lanes of ticks about a ruler, its seams and its ends.

Along the strip all is in millimetres of extension from the closed stop, at true scale.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from handslide.instrument.horn import Horn
from handslide.instrument.places import REACH_TOLERANCE
from handslide.sheets.prose import LEAST_PT, balanced, fitting_pt
from handslide.sheets.shapes import MARKS, Line, Path, Rect, Shape, Text, pt

POSITION_WIDTH_MM, VALVE_WIDTH_MM, RULER_WIDTH_MM = 0.45, 0.35, 0.12
TAB_MM, TAIL_MM = 12.0, 11.0
_OPEN_MM, _RULER_MM, _VALVE_MM, _INFO_MM = 9.5, 8.5, 6.5, 5.0
_ARROW_MM, _CLEAR_MM = 3.0, 0.9
_NUMBER_PT, _NAME_PT, _SMALL_PT = 17.0, 9.5, 7.5
_TINT = 0.88
_CUT_MM = (2.0, 1.2)
_TURNED_PT = 8.0


@dataclass(frozen=True, slots=True)
class StripTexts:
    """What stands on a slide strip, in the reader's language.

    Beside the parts: ``how_to`` for a strip in one part and ``how_to_glue`` for one in several;
    ``check`` in two rows about the line to measure; ``partials``, the note at the foot.
    On the parts: ``lanes`` (the open horn, then each set of valves); ``reach`` in full and
    ``reach_short``, empty without a reach; ``horn`` and ``air`` say whose strip it is, ``rim``
    what the line at the bell's rim is. ``lipped``
    is a place's length with how far to lip up (mm, cents), ``part`` which of how many it is,
    ``glue`` the part that a tab goes under.
    """

    how_to: str
    how_to_glue: str
    check: tuple[str, str]
    partials: str
    lanes: tuple[str, ...]
    closed: str
    end: str
    reach: str
    reach_short: str
    horn: str
    air: str
    rim: str
    lipped: Callable[[float, float], str]
    part: Callable[[int, int], str]
    glue: Callable[[int], str]


@dataclass(frozen=True, slots=True)
class Tick:
    """A line across a lane at ``at_mm``; ``name`` and ``sign`` stand beside it, ``small`` after."""

    at_mm: float
    name: str
    sign: str
    small: str


@dataclass(frozen=True, slots=True)
class Lane:
    """A row of the strip: the open positions, or the notes of one set of valves."""

    title: str
    ticks: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of the strip, from ``start_mm`` to ``end_mm`` of extension."""

    number: int
    start_mm: float
    end_mm: float


@dataclass(frozen=True, slots=True)
class Strip:
    """What all parts of a strip share."""

    horn: Horn
    texts: StripTexts
    lanes: tuple[Lane, ...]
    parts: tuple[Part, ...]
    reach: float | None

    @property
    def travel_mm(self) -> float:
        return 1000.0 * self.horn.travel_m

    @property
    def height_mm(self) -> float:
        return _OPEN_MM + _RULER_MM + (len(self.lanes) - 1) * _VALVE_MM + _INFO_MM

    @property
    def reach_mm(self) -> float | None:
        """Where the reach ends, or None where the slide ends first."""
        return None if self.reach is None else reach_mm(self.horn, self.reach)

    @property
    def rim_mm(self) -> float | None:
        """Where the brace is level with the bell's rim, if that is known and on the slide."""
        bell_m = self.horn.bell_m
        return None if bell_m is None or bell_m >= self.horn.travel_m else 1000.0 * bell_m


def reach_mm(horn: Horn, reach: float) -> float | None:
    """Extension in mm up to which a reach goes, or None where the slide ends first."""
    end = 1000.0 * horn.extension_m(reach + REACH_TOLERANCE)
    return end if end < 1000.0 * horn.travel_m else None


@dataclass(slots=True)
class _Row:
    """A row of one part on the page; ``taken`` are the stretches of x that texts must avoid."""

    left_mm: float
    right_mm: float
    top_mm: float
    height_mm: float
    taken: list[tuple[float, float]]

    def baseline(self, size_pt: float) -> float:
        """Baseline of a text that stands in the middle of the row."""
        return self.top_mm + self.height_mm / 2 + 0.35 * pt(size_pt)

    def is_free(self, start_mm: float, width_mm: float) -> bool:
        """Whether a text of this width may start here."""
        end = start_mm + width_mm
        return (
            start_mm >= self.left_mm
            and end <= self.right_mm
            and all(end + 0.5 <= one or other + 0.5 <= start_mm for one, other in self.taken)
        )

    def beside(self, x_mm: float, width_mm: float) -> float | None:
        """Where a label starts: right of its line at ``x_mm``, or left; None if neither is free."""
        for start in (x_mm + _CLEAR_MM, x_mm - _CLEAR_MM - width_mm):
            if self.is_free(start, width_mm):
                return start
        return None

    def first_gap(self, width_mm: float) -> float | None:
        """The first x from which the width is free, 3 mm from all texts; None if there is none."""
        x = self.left_mm
        for start, end in sorted(self.taken):
            if x + width_mm + 3.0 <= start:
                return x
            x = max(x, end + 3.0)
        return x if x + width_mm <= self.right_mm else None


def draw_part(strip: Strip, part: Part, left_mm: float, top_mm: float) -> list[Shape]:
    """A part with its upper left corner, without its tab, at (left, top) of the page."""
    right = left_mm + part.end_mm - part.start_mm
    last = part is strip.parts[-1]
    shapes = _beyond_reach(strip, part, left_mm, top_mm)
    rim = strip.rim_mm
    if rim is not None and part.start_mm < rim < part.end_mm:
        x = left_mm + rim - part.start_mm
        shapes.append(Line(x, top_mm, x, top_mm + strip.height_mm, 0.3, 0.2, (0.5, 0.8)))
    shapes += _bands(strip, left_mm, right, top_mm)
    shapes += _ruler(strip, part, left_mm, top_mm + _OPEN_MM)
    for number, lane in enumerate(strip.lanes):
        offset = _OPEN_MM + _RULER_MM + (number - 1) * _VALVE_MM if number else 0.0
        height = _VALVE_MM if number else _OPEN_MM
        row = _row(strip, part, (left_mm, top_mm + offset, height), arrows=number == 0)
        shapes += _draw_lane(lane, part, row, left_mm, last)
    foot = top_mm + strip.height_mm - _INFO_MM
    shapes += _info(strip, part, left_mm, _row(strip, part, (left_mm, foot, _INFO_MM), arrows=True))
    shapes += _seams(strip, part, left_mm, right, top_mm)
    end = right + (TAIL_MM if last else TAB_MM)
    bottom = top_mm + strip.height_mm
    corners = ((left_mm, top_mm), (end, top_mm), (end, bottom), (left_mm, bottom))
    return [*shapes, Path(corners, 0.2, closed=True, dash_mm=_CUT_MM)]


def _row(strip: Strip, part: Part, corner: tuple[float, float, float], *, arrows: bool) -> _Row:
    left, top, height = corner
    before = _ARROW_MM + 0.8 if part.number > 1 and arrows else 0.0
    after = _ARROW_MM if part is not strip.parts[-1] and arrows else 0.0
    right = left + part.end_mm - part.start_mm - after - _CLEAR_MM
    taken = []
    for at in (strip.reach_mm, strip.rim_mm):
        if at is not None and part.start_mm < at < part.end_mm:
            x = left + at - part.start_mm
            taken.append((x, x))
    return _Row(left + before + _CLEAR_MM, right, top, height, taken)


def _bands(strip: Strip, left_mm: float, right_mm: float, top_mm: float) -> list[Shape]:
    y = top_mm + _OPEN_MM
    shapes: list[Shape] = [Line(left_mm, y, right_mm, y, RULER_WIDTH_MM)]
    y += _RULER_MM
    for number in range(len(strip.lanes)):
        ink = 0.0 if number == 0 else 0.5
        shapes.append(Line(left_mm, y, right_mm, y, RULER_WIDTH_MM, ink))
        y += _VALVE_MM
    return shapes


def _beyond_reach(strip: Strip, part: Part, left_mm: float, top_mm: float) -> list[Shape]:
    reach = strip.reach_mm
    if reach is None or reach >= part.end_mm:
        return []
    start = max(reach, part.start_mm)
    width = part.end_mm - start
    x = left_mm + start - part.start_mm
    shapes: list[Shape] = [Rect(x, top_mm, width, strip.height_mm, fill=_TINT)]
    if reach > part.start_mm:
        shapes.append(Line(x, top_mm, x, top_mm + strip.height_mm, 0.6))
    return shapes


def _ruler(strip: Strip, part: Part, left_mm: float, top_mm: float) -> list[Shape]:
    shapes: list[Shape] = []
    bottom = top_mm + _RULER_MM
    reach = math.inf if strip.reach_mm is None else strip.reach_mm
    for mm in range(math.ceil(part.start_mm), math.floor(part.end_mm) + 1):
        x = left_mm + mm - part.start_mm
        long = 2.7 if mm % 10 == 0 else 2.2 if mm % 5 == 0 else 1.5
        shapes.append(Line(x, top_mm, x, top_mm + long, RULER_WIDTH_MM))
        shapes.append(Line(x, bottom - long, x, bottom, RULER_WIDTH_MM))
        if mm % 10 == 0:
            weight = 600 if mm % 100 == 0 else 400
            said = f"{mm // 10} cm" if mm == 0 else str(mm // 10)
            number = Text(x, top_mm + _RULER_MM / 2 + 1.0, said, 8.0, weight=weight)
            half = number.width_mm / 2
            if abs(mm - reach) < half + 0.8:
                continue
            if mm - half < part.start_mm:
                shapes.append(replace(number, x_mm=x + 0.6))
            elif mm + half > part.end_mm:
                shapes.append(replace(number, x_mm=x - 0.6, anchor="end"))
            else:
                shapes.append(replace(number, anchor="middle"))
    return shapes


def _draw_lane(lane: Lane, part: Part, row: _Row, left_mm: float, last: bool) -> list[Shape]:
    shapes: list[Shape] = []
    end = part.end_mm + (1e-6 if last else 0.0)
    ticks = [
        (left_mm + tick.at_mm - part.start_mm, tick)
        for tick in lane.ticks
        if part.start_mm <= tick.at_mm < end
    ]
    row.taken.extend((x, x) for x, _ in ticks)
    for x, tick in ticks:
        width = VALVE_WIDTH_MM if tick.name else POSITION_WIDTH_MM
        shapes.append(Line(x, row.top_mm, x, row.top_mm + row.height_mm, width))
        shapes.extend(_placed_label(tick, x, row))
    size = _NAME_PT if any(tick.name for tick in lane.ticks) else _NUMBER_PT
    title = Text(0.0, row.baseline(size), lane.title, _SMALL_PT, italic=True)
    spot = row.first_gap(title.width_mm)
    return shapes if spot is None else [*shapes, replace(title, x_mm=spot)]


def _placed_label(tick: Tick, x_mm: float, row: _Row) -> list[Text]:
    """The label beside a line; without its millimetres, then smaller, where there is no room."""
    for size, small in ((1.0, True), (1.0, False), (0.53, False)):
        texts = _label(tick, row, small)
        if not tick.name:
            texts = [replace(texts[0], size_pt=size * _NUMBER_PT), *texts[1:]]
        width = sum(text.width_mm for text in texts) + 1.3 * (len(texts) - 1)
        start = row.beside(x_mm, width)
        if start is not None:
            row.taken.append((start, start + width))
            placed = []
            for text in texts:
                placed.append(replace(text, x_mm=start))
                start += text.width_mm + 1.3
            return placed
    return []


def _label(tick: Tick, row: _Row, small: bool) -> list[Text]:
    if tick.name:
        y = row.baseline(_NAME_PT)
        texts = [
            Text(0.0, y, tick.name, _NAME_PT, weight=600),
            Text(0.0, y, tick.sign, _NAME_PT, face=MARKS, weight=700),
        ]
    else:
        y = row.baseline(_NUMBER_PT)
        texts = [Text(0.0, y, tick.sign, _NUMBER_PT, face=MARKS, weight=700)]
    return [*texts, Text(0.0, y, tick.small, _SMALL_PT)] if small else texts


def _info(strip: Strip, part: Part, left_mm: float, row: _Row) -> list[Shape]:
    """The lowest row: zero end, reach, and which horn and part this is."""
    y = row.top_mm + _INFO_MM / 2 + 0.9
    shapes: list[Shape] = []
    if part.number == 1:
        stop = Text(left_mm + 4.6, y, strip.texts.closed, 8.0, weight=600)
        shapes += [stop, replace(_arrow(left_mm, y - 0.9, 1), fill=None, width_mm=0.25)]
        row.taken.append((left_mm, stop.left_mm + stop.width_mm))
    reach = strip.reach_mm
    if reach is not None and part.start_mm < reach < part.end_mm:
        reached = strip.texts.reach, strip.texts.reach_short
        shapes += _row_label(reached, left_mm + reach - part.start_mm, y, row)
    rim = strip.rim_mm
    if rim is not None and part.start_mm < rim < part.end_mm:
        shapes += _row_label((strip.texts.rim,), left_mm + rim - part.start_mm, y, row)
    for said in _identities(strip, part):
        which = Text(0.0, y, said, _SMALL_PT)
        gap = row.first_gap(which.width_mm)
        if gap is not None:
            return [*shapes, replace(which, x_mm=gap)]
    return shapes


def _row_label(choices: Sequence[str], x_mm: float, y_mm: float, row: _Row) -> list[Text]:
    """The first of the choices that has room beside x, or else anywhere in the row."""
    for said in choices:
        text = Text(0.0, y_mm, said, 8.0, weight=600)
        before = x_mm - _CLEAR_MM - text.width_mm
        free = row.is_free(before, text.width_mm)
        start = before if free else row.beside(x_mm, text.width_mm)
        if start is None:
            start = row.first_gap(text.width_mm)
        if start is not None:
            row.taken.append((start, start + text.width_mm))
            return [replace(text, x_mm=start)]
    return []


def _identities(strip: Strip, part: Part) -> list[str]:
    which, horn = strip.texts.part(part.number, len(strip.parts)), strip.texts.horn
    air = strip.texts.air
    return [f"{which} · {horn} · {air}", f"{which} · {horn}", f"{which} · {air}", which]


def _seams(strip: Strip, part: Part, left_mm: float, right_mm: float, top_mm: float) -> list[Shape]:
    height, bottom = strip.height_mm, top_mm + strip.height_mm
    heights = (top_mm + _OPEN_MM / 2, bottom - _INFO_MM / 2)
    shapes: list[Shape] = []
    if part.number == 1:
        shapes.append(Line(left_mm, top_mm, left_mm, bottom, 0.5))
    else:
        shapes += [_arrow(left_mm, y, 1) for y in heights]
    if part is strip.parts[-1]:
        shapes.append(Line(right_mm, top_mm, right_mm, bottom, 0.8))
        said = [strip.texts.end, f"{strip.travel_mm:.0f} mm"]
        return shapes + _turned(said, right_mm + 6.4, top_mm, height)
    shapes += [_arrow(right_mm, y, -1) for y in heights]
    shapes.append(Line(right_mm, top_mm, right_mm, bottom, 0.2))
    shapes += _hatching(right_mm, top_mm, TAB_MM, height)
    said = [strip.texts.glue(part.number + 1)]
    for text in _turned(said, right_mm + 7.0, top_mm, height):
        box = text.box_mm
        size = box[2] - box[0] + 1.2, box[3] - box[1] + 1.6
        shapes += [Rect(box[0] - 0.8, box[1] - 0.8, *size, 1.0), text]
    return shapes


def _turned(said: Sequence[str], x_mm: float, top_mm: float, height_mm: float) -> list[Text]:
    """Texts that read upwards, beside each other about ``x_mm``; a long one is wrapped."""
    room = height_mm - 2.0
    size, rows = _TURNED_PT, list(said)
    if fitting_pt(said, size, room) < size:
        size = LEAST_PT
        rows = [row for text in said for row in balanced(text, size, room)]
    step, middle = 0.45 * size, top_mm + height_mm / 2
    first = x_mm - step * (len(rows) - 1) / 2
    return [
        Text(first + step * number, middle, row, size, anchor="middle", turned=True)
        for number, row in enumerate(rows)
    ]


def _arrow(x_mm: float, y_mm: float, way: int) -> Path:
    """A triangle with its point at (x, y) and its body to the right (1) or left (-1)."""
    back = x_mm + way * _ARROW_MM
    points = ((x_mm, y_mm), (back, y_mm - 1.1), (back, y_mm + 1.1))
    return Path(points, None, fill=0.0, closed=True)


def _hatching(left_mm: float, top_mm: float, width_mm: float, height_mm: float) -> list[Shape]:
    shapes: list[Shape] = []
    reach = 3.0
    while reach < width_mm + height_mm:
        # The line x + y = reach, within the rectangle.
        x1, x2 = max(0.0, reach - height_mm), min(width_mm, reach)
        shapes.append(
            Line(left_mm + x1, top_mm + reach - x1, left_mm + x2, top_mm + reach - x2, 0.12, 0.45)
        )
        reach += 3.0
    return shapes
