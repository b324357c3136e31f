"""Note sheets: notes in order on a staff, their places over them, and a map of the slide below.

Each system has, from the top: the other places of a note, smaller, best nearest to the note; a thin
line; the usual place; the staff; the note's names; and the slide drawn to scale, closed at the top,
with a dot for every place at its true extension.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from handslide.ground.clefs import Clef
from handslide.ground.pitch import Pitch
from handslide.instrument.horn import Horn
from handslide.sheets.content import ChartNote, ChartPlace, region_key
from handslide.sheets.dots import interval_bar, place_dot
from handslide.sheets.frame import INDEX_DOWN_MM, Area, Head, framed, free_area, rim_sign
from handslide.sheets.metrics import music_sign, text_extent_mm
from handslide.sheets.shapes import MARKS, MUSIC, TEXT, Line, Page, Rect, Region, Shape, Text, pt

USUAL_PT, OTHER_PT, SMALL_PT, NAME_PT = 12.0, 9.0, 7.0, 9.5
_SPACE_MM = 1.7  # between two staff lines
_ROW_MM, _USUAL_ROW_MM = 4.3, 5.6
_LEFT_MM = 17.0  # for clef and position names
_GAP_MM = 7.0  # between two systems
_MAP_MM = (38.0, 62.0)  # least and largest height of the slide map
_ONLY_MAP_MM = 100.0  # the largest where a page has one system only
_DOT_MM = 1.5
_PICK_MM = 2.4  # about a dot, half of what picks it on a screen
_ACCIDENTALS = {
    -2: "accidentalDoubleFlat", -1: "accidentalFlat", 1: "accidentalSharp",
    2: "accidentalDoubleSharp",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Row:
    """The notes of one system, and the heights that they need."""

    notes: tuple[tuple[ChartNote, str], ...]
    rows_above: int
    top_place: int
    low_place: int
    map_mm: float = _MAP_MM[0]

    @property
    def staff_up_mm(self) -> float:
        """From the top line of the staff up to the highest head."""
        return max(0.0, (self.top_place - 4) * _SPACE_MM / 2) + 2.2

    @property
    def staff_down_mm(self) -> float:
        """From the bottom line down to the lowest head."""
        return max(0.0, (-4 - self.low_place) * _SPACE_MM / 2) + 2.2

    @property
    def fixed_mm(self) -> float:
        """Height of a system without its slide map."""
        rows = 2 if any(other for _, other in self.notes) else 1
        names = rows * pt(NAME_PT) * 1.2 + 1.5
        others = self.rows_above * _ROW_MM + 1.5
        staff = self.staff_up_mm + 4 * _SPACE_MM + self.staff_down_mm
        return others + _USUAL_ROW_MM + staff + names

    @property
    def height_mm(self) -> float:
        return self.fixed_mm + self.map_mm + 3.0


def systems_needed(head: Head, notes: Sequence[ChartNote], other_names: Sequence[str]) -> int:
    """How many systems the notes take on this paper."""
    room = free_area(head).width_mm - _LEFT_MM
    return -(-len(notes) // max(1, int(room / _column_mm(notes, other_names))))


def note_pages(
    head: Head,
    horn: Horn,
    clef: Clef,
    notes: Sequence[ChartNote],
    other_names: Sequence[str],
    *,
    blank: bool = False,
) -> tuple[Page, ...]:
    """Pages with all ``notes``; ``other_names`` are their enharmonic names, empty for none.

    ``blank``: with empty boxes for the places and without their dots, to be filled in.
    """
    area = free_area(head)
    column = _column_mm(notes, other_names)
    # Even systems look calmer than full ones with a short last one.
    per_system = -(-len(notes) // systems_needed(head, notes, other_names))
    named = list(zip(notes, other_names))
    rows = [_row(clef, named[k : k + per_system], blank) for k in range(0, len(named), per_system)]
    wider = 1.3 if len(rows) > 1 else 1.9
    column = min(column * wider, (area.width_mm - _LEFT_MM) / per_system)
    contents: list[list[Shape]] = []
    for page in _paged(rows, area):
        shapes: list[Shape] = []
        y = area.top_mm
        for row in page:
            shapes.extend(_System(horn, clef, row, area, column, y, blank).draw())
            y += row.height_mm + _GAP_MM
        contents.append(shapes)
    return framed(head, contents)


def _row(clef: Clef, notes: Sequence[tuple[ChartNote, str]], blank: bool) -> _Row:
    places = [clef.place(clef.written(note.pitch)) for note, _ in notes]
    above = 0 if blank else max(len(note.places) for note, _ in notes) - 1
    return _Row(tuple(notes), above, max(places), min(places))


def _paged(rows: Sequence[_Row], area: Area) -> list[list[_Row]]:
    """Rows by page; the slide maps share the height that a page has left."""
    pages: list[list[_Row]] = [[]]
    for row in rows:
        used = sum(one.height_mm + _GAP_MM for one in pages[-1])
        if pages[-1] and used + row.height_mm > area.height_mm:
            pages.append([])
        pages[-1].append(row)
    filled = []
    for page in pages:
        used = sum(row.height_mm + _GAP_MM for row in page) - _GAP_MM
        share = max(0.0, (area.height_mm - used) / len(page))
        most = _ONLY_MAP_MM if len(rows) == 1 else _MAP_MM[1]
        height = min(most, _MAP_MM[0] + share)
        filled.append([replace(row, map_mm=height) for row in page])
    return filled


def _column_mm(notes: Sequence[ChartNote], other_names: Sequence[str]) -> float:
    """Width that the widest mark, name or pair of dots needs."""
    names = max(
        text_extent_mm(name, NAME_PT, TEXT, 400, False)[0]
        for name in (*(note.name for note in notes), *other_names)
    )
    return max(max(map(_widest, notes)) + 1.0, names + 1.2, 4 * _DOT_MM + 1.0)


def _widest(note: ChartNote) -> float:
    return max(_place_width(place) for place in note.places)


def _place_width(place: ChartPlace) -> float:
    size = USUAL_PT if place.usual else OTHER_PT
    mark = text_extent_mm(place.mark, size, MARKS, 700, False)[0]
    return mark + 0.4 + text_extent_mm(_aside(place), SMALL_PT, TEXT, 400, False)[0]


def _aside(place: ChartPlace) -> str:
    """The partial, how far to lip up on the closed slide, and how well the place is known."""
    lip = f"↑{place.place.lip_cents:.0f}" if place.place.lip_cents >= 0.5 else ""
    wide = f" ±{place.uncertain_mm:.0f}" if place.uncertain_mm is not None else ""
    return f"{place.place.partial}{lip}{wide}"


@dataclass(frozen=True, slots=True)
class _System:
    horn: Horn
    clef: Clef
    layout: _Row
    area: Area
    column_mm: float
    top_mm: float
    blank: bool

    @property
    def usual_y(self) -> float:
        """Baseline of the usual places."""
        return self.top_mm + self.layout.rows_above * _ROW_MM + 1.5 + _USUAL_ROW_MM - 1.2

    @property
    def middle_y(self) -> float:
        """The middle line of the staff."""
        return self.usual_y + 1.2 + self.layout.staff_up_mm + 2 * _SPACE_MM

    @property
    def names_y(self) -> float:
        return self.middle_y + 2 * _SPACE_MM + self.layout.staff_down_mm + pt(NAME_PT) * 0.8

    @property
    def map_y(self) -> float:
        """Where the closed slide is drawn."""
        return self.top_mm + self.layout.fixed_mm + 2.5

    def x(self, column: int) -> float:
        """The middle of a column."""
        return self.area.left_mm + _LEFT_MM + (column + 0.5) * self.column_mm

    def draw(self) -> list[Shape]:
        """All shapes of the system, its faint bands first."""
        notes = self.layout.notes
        right = self.x(len(notes) - 1) + self.column_mm / 2
        shapes = [*self._bands(len(notes)), *self._staff(right), *self._map(right)]
        for column, (note, other) in enumerate(notes):
            x = self.x(column)
            shapes += [self._box(x)] if self.blank else self._places(x, note)
            shapes += note_head(self.clef, note.pitch, x, self.middle_y, _SPACE_MM)
            shapes.append(Text(x, self.names_y, note.name, NAME_PT, anchor="middle"))
            if other:
                y = self.names_y + pt(NAME_PT) * 1.2
                shapes.append(Text(x, y, other, NAME_PT, anchor="middle", ink=0.35))
            shapes.append(self._column(x, note))
            shapes += [] if self.blank else self._dots(x, note)
        return shapes

    def _column(self, x: float, note: ChartNote) -> Region:
        height = self.map_y + self.layout.map_mm - self.top_mm + 2.0
        left = x - self.column_mm / 2
        return Region(left, self.top_mm, self.column_mm, height, region_key(note.pitch.midi))

    def _box(self, x: float) -> Rect:
        """Where a student writes a place."""
        width, height = min(self.column_mm - 1.6, 14.0), _USUAL_ROW_MM + 0.6
        return Rect(x - width / 2, self.usual_y - height, width, height, 1.0, 0.25, 0.3)

    def _bands(self, count: int) -> list[Shape]:
        """A faint band behind every other note leads the eye from the staff to the slide."""
        height = self.map_y + self.layout.map_mm - self.top_mm + 2.0
        return [
            Rect(self.x(k) - self.column_mm / 2, self.top_mm, self.column_mm, height, fill=0.955)
            for k in range(0, count, 2)
        ]

    def _staff(self, right: float) -> list[Shape]:
        left = self.area.left_mm + 4.0
        shapes = staff_lines(left, right, self.middle_y, _SPACE_MM)
        size = 4 * _SPACE_MM / pt(1.0)
        y = self.middle_y - self.clef.sign_place * _SPACE_MM / 2
        shapes.append(Text(left + 1.5, y, music_sign(self.clef.sign), size, face=MUSIC))
        if self.layout.rows_above:
            y = self.usual_y - _USUAL_ROW_MM + 0.8
            shapes.append(Line(self.x(0) - self.column_mm / 2, y, right, y, 0.12, ink=0.5))
        return shapes

    def _places(self, x: float, note: ChartNote) -> list[Shape]:
        shapes: list[Shape] = []
        row = 0
        for place in note.places:
            if place.usual:
                shapes += self._mark(x, self.usual_y, place, USUAL_PT)
                continue
            y = self.usual_y - _USUAL_ROW_MM - 0.6 - row * _ROW_MM
            shapes += self._mark(x, y, place, OTHER_PT)
            row += 1
        return shapes

    def _mark(self, x: float, y: float, place: ChartPlace, size: float) -> list[Shape]:
        width = _place_width(place)
        mark = text_extent_mm(place.mark, size, MARKS, 700, False)[0]
        left = x - width / 2
        shapes: list[Shape] = [
            Text(left, y, place.mark, size, face=MARKS, weight=700),
            Text(left + mark + 0.4, y + INDEX_DOWN_MM, _aside(place), SMALL_PT),
        ]
        if place.shortest and not place.usual:
            shapes.append(Line(left, y + 0.75, left + mark, y + 0.75, 0.3))
        return shapes

    def _map(self, right: float) -> list[Shape]:
        """The positions as lines across, with the end of the slide."""
        left = self.area.left_mm + _LEFT_MM
        shapes: list[Shape] = []
        last = int(self.horn.position(self.horn.travel_m) + 0.02)
        for position in range(1, last + 1):
            extension = self.horn.extension_m(position)
            y = self._map_y(extension)
            shapes.append(Line(left, y, right, y, 0.2 if position > 1 else 0.4, ink=0.45))
            shapes.append(
                Text(self.area.left_mm + 5.2, y + 1.3, str(position), 10.0, face=MARKS,
                     weight=700, anchor="end")
            )  # fmt: skip
            label = f"{1000 * extension:.0f} mm"
            shapes.append(Text(self.area.left_mm + 6.2, y + 1.0, label, SMALL_PT, ink=0.25))
        end = self._map_y(self.horn.travel_m)
        shapes.append(Line(left, end, right, end, 0.5, dash_mm=(1.2, 0.8)))
        if self.horn.bell_m is not None and self.horn.bell_m < self.horn.travel_m:
            y = self._map_y(self.horn.bell_m)
            shapes += [Line(left, y, right, y, 0.25, 0.3, (0.4, 0.9)), rim_sign(left, y)]
        return shapes

    def _map_y(self, extension_m: float) -> float:
        return self.map_y + self.layout.map_mm * extension_m / self.horn.travel_m

    def _dots(self, x: float, note: ChartNote) -> list[Shape]:
        sets = self.horn.valve_sets
        shapes: list[Shape] = []
        lanes = _lanes([self._map_y(place.place.extension_m) for place in note.places])
        count = max(lanes) + 1
        radius = _DOT_MM if count < 3 else _DOT_MM * 0.72
        for place, lane in zip(note.places, lanes):
            y = self._map_y(place.place.extension_m)
            at = x + (lane - (count - 1) / 2) * 2.25 * radius
            which = sets.index(place.place.valves)
            wide = place.uncertain_mm
            if wide is not None:
                x_m = place.place.extension_m
                low = self._map_y(max(0.0, x_m - wide / 1000.0))
                high = self._map_y(min(self.horn.travel_m, x_m + wide / 1000.0))
                shapes += interval_bar(at, y, low, high, upright=True)
            shapes.append(place_dot(which, at, y, radius, filled=place.usual))
            shapes.append(dot_region(at, y, note, place))
        return shapes


def dot_region(x: float, y: float, note: ChartNote, place: ChartPlace) -> Region:
    """Where a place is picked, about its dot."""
    key = region_key(note.pitch.midi, place.place)
    return Region(x - _PICK_MM, y - _PICK_MM, 2 * _PICK_MM, 2 * _PICK_MM, key)


def staff_lines(left: float, right: float, middle: float, space: float) -> list[Shape]:
    """Five lines about ``middle``, ``space`` apart."""
    heights = [middle + k * space for k in range(-2, 3)]
    return [Line(left, y, right, y, 0.1 * space) for y in heights]


def note_head(
    clef: Clef, pitch: Pitch, x: float, middle: float, space: float, head: str = "noteheadBlack"
) -> list[Shape]:
    """A head about ``x`` on the staff, with its ledger lines and accidental."""
    written = clef.written(pitch)
    place = clef.place(written)
    y = middle - place * space / 2
    size = 4 * space / pt(1.0)
    sign = music_sign(head)
    wide = text_extent_mm(sign, size, MUSIC, 400, False)[0]
    more = 0.35 * space
    shapes: list[Shape] = []
    for line in (*range(6, place + 1, 2), *range(-6, place - 1, -2)):
        at = middle - line * space / 2
        shapes.append(Line(x - wide / 2 - more, at, x + wide / 2 + more, at, 0.13 * space))
    shapes.append(Text(x, y, sign, size, face=MUSIC, anchor="middle"))
    if written.alter in _ACCIDENTALS:
        accidental = music_sign(_ACCIDENTALS[written.alter])
        left = x - wide / 2 - 0.26 * space
        shapes.append(Text(left, y, accidental, size, face=MUSIC, anchor="end"))
    return shapes


def _lanes(heights: Sequence[float]) -> list[int]:
    """A lane for each dot, so that dots at nearly one height stand side by side."""
    lanes: list[int] = []
    for number, y in enumerate(heights):
        taken = {lanes[k] for k in range(number) if abs(heights[k] - y) < 2.3 * _DOT_MM}
        lanes.append(next(lane for lane in range(len(heights)) if lane not in taken))
    return lanes
