"""The harmonic grid: every pitch that a horn can sound, as slide extension against pitch.

Across runs the extension in millimetres, upwards the pitch in equal semitones; each curve is one
partial with one set of valves. Where a curve crosses a note's line, the note has a place. Bands
that no curve enters are the notes that the horn lacks.

Conventions: pitches are MIDI numbers in equal temperament at the horn's A4, fractions for cents.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from handslide.ground.errors import BadUsage
from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi
from handslide.instrument.horn import Horn
from handslide.instrument.places import Limits
from handslide.sheets.content import ChartNote, ChartPlace, both_names, region_key
from handslide.sheets.dots import interval_bar, place_dot
from handslide.sheets.frame import Area, Head, framed, free_area, rim_sign
from handslide.sheets.gridbands import (
    Band,
    furthest_m,
    gap_rows,
    missing_bands,
    rows_in,
    sounding,
)
from handslide.sheets.gridmarks import (
    OTHER_MM,
    USUAL_MM,
    Entry,
    GridTexts,
    dash_of,
    ground,
    hatching,
    key_entries,
    key_height_mm,
    key_rows,
    lip_sign,
    meet,
    place_marks,
)
from handslide.sheets.metrics import text_extent_mm
from handslide.sheets.prose import LEADING, fitting_pt
from handslide.sheets.shapes import MARKS, TEXT, Line, Page, Path, Rect, Region, Shape, Text, pt

LEAST_ROW_MM, MOST_ROW_MM = 3.0, 9.0
# Rows of room below the lowest note, and above the highest, whose mark stands over its line.
_BELOW, _ABOVE = 0.6, 0.9
# Less than this nobody has to lip.
LIPPED_CENTS = 5.0
_PIECES = 32
_NAME_PT, _SMALL_PT, _POSITION_PT = 8.5, 7.5, 10.0
_HEAD_MM, _LANE_MM, _RULER_MM, _END_MM = 8.5, 2.7, 7.5, 5.0
_GUTTER_GAP_MM = 3.2
_PICK_MM = 2.2  # about a point, half of what picks it on a screen

Naming = Callable[[int], tuple[str, str]]


def _english(midi: int) -> tuple[str, str]:
    return full_name(from_midi(midi)), ""


@dataclass(frozen=True, slots=True)
class Axes:
    """Where on the page an extension (metres) and a pitch (MIDI number) lie, in millimetres."""

    left_mm: float
    right_mm: float
    top_mm: float
    bottom_mm: float
    travel_m: float
    low: float
    high: float

    def x_mm(self, extension_m: float) -> float:
        """Across: 0 at the closed stop on the left, the end of the slide on the right."""
        return self.left_mm + (self.right_mm - self.left_mm) * extension_m / self.travel_m

    def y_mm(self, midi: float) -> float:
        """Down the page: one semitone is everywhere equally high."""
        share = (midi - self.low) / (self.high - self.low)
        return self.bottom_mm - (self.bottom_mm - self.top_mm) * share


@dataclass(frozen=True, slots=True)
class Curve:
    """A partial with a valve set (number ``kind`` of the horn's): (extension in m, pitch)."""

    kind: int
    partial: int
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class _Plan:
    horn: Horn
    texts: GridTexts
    notes: dict[int, ChartNote]
    names: dict[int, str]
    labels: dict[int, str]
    curves: tuple[Curve, ...]
    bands: tuple[Band, ...]
    reach_m: float | None

    @property
    def kinds(self) -> tuple[int, ...]:
        """Numbers of the valve sets that are drawn."""
        return tuple(sorted({curve.kind for curve in self.curves}))

    def spots(self, axes: Axes) -> list[tuple[int, ChartPlace]]:
        """The places on a page, each with its note."""
        return [
            (midi, row)
            for midi, note in self.notes.items()
            if axes.low < midi < axes.high
            for row in note.places
        ]


def grid_pages(
    head: Head,
    horn: Horn,
    notes: Sequence[ChartNote],
    texts: GridTexts,
    *,
    named: Naming = _english,
    limits: Limits | None = None,
    gap_below: bool = True,
) -> tuple[Page, ...]:
    """The grid of ``horn`` over the range of ``notes``; several pages where rows get too low.

    ``named`` gives the name of a note without a place, and its name with a sharp. ``gap_below``: a
    gap under the lowest note is shown, up to its other side.

    Raises
    ------
    BadUsage
        When there are no notes.
    """
    plan = _plan(horn, notes, texts, named, limits, gap_below=gap_below)
    return framed(head, [_content(head, plan, axes) for axes in _all_axes(head, plan)])


def grid_axes(
    head: Head,
    horn: Horn,
    notes: Sequence[ChartNote],
    texts: GridTexts,
    *,
    limits: Limits | None = None,
) -> tuple[Axes, ...]:
    """The axes of each page that :func:`grid_pages` draws."""
    return _all_axes(head, _plan(horn, notes, texts, _english, limits))


def _plan(
    horn: Horn,
    notes: Sequence[ChartNote],
    texts: GridTexts,
    named: Naming,
    limits: Limits | None,
    *,
    gap_below: bool = True,
) -> _Plan:
    if not notes:
        raise BadUsage("charts.grid_empty")
    by_midi = {note.pitch.midi: note for note in notes}
    high, low = max(by_midi), min(by_midi)
    low -= gap_rows(horn, low) if gap_below else 0
    names, labels = {}, {}
    for midi in range(low, high + 1):
        note = by_midi.get(midi)
        name, other = named(midi) if note is None else (note.name, note.other)
        names[midi], labels[midi] = name, both_names(name, other)
    curves = tuple(_curves(horn, by_midi.values(), low - _BELOW, high + _ABOVE))
    bands = tuple(missing_bands(horn, low - _BELOW, high + _ABOVE, limits))
    far = horn.travel_m if limits is None else furthest_m(horn, limits)
    reach_m = far if far < horn.travel_m else None
    return _Plan(horn, texts, by_midi, names, labels, curves, bands, reach_m)


def _curves(horn: Horn, notes: Iterable[ChartNote], low: float, high: float) -> Iterable[Curve]:
    tops: dict[tuple[str, ...], int] = {}
    for note in notes:
        for row in note.places:
            valves, partial = row.place.valves, row.place.partial
            tops[valves] = max(tops.get(valves, 0), partial)
    for kind, valves in enumerate(horn.valve_sets):
        for partial in range(1, tops.get(valves, 0) + 1):
            steps = [horn.travel_m * step / _PIECES for step in range(_PIECES + 1)]
            points = tuple((x, sounding(horn, partial, x, valves)) for x in steps)
            pitches = [pitch for _, pitch in points]
            if max(pitches) > low and min(pitches) < high:
                yield Curve(kind, partial, points)


def _all_axes(head: Head, plan: _Plan) -> tuple[Axes, ...]:
    area = free_area(head)
    rows = sorted(plan.names)
    names_mm = max(text_extent_mm(n, _NAME_PT, TEXT, 600, False)[0] for n in plan.labels.values())
    left = area.left_mm + names_mm + 1.5 + sum(_columns_mm(plan).values()) + _GUTTER_GAP_MM
    top = area.top_mm + _HEAD_MM + 2 * _LANE_MM
    bottom = area.bottom_mm - _RULER_MM - key_height_mm(_key(plan), area.width_mm)
    spare = _BELOW + _ABOVE - 1.0
    pages = math.ceil((len(rows) + spare) * LEAST_ROW_MM / (bottom - top))
    each = math.ceil(len(rows) / pages)
    bounds = []
    for start in range(0, len(rows), each):
        part = rows[start : start + each]
        # All pages have rows of one height; the last has fewer.
        height = (
            min(bottom - top, (each + spare) * MOST_ROW_MM) * (len(part) + spare) / (each + spare)
        )
        ends = part[0] - _BELOW, part[-1] + _ABOVE
        right = area.right_mm - _END_MM
        bounds.append(Axes(left, right, top, top + height, plan.horn.travel_m, *ends))
    return tuple(reversed(bounds))


def _columns_mm(plan: _Plan) -> dict[int, float]:
    """Widths of the columns of partial numbers, one for each valve set."""
    return {kind: max(4.5, _title(plan.texts, kind).width_mm + 1.5) for kind in plan.kinds}


def _title(texts: GridTexts, kind: int) -> Text:
    return Text(0.0, 0.0, texts.columns[kind], _SMALL_PT, italic=True, anchor="middle")


def _key(plan: _Plan) -> list[Entry]:
    places = [row for note in plan.notes.values() for row in note.places]
    lipped = any(row.place.lip_cents > LIPPED_CENTS for row in places)
    others = any(not row.usual for row in places)
    return key_entries(plan.texts, plan.kinds, others=others, lipped=lipped)


def _content(head: Head, plan: _Plan, axes: Axes) -> list[Shape]:
    area = free_area(head)
    key_top = axes.bottom_mm + _RULER_MM
    shapes, labels = _bands(plan, axes)
    shapes += [*_rows(plan, axes, area), *_row_regions(plan, axes, area)]
    shapes += _positions(plan, axes)
    shapes += _drawn_curves(plan, axes)
    shapes += _partial_numbers(plan, axes)
    shapes += _end(plan, axes)
    points, masks, marks = _points(plan, axes, labels)
    shapes += [*masks, *points, *marks]
    for label in labels:
        # On the grey of the zone beyond reach the label needs no white ground.
        shapes += [] if label.turned else [ground(label.box_mm, 0.7, 0.3)]
        shapes.append(label)
    return shapes + key_rows(_key(plan), area.left_mm, key_top, area.width_mm)


def _rows(plan: _Plan, axes: Axes, area: Area) -> list[Shape]:
    shapes: list[Shape] = []
    names_mm = max(text_extent_mm(n, _NAME_PT, TEXT, 600, False)[0] for n in plan.labels.values())
    for midi, name in plan.labels.items():
        if not axes.low < midi < axes.high:
            continue
        y = axes.y_mm(midi)
        natural = name == plan.names[midi]
        pen, ink = (0.2, 0.55) if natural else (0.12, 0.72)
        shapes.append(Line(axes.left_mm, y, axes.right_mm, y, pen, ink))
        shapes.append(
            Text(area.left_mm + names_mm, y + pt(_NAME_PT) * 0.35, name, _NAME_PT,
                 weight=600 if natural else 400, anchor="end", ink=0.0 if natural else 0.25)
        )  # fmt: skip
    return shapes


def _row_regions(plan: _Plan, axes: Axes, area: Area) -> list[Shape]:
    """Where notes are picked: all along their lines, and about their places."""
    half = (axes.bottom_mm - axes.top_mm) / (axes.high - axes.low) / 2
    spots = plan.spots(axes)
    regions: list[Shape] = [
        Region(area.left_mm, axes.y_mm(midi) - half, axes.right_mm - area.left_mm, 2 * half,
               region_key(midi))
        for midi in dict.fromkeys(midi for midi, _ in spots)
    ]  # fmt: skip
    for midi, row in spots:
        x, y = axes.x_mm(row.place.extension_m), axes.y_mm(midi)
        key = region_key(midi, row.place)
        regions.append(Region(x - _PICK_MM, y - half, 2 * _PICK_MM, 2 * half, key))
    return regions


def _positions(plan: _Plan, axes: Axes) -> list[Shape]:
    horn, y, free = plan.horn, axes.top_mm - 2 * _LANE_MM, 0.0
    shapes: list[Shape] = []
    for number in range(1, 8):
        extension = horn.extension_m(number)
        if extension > horn.travel_m:
            break
        x = axes.x_mm(extension)
        shapes.append(Line(x, y + 0.4, x, axes.bottom_mm, 0.25, 0.6))
        shapes.append(
            Text(x, y - 3.9, str(number), _POSITION_PT, face=MARKS, weight=700, anchor="middle")
        )
        text = f"{1000 * extension:.0f} mm"
        length = Text(x, y - 0.8, text, _SMALL_PT, anchor="middle", ink=0.2)
        # Beside the columns of very many valves the positions stand close.
        if length.left_mm > free:
            shapes.append(length)
            free = length.box_mm[2] + 1.0
    if horn.bell_m is not None and horn.bell_m < horn.travel_m:
        x = axes.x_mm(horn.bell_m)
        shapes.append(Line(x, axes.top_mm, x, axes.bottom_mm, 0.25, 0.3, (0.4, 0.9)))
        shapes.append(rim_sign(x, axes.bottom_mm, upright=True))
    for step in range(math.floor(100 * horn.travel_m + 1e-6) + 1):
        x = axes.x_mm(step / 100.0)
        tick = 2.2 if step % 10 == 0 else 1.5 if step % 5 == 0 else 0.8
        shapes.append(Line(x, axes.bottom_mm, x, axes.bottom_mm + tick, 0.15))
        if step % 10 == 0:
            text = f"{10 * step}" if step else "0 mm"
            shapes.append(Text(x, axes.bottom_mm + 5.0, text, _SMALL_PT, anchor="middle"))
    shapes.append(Line(axes.left_mm, axes.bottom_mm, axes.right_mm, axes.bottom_mm, 0.3))
    shapes.append(Line(axes.left_mm, axes.top_mm, axes.right_mm, axes.top_mm, 0.15, 0.5))
    return shapes


def _end(plan: _Plan, axes: Axes) -> list[Shape]:
    """The closed stop, the end of the slide as a wall, and its name."""
    x, top, bottom = axes.right_mm, axes.top_mm, axes.bottom_mm
    travel = f"{1000 * plan.horn.travel_m:.0f} mm"
    said = [f"{plan.texts.end} · {travel}"]
    # Over the ruler it may stand too, but not over the key.
    if fitting_pt(said, _SMALL_PT, bottom - top + _RULER_MM) < _SMALL_PT:
        said = [plan.texts.end, travel]
    rows = [
        Text(x + 1.6 + pt(_SMALL_PT) * (number * LEADING + 1.0), (top + bottom) / 2, row, _SMALL_PT,
             anchor="middle", turned=True)
        for number, row in enumerate(said)
    ]  # fmt: skip
    return [
        Line(axes.left_mm, top, axes.left_mm, bottom, 0.3),
        Rect(x, top, 0.9, bottom - top, fill=0.0),
        *rows,
    ]


def _clipped(curve: Curve, axes: Axes) -> list[tuple[float, float]]:
    """The points of a curve inside the page's pitches, the crossings of its edges included."""
    inside: list[tuple[float, float]] = []
    for (x1, y1), (x2, y2) in zip(curve.points, curve.points[1:]):
        shares = [0.0, 1.0]
        for edge in (axes.low, axes.high):
            if (y1 - edge) * (y2 - edge) < 0.0:
                shares.append((edge - y1) / (y2 - y1))
        for share in sorted(shares):
            x, y = x1 + share * (x2 - x1), y1 + share * (y2 - y1)
            spot = axes.x_mm(x), axes.y_mm(y)
            if axes.low - 1e-9 <= y <= axes.high + 1e-9 and spot not in inside[-1:]:
                inside.append(spot)
    return inside


def _cut(
    points: list[tuple[float, float]], wall_mm: float
) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """A chain of points from left to right in two: up to ``wall_mm``, and beyond it."""
    near = [spot for spot in points if spot[0] <= wall_mm]
    far = [spot for spot in points if spot[0] > wall_mm]
    if near and far:
        (x1, y1), (x2, y2) = near[-1], far[0]
        cut = wall_mm, y1 + (y2 - y1) * (wall_mm - x1) / (x2 - x1)
        return [*near, cut], [cut, *far]
    return near, far


def _drawn_curves(plan: _Plan, axes: Axes) -> list[Shape]:
    """All curves; beyond the student's reach in grey."""
    shapes: list[Shape] = []
    wall = axes.right_mm + 1.0 if plan.reach_m is None else axes.x_mm(plan.reach_m)
    for curve in plan.curves:
        points = _clipped(curve, axes)
        if len(points) > 1:
            pen, dash = 0.32 if curve.kind == 0 else 0.27, dash_of(curve.kind)
            for part, ink in zip(_cut(points, wall), (0.15, 0.5)):
                if len(part) > 1:
                    shapes.append(Path(tuple(part), pen, ink, dash_mm=dash))
    return shapes


def _partial_numbers(plan: _Plan, axes: Axes) -> list[Shape]:
    """Numbers left of the curves, in a column for each valve set; above those that enter there."""
    columns, x = _columns_mm(plan), axes.left_mm - _GUTTER_GAP_MM
    shapes: list[Shape] = []
    lines: list[Shape] = []
    entering: list[tuple[float, Curve]] = []
    for kind in plan.kinds:
        middle, free = x - columns[kind] / 2, math.inf
        shapes.append(replace(_title(plan.texts, kind), x_mm=middle, y_mm=axes.top_mm - 1.0))
        for curve in (c for c in plan.curves if c.kind == kind):
            start = _clipped(curve, axes)[:1]
            if not start:
                continue
            at, y = start[0]
            if at > axes.left_mm + 0.01:
                entering.append((at, curve))
                continue
            base = min(y + pt(_SMALL_PT) * 0.35, free - 2.2)
            free = base
            text = Text(middle, base, str(curve.partial), _SMALL_PT, weight=600, anchor="middle")
            lead = text.box_mm[2] + 0.4
            lines.append(Line(lead, y, axes.left_mm, y, 0.15, 0.5, dash_of(kind)))
            shapes += [ground(text.box_mm, 0.3, 0.2), text]
        x -= columns[kind]
    return [*lines, *shapes, *_entering(entering, axes)]


def _entering(entering: list[tuple[float, Curve]], axes: Axes) -> list[Shape]:
    ends = [axes.left_mm, axes.left_mm]
    shapes: list[Shape] = []
    for x, curve in sorted(entering, key=lambda pair: pair[0]):
        text = Text(x, 0.0, str(curve.partial), _SMALL_PT, weight=600, anchor="middle")
        half = text.width_mm / 2
        lane = 0 if ends[0] <= x - half or ends[0] <= ends[1] else 1
        middle = max(x, ends[lane] + half)
        ends[lane] = middle + half + 0.8
        if ends[lane] > axes.right_mm:
            continue
        text = replace(text, x_mm=middle, y_mm=axes.top_mm - 0.7 - lane * _LANE_MM)
        shapes += [ground(text.box_mm, 0.3, 0.0), text]
    return shapes


def _bands(plan: _Plan, axes: Axes) -> tuple[list[Shape], list[Text]]:
    """Shaded bands (drawn first) and their labels (drawn last)."""
    reach = axes.right_mm if plan.reach_m is None else axes.x_mm(plan.reach_m)
    shapes: list[Shape] = []
    if plan.reach_m is not None:
        size = axes.right_mm - reach, axes.bottom_mm - axes.top_mm
        shapes.append(Rect(reach, axes.top_mm, *size, fill=0.93))
    labels: list[Text] = []
    for band in plan.bands:
        low, high = max(band.low, axes.low), min(band.high, axes.high)
        if not rows_in(low, high):
            continue
        top, bottom = axes.y_mm(high), axes.y_mm(low)
        right = axes.right_mm if band.ever else reach
        size = right - axes.left_mm, bottom - top
        shapes.append(Rect(axes.left_mm, top, *size, fill=0.88 if band.ever else 0.96))
        shapes += hatching((axes.left_mm, top, right, bottom)) if band.ever else []
        text = _band_words(plan, low, high, band.ever)
        size_pt = fitting_pt([text], _NAME_PT, axes.right_mm - axes.left_mm - 4.0, italic=True)
        label = Text(0.0, (top + bottom) / 2 + pt(size_pt) * 0.3, text, size_pt, italic=True)
        start = max(axes.left_mm + 2.0, (axes.left_mm + right - label.width_mm) / 2)
        labels.append(replace(label, x_mm=start))
    if plan.reach_m is not None:
        shapes.append(Line(reach, axes.top_mm, reach, axes.bottom_mm, 0.4, 0.2, (1.6, 0.8)))
        labels += _reach_label(plan.texts.beyond_reach, reach, axes, labels)
    return shapes, labels


def _reach_label(words: str, reach_mm: float, axes: Axes, labels: list[Text]) -> list[Text]:
    x, y = reach_mm + 1.5 + pt(_SMALL_PT) * 0.7, axes.top_mm + 2.0
    text = Text(x, y, words, _SMALL_PT, anchor="end", turned=True)
    while any(meet(text.box_mm, label.box_mm, 1.0) for label in labels):
        text = replace(text, y_mm=text.y_mm + 2.0)
    fits = text.box_mm[2] < axes.right_mm - 1.0 and text.box_mm[3] < axes.bottom_mm - 1.0
    return [text] if fits else []


def _band_words(plan: _Plan, low: float, high: float, ever: bool) -> str:
    rows = rows_in(low, high)
    first, last = plan.names[rows[0]], plan.names[rows[-1]]
    return plan.texts.never(first, last) if ever else plan.texts.not_yet(first, last)


def _points(
    plan: _Plan, axes: Axes, labels: list[Text]
) -> tuple[list[Shape], list[Shape], list[Shape]]:
    """Points of all places; masks and texts of the usual places' marks."""
    kinds = {valves: kind for kind, valves in enumerate(plan.horn.valve_sets)}
    points: list[Shape] = []
    usual, around = [], []
    # The usual places last, so that they lie on top.
    for midi, row in sorted(plan.spots(axes), key=lambda spot: spot[1].usual):
        place = row.place
        x, y = axes.x_mm(place.extension_m), axes.y_mm(midi)
        radius = USUAL_MM if row.usual else OTHER_MM
        if row.uncertain_mm is not None:
            wide_m = row.uncertain_mm / 1000.0
            low = axes.x_mm(max(0.0, place.extension_m - wide_m))
            high = axes.x_mm(min(plan.horn.travel_m, place.extension_m + wide_m))
            points += interval_bar(x, y, low, high, upright=False)
        points.append(place_dot(kinds[place.valves], x, y, radius, filled=row.usual))
        if place.lip_cents > LIPPED_CENTS:
            points += lip_sign(x - radius - 1.1, y)
        around.append((x - radius, y - radius, x + radius, y + radius))
        if row.usual:
            usual.append((x, y, row.mark))
    around += [label.box_mm for label in labels]
    inside = axes.left_mm, axes.top_mm, axes.right_mm, axes.bottom_mm
    masks, marks = place_marks(usual, around, inside)
    return points, masks, marks
