"""Barlines, repeats and endings of a staff."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handslide.edges.pdfparts.forms import Line
from handslide.edges.pdfparts.found import Bar, StaffInk, Stem
from handslide.edges.pdfparts.items import Item
from handslide.edges.pdfparts.meters import sign_of_rests
from handslide.edges.pdfparts.texts import Words

_THICK = 0.35
"""Spaces from which a barline is a thick one."""
_GROUP = 0.95
"""Spaces between the lines of a double bar, at most."""
_ENDING = re.compile(r"^\s*((?:\d{1,2}\s*[.,\-–]?\s*(?:et|und|and|y|e)?\s*)+)")


@dataclass(slots=True)
class BarLine:
    """A barline of one or more lines, with the dots beside it."""

    x0: float
    x1: float
    lines: int
    thick: bool
    dots_left: bool = False
    dots_right: bool = False


def barlines_of(ink: StaffInk, stems: Sequence[Stem]) -> list[BarLine]:
    """From left to right. What stands at the staff's very beginning isn't one, but for repeats."""
    staff, space = ink.staff, ink.staff.space
    stemmed = [stem.x for stem in stems]
    found: list[BarLine] = []
    for one in sorted(ink.uprights, key=lambda one: one.x):
        low, high = one.y0 - staff.bottom, one.y1 - staff.top
        exact = abs(low) < 0.3 * space and abs(high) < 0.3 * space
        inside = one.y0 > ink.lowest - 0.3 * space and one.y1 < ink.highest + 0.3 * space
        through = low < 0.3 * space and high > -0.3 * space and inside
        if not (exact or through) or any(abs(one.x - x) < 0.05 * space for x in stemmed):
            continue
        left, right = one.x - one.width / 2, one.x + one.width / 2
        thick = one.width > _THICK * space
        if found and left - found[-1].x1 < _GROUP * space:
            last = found[-1]
            last.lines += right - last.x1 > 0.05 * space
            last.x1, last.thick = max(last.x1, right), last.thick or thick
        else:
            found.append(BarLine(left, right, 1, thick))
    _hang_dots(ink, found)
    return [line for line in found if line.x0 > staff.x0 + 1.2 * space or line.dots_right]


def _hang_dots(ink: StaffInk, lines: Sequence[BarLine]) -> None:
    """Dots in both middle spaces beside a barline repeat; they are no augmentation dots."""
    staff, space = ink.staff, ink.staff.space
    dots = [
        item for item in ink.of("dot", "repeatdot", "articulation")
        if abs(abs(_middle(item) - staff.middle) - space / 2) < 0.2 * space
    ]  # fmt: skip
    for line in lines:
        left = [dot for dot in dots if 0 < line.x0 - dot.x1 < 1.1 * space]
        right = [dot for dot in dots if 0 < dot.x0 - line.x1 < 1.1 * space]
        for beside, name in ((left, "dots_left"), (right, "dots_right")):
            if {_middle(dot) > staff.middle for dot in beside} == {True, False}:
                setattr(line, name, True)
                ink.items[:] = [item for item in ink.items if item not in beside]
        _hang_double_dots(ink, line)


def _hang_double_dots(ink: StaffInk, line: BarLine) -> None:
    """Some fonts have both dots of a repeat as one sign."""
    space = ink.staff.space
    for item in list(ink.of("repeatdot")):
        if item.y1 - item.y0 < space:
            continue
        if 0 < line.x0 - item.x1 < 1.1 * space:
            line.dots_left = True
        elif 0 < item.x0 - line.x1 < 1.1 * space:
            line.dots_right = True


def _middle(item: Item) -> float:
    return (item.y0 + item.y1) / 2


def bars_of(ink: StaffInk, lines: Sequence[BarLine]) -> list[Bar]:
    """The bars between the barlines. The last is open where no barline ends the staff."""
    staff, space = ink.staff, ink.staff.space
    bars: list[Bar] = []
    start, opens = staff.x0, False
    for line in lines:
        if line.x0 <= staff.x0 + 1.2 * space or _is_start_only(line, start, bars, ink):
            start, opens = line.x1, True
            continue
        bar = Bar(start, line.x0, repeat_start=opens, repeat_end=line.dots_left)
        bar.final = line.lines > 1 and line.thick and not line.dots_left and not line.dots_right
        bar.double = line.lines > 1 and not line.thick
        bars.append(bar)
        start, opens = line.x1, line.dots_right
    if staff.x1 - start > 2.5 * space:
        bars.append(Bar(start, staff.x1, repeat_start=opens, open=True))
    return bars


def _is_start_only(line: BarLine, start: float, bars: Sequence[Bar], ink: StaffInk) -> bool:
    """A repeat begins after clef and key, with no note before it."""
    if bars or not line.dots_right or line.dots_left:
        return False
    if sign_of_rests(ink, start, line.x0) is not None:
        return False
    return not any(start < item.x < line.x0 for item in ink.of("head", "rest"))


def mark_endings(ink: StaffInk, bars: Sequence[Bar], words: Iterable[Words]) -> None:
    """Endings: a level line over the staff with a number under its left end."""
    staff, space = ink.staff, ink.staff.space
    over = [
        line for line in ink.lines
        if line.length > 3 * space and staff.top + 0.8 * space < line.y < staff.top + 9 * space
    ]  # fmt: skip
    for word in words:
        match = _ENDING.match(word.text)
        if match is None or word.y < staff.top:
            continue
        roofs = [
            line for line in over
            if -0.6 * space < word.x0 - line.x0 < 3 * space
            and 0 < line.y - word.y < 3.2 * space
        ]  # fmt: skip
        if not roofs or not _has_hook(ink, roofs[0]):
            continue
        roof = max(roofs, key=lambda line: line.length)
        numbers = ", ".join(re.findall(r"\d+", match[1]))
        for bar in bars:
            if bar.x0 > roof.x0 - 1.5 * space and bar.x1 < roof.x1 + 1.5 * space:
                bar.ending = numbers


def _has_hook(ink: StaffInk, roof: Line) -> bool:
    space = ink.staff.space
    return any(
        abs(one.x - roof.x0) < 0.4 * space and abs(one.y1 - roof.y) < 0.4 * space
        for one in ink.uprights
    )
