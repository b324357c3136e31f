"""Two horns compared: the usual place of each note on both, and where the slide differs.

For a player who changes horns: what differs in the tubes, how much further out the second horn's
place lies, and how far off a note is with the slide where the first horn has it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch
from handslide.ground.units import cents
from handslide.instrument.horn import Horn
from handslide.instrument.places import Place, find_places
from handslide.sheets.content import ChartNote, ChartPlace
from handslide.sheets.frame import Area, Head, framed, free_area
from handslide.sheets.prose import fitting_pt, wrapped
from handslide.sheets.shapes import MARKS, Circle, Line, Page, Rect, Shape, Text

_MARK_PT, _CELL_PT, _SMALL_PT = 9.0, 8.5, 7.5
_FEW_ROWS = 8
_ROW_MM, _FACT_MM, _LEADING_MM = 5.0, 4.3, 3.3
_NOTE_MM, _HORN_MM, _MARK_SHARE_MM, _DIFF_MM, _CENTS_MM = 19.0, 31.0, 19.0, 15.0, 14.0
_PICTURE_GAP_MM = 7.0
_DOT_MM, _RING_MM = 0.75, 1.25
_LABEL_LINES = 5
_WHAT_MM = 34.0  # for what is compared, in the block over the table
_SHADE = 0.92


@dataclass(frozen=True, slots=True)
class CompareTexts:
    """What stands on a comparison, in the reader's language.

    ``facts`` are the rows of the block over the table: what is compared, how it is on the first
    and on the second horn; the horns' own names first, with an empty first text.
    """

    facts: tuple[tuple[str, str, str], ...]
    explained: str
    note: str
    mark: str
    further: str
    cents: str
    lacking: str
    outside_chart: str


@dataclass(frozen=True, slots=True)
class ComparedHorn:
    """One of the two horns: what it is called on the sheet, and its notes from low to high."""

    label: str
    horn: Horn
    notes: tuple[ChartNote, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """A note on both horns: usual places (None where a horn lacks it) and what differs.

    ``further_mm``: second minus first, of whole millimetres. ``cents``: how far off the note is on
    the second horn with slide, valves and partial of the first; None where it can't be.
    ``lacking``: whether the first, the second horn has no place for it at all.
    """

    pitch: Pitch
    name: str
    first: ChartPlace | None
    second: ChartPlace | None
    further_mm: int | None
    cents: float | None
    lacking: tuple[bool, bool] = (False, False)
    other: str = ""

    @property
    def parts(self) -> bool:
        """Whether both horns have the note with different marks."""
        both = self.first is not None and self.second is not None
        return both and self.first.mark != self.second.mark  # type: ignore[union-attr]


def compare_pages(
    head: Head, first: ComparedHorn, second: ComparedHorn, texts: CompareTexts
) -> tuple[Page, ...]:
    """The comparison: what differs in the horns, then a table of all notes of either.

    Raises
    ------
    BadUsage
        When neither horn has notes.
    """
    rows = compared_rows(first, second)
    if not rows:
        raise BadUsage("charts.compare_empty")
    table = _Table.on(free_area(head), first, second, texts)
    facts, top = _facts(table)
    contents, start = [], 0
    while start < len(rows):
        room = table.area.bottom_mm - top - table.head_mm
        count = max(1, math.floor(room / _ROW_MM))
        left = len(rows) - start - count
        if 0 < left < _FEW_ROWS:
            # A last page with a row or two looks like a mistake.
            count = max(1, count - (_FEW_ROWS - left))
        contents.append(facts + _page_of_table(table, rows[start : start + count], top))
        start, facts, top = start + count, [], table.area.top_mm
    return framed(head, contents)


def compared_rows(first: ComparedHorn, second: ComparedHorn) -> tuple[Row, ...]:
    """All notes of either horn from high to low, with what differs between them."""
    ones = {note.pitch.midi: note for note in first.notes}
    others = {note.pitch.midi: note for note in second.notes}
    return tuple(
        _row(first.horn, second.horn, ones.get(midi), others.get(midi))
        for midi in sorted({**ones, **others}, reverse=True)
    )


def _row(first: Horn, second: Horn, one: ChartNote | None, other: ChartNote | None) -> Row:
    note = one or other
    assert note is not None
    here, there = _usual(one), _usual(other)
    further = off = None
    if here is not None and there is not None:
        further = _whole_mm(there.place) - _whole_mm(here.place)
        off = cents_off(first, second, here.place, note.pitch)
    lacking = tuple(
        row is None and not find_places(horn, note.pitch.midi)
        for horn, row in ((first, here), (second, there))
    )
    lacks = lacking[0], lacking[1]
    return Row(note.pitch, note.name, here, there, further, off, lacks, note.other)


def _usual(note: ChartNote | None) -> ChartPlace | None:
    places = note.places if note is not None else ()
    return next((row for row in places if row.usual), None)


def _whole_mm(place: Place) -> int:
    return round(1000.0 * place.extension_m)


def cents_off(first: Horn, second: Horn, place: Place, pitch: Pitch) -> float | None:
    """Cents above the note that ``second`` sounds with the slide where ``first`` has it.

    With the same partial and valves, and lipped as on the first horn; measured from the note at the
    second horn's A4. None where it lacks these valves or its slide ends before.
    """
    if place.valves not in second.valve_sets or place.extension_m > second.travel_m + 1e-9:
        return None
    sounding = second.frequency_hz(place.partial, place.extension_m, place.valves)
    return cents(sounding / pitch.hz(second.a4_hz)) + place.lip_cents


def signed(number: float) -> str:
    """A whole number with its sign: ``+12``, ``−3``, ``0``."""
    whole = round(number)
    return f"+{whole}" if whole > 0 else f"−{-whole}" if whole else "0"


@dataclass(frozen=True, slots=True)
class _Table:
    """Where the columns stand, in mm from the left of the page."""

    area: Area
    first: ComparedHorn
    second: ComparedHorn
    texts: CompareTexts
    first_mm: float
    second_mm: float
    diff_mm: float
    cents_mm: float
    picture_mm: float
    picture_end_mm: float

    @classmethod
    def on(
        cls, area: Area, first: ComparedHorn, second: ComparedHorn, texts: CompareTexts
    ) -> "_Table":
        one = area.left_mm + _NOTE_MM
        other = one + _HORN_MM
        # Numbers are set against the right of their columns.
        diff = other + _HORN_MM + _DIFF_MM - 3.0
        off = diff + _CENTS_MM
        ends = off + _PICTURE_GAP_MM, area.right_mm - 2.0
        return cls(area, first, second, texts, one, other, diff, off, *ends)

    @property
    def labels(self) -> tuple[list[str], list[str]]:
        """The horns' labels broken into the lines over their columns."""
        rows = []
        for horn in (self.first, self.second):
            lines = _wrapped(horn.label, _SMALL_PT, _HORN_MM - 5.5, 400)
            if len(lines) > _LABEL_LINES:
                lines = [*lines[: _LABEL_LINES - 1], lines[_LABEL_LINES - 1] + " …"]
            rows.append(lines)
        return rows[0], rows[1]

    @property
    def head_mm(self) -> float:
        """Height of the head over the rows."""
        return 7.2 + 3.1 * max(map(len, self.labels))

    @property
    def same_positions(self) -> bool:
        """Whether the positions of both horns lie at the same extensions."""
        return abs(self.first.horn.length_m - self.second.horn.length_m) < 5e-4

    def x_mm(self, extension_m: float) -> float:
        """Where an extension lies in the picture."""
        longest = max(self.first.horn.travel_m, self.second.horn.travel_m)
        share = extension_m / longest
        return self.picture_mm + (self.picture_end_mm - self.picture_mm) * share


def _facts(table: _Table) -> tuple[list[Shape], float]:
    """What differs in the horns, and where the table below it begins."""
    area, y = table.area, table.area.top_mm + 4.0
    column = (area.width_mm - _WHAT_MM) / 2
    starts = area.left_mm, area.left_mm + _WHAT_MM, area.left_mm + _WHAT_MM + column
    shapes: list[Shape] = []
    for what, first, second in table.texts.facts:
        title = what == ""
        room = column - (10.0 if title else 5.0)
        cells = [_wrapped(cell, _CELL_PT, room, 600) for cell in (first, second)]
        names = _wrapped(what, _CELL_PT, _WHAT_MM - 2.0, 400)
        if title:
            shapes += [*_dot(starts[1] + 1.3, y - 1.05), *_ring(starts[2] + 1.3, y - 1.05)]
        for number, line in enumerate(names):
            shapes.append(Text(starts[0], y + number * _FACT_MM, line, _CELL_PT, ink=0.2))
        weight = 600 if title or first != second else 400
        for start, cell in zip(starts[1:], cells):
            for number, line in enumerate(cell):
                x = start + (4.0 if title else 0.0)
                shapes.append(Text(x, y + number * _FACT_MM, line, _CELL_PT, weight=weight))
        y += _FACT_MM * max(map(len, (names, *cells)))
    for line in _wrapped(table.texts.explained, _SMALL_PT, area.width_mm, 400):
        shapes.append(Text(area.left_mm, y + 1.0, line, _SMALL_PT, italic=True))
        y += _LEADING_MM
    return shapes, y + 2.0


def _wrapped(text: str, size_pt: float, room_mm: float, weight: int) -> list[str]:
    # The italic and bold faces are hardly wider; a little air covers them.
    return wrapped(text, size_pt, room_mm / 1.04, weight)


def _dot(x_mm: float, y_mm: float) -> list[Shape]:
    return [Circle(x_mm, y_mm, _DOT_MM, fill=0.0, stroke_mm=None)]


def _ring(x_mm: float, y_mm: float) -> list[Shape]:
    return [Circle(x_mm, y_mm, _RING_MM, fill=1.0, stroke_mm=0.3)]


def _page_of_table(table: _Table, rows: Sequence[Row], top_mm: float) -> list[Shape]:
    first_row = top_mm + table.head_mm
    bottom = first_row + len(rows) * _ROW_MM
    shapes: list[Shape] = []
    for number, row in enumerate(rows):
        y = first_row + number * _ROW_MM
        if row.parts:
            width = table.area.width_mm
            shapes.append(Rect(table.area.left_mm, y, width, _ROW_MM, fill=_SHADE))
    shapes += _table_head(table, top_mm)
    shapes += _picture_frame(table, first_row, bottom)
    for number, row in enumerate(rows):
        shapes += _table_row(table, row, first_row + number * _ROW_MM)
    return shapes


def _table_head(table: _Table, top_mm: float) -> list[Shape]:
    area, texts, low = table.area, table.texts, top_mm + table.head_mm - 1.6
    shapes: list[Shape] = [
        Line(area.left_mm, top_mm, area.right_mm, top_mm, 0.3),
        Line(area.left_mm, top_mm + table.head_mm, area.right_mm, top_mm + table.head_mm, 0.3),
        *_heading(texts.note, area.left_mm, low, _NOTE_MM - 1.5),
        *_heading(texts.further, table.diff_mm, low, _DIFF_MM + 1.0, "end"),
        *_heading(texts.cents, table.cents_mm, low, _CENTS_MM - 1.5, "end"),
    ]
    for x, lines, sign in (
        (table.first_mm, table.labels[0], _dot),
        (table.second_mm, table.labels[1], _ring),
    ):
        shapes += sign(x + 1.3, top_mm + 2.6)
        for number, line in enumerate(lines):
            shapes.append(Text(x + 3.6, top_mm + 3.5 + number * 3.1, line, _SMALL_PT))
        shapes += _heading(texts.mark, x, low, _MARK_SHARE_MM, rows=1)
        mm = x + _MARK_SHARE_MM + 6.0
        shapes.append(Text(mm, low, "mm", _SMALL_PT, italic=True, anchor="end"))
    return shapes + _position_numbers(table, top_mm)


def _heading(
    text: str, x_mm: float, low_mm: float, room_mm: float, anchor: str = "start", rows: int = 3
) -> list[Text]:
    """A word over a column, in up to ``rows`` rows that end at ``low_mm``, smaller if need be."""
    words = text.split(" ") if rows > 1 else [text]
    size = fitting_pt(words, _SMALL_PT, room_mm, italic=True)
    lines = wrapped(text, size, room_mm, italic=True)
    first = low_mm - (len(lines) - 1) * 3.1
    return [
        Text(x_mm, first + 3.1 * number, line, size, italic=True, anchor=anchor)
        for number, line in enumerate(lines)
    ]


def _position_numbers(table: _Table, top_mm: float) -> list[Shape]:
    """Position numbers over the picture: one row, or one for each horn where they part."""
    y = top_mm + table.head_mm - 1.6
    shapes: list[Shape] = []
    x = table.picture_mm - 4.0
    if table.same_positions:
        return shapes + _numbers_of(table, (table.first, table.second), y)
    shapes += [*_dot(x, y - 6.0), *_ring(x, y - 1.1)]
    shapes += _numbers_of(table, (table.first,), y - 5.0)
    return shapes + _numbers_of(table, (table.second,), y)


def _numbers_of(table: _Table, horns: Sequence[ComparedHorn], y_mm: float) -> list[Shape]:
    return [
        Text(table.x_mm(extension), y_mm, str(number), _MARK_PT, MARKS, 700, anchor="middle")
        for number, extension in _positions(max((h.horn for h in horns), key=lambda h: h.travel_m))
    ]


def _positions(horn: Horn) -> list[tuple[int, float]]:
    """Open positions 1 to 7 that the slide has, with their extensions in metres."""
    extensions = [(number, horn.extension_m(number)) for number in range(1, 8)]
    return [(number, extension) for number, extension in extensions if extension <= horn.travel_m]


def _picture_frame(table: _Table, top_mm: float, bottom_mm: float) -> list[Shape]:
    """Lines of the positions (dashed: the second horn's, where they part) and slide ends."""
    shapes: list[Shape] = []
    one, other = table.first.horn, table.second.horn
    sets: list[tuple[Horn, tuple[float, ...]]] = [(one, ()), (other, (0.6, 0.8))]
    if table.same_positions:
        sets = [(max(one, other, key=lambda horn: horn.travel_m), ())]
    for horn, dash in sets:
        for _, extension in _positions(horn):
            x = table.x_mm(extension)
            shapes.append(Line(x, top_mm, x, bottom_mm, 0.15, 0.55, dash))
    ends: list[tuple[float, tuple[float, ...]]] = [(one.travel_m, ())]
    if abs(one.travel_m - other.travel_m) > 5e-4:
        ends.append((other.travel_m, (1.4, 0.8)))
    for travel, dash in ends:
        x = table.x_mm(travel)
        shapes.append(Line(x, top_mm, x, bottom_mm, 0.5, 0.0, dash))
    return shapes


def _table_row(table: _Table, row: Row, top_mm: float) -> list[Shape]:
    area, base, middle = table.area, top_mm + 3.45, top_mm + _ROW_MM / 2
    low = top_mm + _ROW_MM
    weight = 400 if row.other else 600
    name = Text(area.left_mm, base, row.name, _CELL_PT, weight=weight)
    shapes: list[Shape] = [
        Line(area.left_mm, low, area.right_mm, low, 0.1, 0.6),
        name,
    ]
    if row.other:
        x = area.left_mm + name.width_mm + 1.2
        shapes.append(Text(x, base, row.other, _SMALL_PT, ink=0.35))
    for x, place, lacking in (
        (table.first_mm, row.first, row.lacking[0]),
        (table.second_mm, row.second, row.lacking[1]),
    ):
        if place is None:
            text = table.texts.lacking if lacking else table.texts.outside_chart
            size = fitting_pt([text], _SMALL_PT, _HORN_MM - 1.0, italic=True)
            shapes.append(Text(x, base, text, size, italic=True, ink=0.25))
            continue
        shapes.append(Text(x, base, place.mark, _MARK_PT, face=MARKS, weight=700))
        mm = x + _MARK_SHARE_MM + 6.0
        shapes.append(Text(mm, base, str(_whole_mm(place.place)), _CELL_PT, anchor="end"))
    for x, number in ((table.diff_mm, row.further_mm), (table.cents_mm, row.cents)):
        text = "–" if number is None else signed(number)
        # What differs stands out of a column of zeros.
        ink, weight = (0.45, 400) if text in ("–", "0") else (0.0, 600)
        shapes.append(Text(x, base, text, _CELL_PT, weight=weight, anchor="end", ink=ink))
    return shapes + _picture_row(table, row, middle)


def _picture_row(table: _Table, row: Row, y_mm: float) -> list[Shape]:
    """The slide of one note: a dot for the first horn, a ring for the second, what is between."""
    shapes: list[Shape] = []
    spots = [table.x_mm(p.place.extension_m) for p in (row.first, row.second) if p is not None]
    if len(spots) == 2 and abs(spots[1] - spots[0]) > _DOT_MM + _RING_MM:
        toward = math.copysign(_RING_MM, spots[0] - spots[1])
        shapes.append(Line(spots[0], y_mm, spots[1] + toward, y_mm, 0.5, 0.25))
    if row.second is not None:
        shapes += _ring(spots[-1], y_mm)
    if row.first is not None:
        shapes += _dot(spots[0], y_mm)
    return shapes
