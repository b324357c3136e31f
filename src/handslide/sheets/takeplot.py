"""One line of the report of a take: cents, note names and marks, the slide's way.

From top to bottom: measure numbers, the cents, names and marks, the slide, what to do in mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.sheets.dots import place_dot
from handslide.sheets.shapes import MARKS, Line, Path, Rect, Shape, Text
from handslide.sheets.takecontent import PlotTexts, TakeNote

GUTTER_MM = 15.0
NAME_PT, MARK_PT = 8.0, 8.5
_SMALL_PT, _FIX_PT = 7.5, 8.0
_NUMBERS_MM, _NAMES_MM, _FIXES_MM = 4.0, 10.0, 4.6
_CENTS_SHARE = 0.46
_DOT_MM, _CROSS_MM = 0.85, 1.0
_BAR_INK, _GRID_INK, _STEP_INK = 0.55, 0.8, 0.55
_STEP_MM, _THIN_MM = 1.1, 0.12


@dataclass(frozen=True, slots=True)
class Scales:
    """What all pictures of a report share: cents up and down, the slide from near to far in mm."""

    cents: float
    furthest_mm: float
    nearest_mm: float
    positions_mm: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where a picture lies: its notes begin at ``left_mm``; tops and bottoms of both pictures."""

    left_mm: float
    slot_mm: float
    count: int
    cents_mm: tuple[float, float]
    slide_mm: tuple[float, float]
    scales: Scales

    @property
    def right_mm(self) -> float:
        return self.left_mm + self.slot_mm * self.count

    def x_mm(self, note: int) -> float:
        """Middle of a note's slot."""
        return self.left_mm + self.slot_mm * (note + 0.5)

    def y_cents(self, cents: float) -> float:
        top, bottom = self.cents_mm
        held = min(max(cents, -self.scales.cents), self.scales.cents)
        return (top + bottom) / 2 - (bottom - top) / 2 * held / self.scales.cents

    def y_slide(self, extension_mm: float) -> float:
        top, bottom = self.slide_mm
        near, far = self.scales.nearest_mm, self.scales.furthest_mm
        return top + (bottom - top) * (extension_mm - near) / (far - near)


def system(
    notes: Sequence[TakeNote],
    scales: Scales,
    texts: PlotTexts,
    where_mm: tuple[float, float, float, float],
) -> list[Shape]:
    """The shapes of one line; ``where_mm`` is left, top, width of a slot and height."""
    left, top, slot, height = where_mm
    plots = height - _NUMBERS_MM - _NAMES_MM - _FIXES_MM
    cents_top = top + _NUMBERS_MM
    cents_bottom = cents_top + plots * _CENTS_SHARE
    slide_top = cents_bottom + _NAMES_MM
    frame = _Frame(
        left + GUTTER_MM, slot, len(notes), (cents_top, cents_bottom),
        (slide_top, top + height - _FIXES_MM), scales,
    )  # fmt: skip
    shapes = _ground(frame, texts)
    shapes += _measures(frame, notes)
    for number, note in enumerate(notes):
        shapes += _cents_of(frame, number, note)
        shapes += _labels(frame, number, note)
    shapes += _steps(frame, notes)
    for number, note in enumerate(notes):
        shapes += _slide_of(frame, number, note)
    return shapes


def _ground(frame: _Frame, texts: PlotTexts) -> list[Shape]:
    """Grey band, frames, scales at the left."""
    left, right = frame.left_mm, frame.right_mm
    high, low = frame.y_cents(IN_TUNE_CENTS), frame.y_cents(-IN_TUNE_CENTS)
    shapes: list[Shape] = [Rect(left, high, right - left, low - high, fill=0.9)]
    step = 10 if frame.scales.cents <= 40 else 20
    most = int(frame.scales.cents // step) * step
    for cents in range(-most, most + 1, step):
        y = frame.y_cents(cents)
        ink, width = (0.0, 0.25) if cents == 0 else (_GRID_INK, _THIN_MM)
        shapes.append(Line(left, y, right, y, width, ink))
        if cents % 20 == 0 and abs(cents) < frame.scales.cents:
            text = f"{cents:+d}".replace("-", "−") if cents else "0"
            shapes.append(Text(left - 1.5, y + 0.9, text, _SMALL_PT, anchor="end"))
    for label, mm in frame.scales.positions_mm:
        if mm <= frame.scales.furthest_mm:
            y = frame.y_slide(mm)
            shapes.append(Line(left, y, right, y, _THIN_MM, _GRID_INK))
            shapes.append(
                Text(left - 1.5, y + 1.0, label, 8.5, face=MARKS, weight=700, anchor="end")
            )
    x = left - GUTTER_MM + 2.6
    for (top, bottom), said in ((frame.cents_mm, texts.cents), (frame.slide_mm, texts.slide)):
        shapes.append(Rect(left, top, right - left, bottom - top, stroke_mm=0.18))
        middle = (top + bottom) / 2
        shapes.append(Text(x, middle, said, _SMALL_PT, anchor="middle", turned=True))
    top, bottom = frame.cents_mm
    shapes.append(Text(x + 3.6, top, texts.high, _SMALL_PT, anchor="end", turned=True))
    shapes.append(Text(x + 3.6, bottom, texts.low, _SMALL_PT, anchor="start", turned=True))
    return shapes


def _measures(frame: _Frame, notes: Sequence[TakeNote]) -> list[Shape]:
    """A line before each measure and its number above."""
    shapes: list[Shape] = []
    free = 0.0
    for number, note in enumerate(notes):
        if number and notes[number - 1].measure == note.measure:
            continue
        x = frame.left_mm + frame.slot_mm * number
        if number:
            for top, bottom in (frame.cents_mm, frame.slide_mm):
                shapes.append(Line(x, top, x, bottom, 0.18, _BAR_INK))
        text = Text(x + 0.3, frame.cents_mm[0] - 1.0, note.measure, _SMALL_PT, weight=600)
        if x >= free:
            shapes.append(text)
            free = text.box_mm[2] + 1.0
    return shapes


def _cents_of(frame: _Frame, number: int, note: TakeNote) -> list[Shape]:
    x, zero = frame.x_mm(number), frame.y_cents(0.0)
    if note.played == "wrong":
        d = _CROSS_MM
        shapes: list[Shape] = [
            Line(x - d, zero - d, x + d, zero + d, 0.4),
            Line(x - d, zero + d, x + d, zero - d, 0.4),
        ]
        if note.heard:
            y = frame.cents_mm[1] - 1.0
            shapes.append(Text(x, y, note.heard, _SMALL_PT, italic=True, anchor="middle"))
        return shapes
    if note.played == "missing":
        return [place_dot(0, x, zero, _DOT_MM, filled=False)]
    if note.cents is None:
        return [Text(x, zero + 1.2, "?", NAME_PT, face=MARKS, weight=700, anchor="middle")]
    y = frame.y_cents(note.cents)
    shapes = []
    if note.cents_se is not None:
        high = frame.y_cents(note.cents + 2.0 * note.cents_se)
        low = frame.y_cents(note.cents - 2.0 * note.cents_se)
        if low - high > 2.2 * _DOT_MM:
            shapes.append(Line(x, high, x, low, 0.2))
    shapes.append(place_dot(1 if note.played == "octave" else 0, x, y, _DOT_MM, filled=True))
    return shapes


def _labels(frame: _Frame, number: int, note: TakeNote) -> list[Shape]:
    x, top = frame.x_mm(number), frame.cents_mm[1]
    fix_y = frame.slide_mm[1] + 3.6
    shapes: list[Shape] = [Text(x, top + 3.9, note.name, NAME_PT, anchor="middle")]
    if note.mark:
        shapes.append(
            Text(x, top + 8.2, note.mark, MARK_PT, face=MARKS, weight=700, anchor="middle")
        )
    if note.fix_mm is not None:
        text = f"{'↓' if note.fix_mm > 0 else '↑'}{abs(note.fix_mm):.0f}"
        shapes.append(Text(x, fix_y, text, _FIX_PT, face=MARKS, weight=600, anchor="middle"))
    return shapes


def _steps(frame: _Frame, notes: Sequence[TakeNote]) -> list[Shape]:
    """Where the slide should be: a broad grey piece for each note, thin ones between."""
    shapes: list[Shape] = []
    inset = min(0.12 * frame.slot_mm, 0.8)
    for number, note in enumerate(notes):
        if note.place_mm is not None:
            x, y = frame.x_mm(number), frame.y_slide(note.place_mm)
            half = frame.slot_mm / 2 - inset
            shapes.append(Line(x - half, y, x + half, y, _STEP_MM, _STEP_INK))
    for number, (one, two) in enumerate(pairwise(notes)):
        if one.place_mm is None or two.place_mm is None or one.place_mm == two.place_mm:
            continue
        edge = frame.left_mm + frame.slot_mm * (number + 1)
        points = (
            (edge - inset, frame.y_slide(one.place_mm)),
            (edge + inset, frame.y_slide(two.place_mm)),
        )
        shapes.append(Path(points, 0.3, _STEP_INK))
    return shapes


def _slide_of(frame: _Frame, number: int, note: TakeNote) -> list[Shape]:
    if note.slide_mm is None:
        return []
    x, y = frame.x_mm(number), frame.y_slide(note.slide_mm)
    return [place_dot(0, x, y, _DOT_MM, filled=True)]
