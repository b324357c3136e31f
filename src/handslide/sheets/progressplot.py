"""Pictures of progress: a place over the weeks, and the slide with where each place was played.

Up is high, to the right is later; along the slide to the right is further out.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.sheets.dots import place_dot
from handslide.sheets.metrics import text_extent_mm
from handslide.sheets.prose import LEADING, wrapped
from handslide.sheets.shapes import MARKS, Line, Rect, Shape, Text, pt

MOST_CENTS, LEAST_CENTS = 60.0, 30.0
_NAME_PT, _MARK_PT, _SMALL_PT = 9.0, 10.0, 7.5
_HEAD_MM, _BARE_MM, _FOOT_MM, _GUTTER_MM = 5.6, 0.5, 4.4, 9.8
_ROW_MM = pt(_NAME_PT) * LEADING
_DOT_MM = 0.85
_GRID_INK, _BAR_INK, _BAND = 0.78, 0.5, 0.9
_LANE_MM, _SCALE_MM, _LANE_HEAD_MM = 8.4, 7.0, 4.6


@dataclass(frozen=True, slots=True)
class PictureTexts:
    """The words in the pictures: above and below the line, and along the slide."""

    high: str
    low: str
    further: str


@dataclass(frozen=True, slots=True)
class PlaceSeries:
    """A place over time: its ``name`` and ``mark``, and for each take the share of the time gone
    (0 to 1), the cents, and the spread or None. ``line`` is (early, late) of a change that is sure,
    as (share, cents); ``said`` stands beside the name. All three empty: a picture without a
    head."""

    name: str
    mark: str
    points: tuple[tuple[float, float, float | None], ...]
    line: tuple[tuple[float, float], tuple[float, float]] | None = None
    said: str = ""


@dataclass(frozen=True, slots=True)
class StripPlace:
    """A place on the slide: where it is, where it was played, its spread, all in mm; its ``lane``
    is the index of its valve set."""

    mark: str
    lane: int
    place_mm: float
    played_mm: float
    spread_mm: float


@dataclass(frozen=True, slots=True)
class Strip:
    """The slide: open positions as (name, mm), its places, and what its lanes are called."""

    positions_mm: tuple[tuple[str, float], ...]
    travel_mm: float
    places: tuple[StripPlace, ...]
    lanes: tuple[str, ...] = field(default=("",))


def cents_scale(series: Sequence[PlaceSeries]) -> float:
    """The cents that pictures of ``series`` go up and down to, the same for all."""
    reach = [abs(cents) + (spread or 0.0) for one in series for _, cents, spread in one.points]
    return min(max(10.0 * (max(reach, default=0.0) // 10.0 + 1.0), LEAST_CENTS), MOST_CENTS)


def place_picture(
    series: PlaceSeries,
    box_mm: tuple[float, float, float, float],
    scale_cents: float,
    days: tuple[str, str],
    texts: PictureTexts,
    rows: int = 1,
) -> list[Shape]:
    """A place over the weeks; ``box_mm`` is left, top, width, height; ``days`` the axis' ends.

    ``rows`` are those that the head has room for: `name_rows` of the series, or of its neighbours.
    """
    left, top, width, height = box_mm
    x0, x1 = left + _GUTTER_MM, left + width - 1.2
    bare = not (series.name or series.mark or series.said)
    head_mm = _HEAD_MM + more_rows_mm(rows)
    y0, y1 = top + (_BARE_MM if bare else head_mm), top + height - _FOOT_MM

    def y_of(cents: float) -> float:
        held = min(max(cents, -scale_cents), scale_cents)
        return (y0 + y1) / 2 - (y1 - y0) / 2 * held / scale_cents

    def x_of(share: float) -> float:
        return x0 + 2.0 + (x1 - x0 - 4.0) * share

    shapes = [] if bare else _name(series, left, y0 - _HEAD_MM, width)
    high, low = y_of(IN_TUNE_CENTS), y_of(-IN_TUNE_CENTS)
    shapes.append(Rect(x0, high, x1 - x0, low - high, fill=_BAND))
    step = 20 if scale_cents > 40 else 10
    for mark in range(-int(scale_cents) // step * step, int(scale_cents) + 1, step):
        y = y_of(mark)
        inside = abs(mark) < scale_cents
        if inside:
            ink, pen = (0.0, 0.25) if mark == 0 else (_GRID_INK, 0.12)
            shapes.append(Line(x0, y, x1, y, pen, ink))
        if inside and mark % 20 == 0:
            text = f"{mark:+d}".replace("-", "−") if mark else "0"
            shapes.append(Text(x0 - 1.0, y + 0.9, text, _SMALL_PT, anchor="end"))
    x = left + 1.9
    for where, anchor, text in ((y0, "end", texts.high), (y1, "start", texts.low)):
        shapes.append(Text(x, where, text, _SMALL_PT, anchor=anchor, turned=True))
    shapes.append(Rect(x0, y0, x1 - x0, y1 - y0, stroke_mm=0.18))
    shapes += _days(x0, x1, y1 + 3.2, days)
    if series.line is not None:
        (one, early), (two, late) = series.line
        shapes.append(Line(x_of(one), y_of(early), x_of(two), y_of(late), 0.7, 0.35))
    for share, cents, spread in series.points:
        x, y = x_of(share), y_of(cents)
        if spread is not None:
            shapes.append(Line(x, y_of(cents + spread), x, y_of(cents - spread), 0.22, _BAR_INK))
        shapes.append(place_dot(0, x, y, _DOT_MM, filled=True))
    return shapes


def _name(series: PlaceSeries, left: float, top: float, width: float) -> list[Shape]:
    """The name in rows, the last of which lies in a head of one row that begins at ``top``."""
    rows = _wrapped_name(series, width)
    y = top + pt(_MARK_PT) * 0.95 - more_rows_mm(len(rows))
    shapes: list[Shape] = []
    x = left + _GUTTER_MM
    if series.mark:
        sign = Text(x, y, series.mark, _MARK_PT, face=MARKS, weight=700)
        shapes.append(sign)
        x += sign.width_mm + 1.8
    right = left + width - 1.2
    said = Text(right, y, series.said, _SMALL_PT, italic=True, anchor="end")
    unsaid = bool(series.said)
    for row in rows:
        name = Text(x, y, row, _NAME_PT, weight=600)
        shapes.append(name)
        if unsaid and said.width_mm <= right - x - name.width_mm - 2.0:
            shapes.append(replace(said, y_mm=y))
            unsaid = False
        y += _ROW_MM
    return shapes


def _wrapped_name(series: PlaceSeries, width_mm: float) -> list[str]:
    sign_mm = 0.0
    if series.mark:
        sign_mm = text_extent_mm(series.mark, _MARK_PT, MARKS, 700, False)[0] + 1.8
    room = width_mm - _GUTTER_MM - sign_mm
    return wrapped(series.name, _NAME_PT, room, 600)


def name_rows(series: PlaceSeries, width_mm: float) -> int:
    """How many rows the name of a place takes above its picture."""
    return len(_wrapped_name(series, width_mm))


def more_rows_mm(rows: int) -> float:
    """How much higher a head of ``rows`` is than one of a single row."""
    return max(rows - 1, 0) * _ROW_MM


def _days(x0: float, x1: float, y: float, days: tuple[str, str]) -> list[Shape]:
    first = Text(x0, y, days[0], _SMALL_PT)
    if days[0] == days[1]:
        return [first]
    return [first, Text(x1, y, days[1], _SMALL_PT, anchor="end")]


# The slide.


def strip_height_mm(strip: Strip) -> float:
    """How high `slide_picture` is."""
    return _SCALE_MM + len(strip.lanes) * (_LANE_MM + _LANE_HEAD_MM)


def slide_picture(
    strip: Strip, left_mm: float, top_mm: float, width_mm: float, texts: PictureTexts
) -> list[Shape]:
    """The slide to scale with a lane for each set of valves.

    A grey stroke is where a place is, the dot where it was played, the bar its spread.
    """
    ends = [0.0, strip.travel_mm, *(p.played_mm for p in strip.places)]
    near, far = min(ends) - 14.0, max(ends) + 18.0

    def x_of(mm: float) -> float:
        return left_mm + (mm - near) / (far - near) * width_mm

    bottom = top_mm + strip_height_mm(strip)
    y = top_mm + _SCALE_MM + 2.2
    said = Text(left_mm + width_mm, y, f"{texts.further} →", _SMALL_PT, anchor="end")
    left, up, right, down = said.box_mm
    shapes: list[Shape] = []
    for name, mm in strip.positions_mm:
        x = x_of(mm)
        text = Text(x, top_mm + 2.9, name, 8.5, face=MARKS, weight=700, anchor="middle")
        shapes += [text, Line(x, top_mm + 4.0, x, bottom, 0.12, _GRID_INK)]
    shapes += [Rect(left - 1.0, up, right - left + 1.0, down - up, fill=1.0), said]
    y = top_mm + _SCALE_MM - 2.4
    shapes.append(Line(x_of(0.0), y, x_of(strip.travel_mm), y, 0.3))
    for lane, name in enumerate(strip.lanes):
        head = top_mm + _SCALE_MM + lane * (_LANE_MM + _LANE_HEAD_MM)
        middle = head + _LANE_HEAD_MM + _LANE_MM / 2 - 1.2
        # The lane's name lies on paper: the position lines would run through its letters.
        title = Text(left_mm, head + 2.2, name, _SMALL_PT, italic=True)
        left, up, right, down = title.box_mm
        if name:
            shapes += [Rect(left, up, right - left + 1.0, down - up, fill=1.0), title]
        shapes.append(Line(x_of(0.0), middle, x_of(strip.travel_mm), middle, 0.12, _GRID_INK))
        for place in (one for one in strip.places if one.lane == lane):
            shapes += _on_slide(place, x_of, middle)
        shapes += _marks([p for p in strip.places if p.lane == lane], x_of, middle)
    return shapes


def _on_slide(place: StripPlace, x_of: Callable[[float], float], y: float) -> list[Shape]:
    x, played = x_of(place.place_mm), x_of(place.played_mm)
    low, high = (x_of(place.played_mm + s * place.spread_mm) for s in (-1.0, 1.0))
    return [
        Line(x, y - 2.2, x, y + 2.2, 1.0, 0.62),
        Line(low, y, high, y, 0.35, 0.3),
        Line(low, y - 0.8, low, y + 0.8, 0.35, 0.3),
        Line(high, y - 0.8, high, y + 0.8, 0.35, 0.3),
        place_dot(place.lane, played, y, 1.0, filled=True),
    ]


def _marks(places: Sequence[StripPlace], x_of: Callable[[float], float], y: float) -> list[Shape]:
    """The marks above their places; one that would touch its neighbour's is left out."""
    shapes: list[Shape] = []
    free = -1e9
    for place in sorted(places, key=lambda one: one.place_mm):
        sign = Text(
            x_of(place.place_mm), y - 2.9, place.mark, 8.0, face=MARKS, weight=700, anchor="middle"
        )
        left, _, right, _ = sign.box_mm
        if left >= free:
            shapes.append(sign)
            free = right + 0.6
    return shapes
