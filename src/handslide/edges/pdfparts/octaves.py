"""Octave lines: 8va, 8vb, 15ma over or under the notes."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from handslide.edges.pdfparts.forms import Line
from handslide.edges.pdfparts.found import Head, StaffInk
from handslide.edges.pdfparts.items import Item, Unknown
from handslide.edges.pdfparts.texts import Words
from handslide.ground.facts import fact

_NUMBERED = 3.0
"""Spaces from the staff's left end within which a number counts measures."""
_TEXT = re.compile(r"^\(?(8|15)\s?(v?a|v?b|ba|ma|mb)?\)?\.?$")


@dataclass(frozen=True, slots=True)
class OctaveLine:
    """Where it begins and ends; ``end`` is None where no line is drawn after the sign."""

    start: float
    end: float | None
    y: float
    octaves: int
    sure: bool = True


def octave_lines(ink: StaffInk, words: Iterable[Words]) -> list[OctaveLine]:
    """The octave lines of a staff. A bare number is one only where a line goes on from it."""
    found = []
    for item in ink.of("ottava"):
        amount = 2 if "15" in item.kind else 1
        middle = (item.y0 + item.y1) / 2
        line = _line(ink, item.x0, item.x1, middle, amount, item.kind.endswith("b"))
        if line.end is not None or item.sure:
            found.append(line)
    for word in words:
        match = _TEXT.match(word.plain)
        if match is None:
            continue
        amount = 2 if match[1] == "15" else 1
        low = (match[2] or "").endswith("b") or match[2] == "ba"
        y = word.y + 0.3 * word.em
        if match[2] is None:
            found += _of_number(ink, word.x0, word.x1, y, amount)
        elif not ink.staff.bottom - word.em < word.y < ink.staff.top:
            found.append(_line(ink, word.x0, word.x1, y, amount, low))
    for item in ink.of("digit", "tuplet"):
        if item.kind.endswith(".8"):
            found += _of_number(ink, item.x0, item.x1, (item.y0 + item.y1) / 2, 1)
    for sign in ink.asked:
        found += _of_unknown(ink, sign)
    return found


def _of_unknown(ink: StaffInk, sign: Unknown) -> list[OctaveLine]:
    """A shape that nobody knows may be an octave sign where a line goes on from it: it is one if it
    looks like an 8; else the notes are only doubted, where the line ends in a hook."""
    space, y = ink.staff.space, (sign.y0 + sign.y1) / 2
    sized = 0.9 * space < sign.y1 - sign.y0 < 2.4 * space
    if not sized or ink.staff.bottom - 0.5 * space < y < ink.staff.top + 0.5 * space:
        return []
    lines = _of_number(ink, sign.x0, sign.x1, y, 1)
    if not lines or lines[0].end is None:
        return []
    if not sign.guess.endswith(("8", "8a", "8b")):
        if _hook(ink, lines[0].end - 0.6 * space, y) is None:
            return []
        lines = [replace(lines[0], octaves=0)]
    return [replace(lines[0], sure=False)]


def _of_number(ink: StaffInk, x0: float, x1: float, y: float, amount: int) -> list[OctaveLine]:
    """That of a bare number: not of one that counts measures, stands on the staff or in the
    bracket of a tuplet."""
    staff = ink.staff
    if x0 < staff.x0 + _NUMBERED * staff.space or staff.bottom - staff.space < y < staff.top:
        return []
    if any(
        -0.2 * staff.space < x0 - line.x1 < 1.6 * staff.space
        and abs(line.y - y) < 0.45 * staff.space and line.length > 0.5 * staff.space
        for line in ink.lines
    ):  # fmt: skip
        return []
    if _has_company(ink, x0, x1, y):
        return []
    line = _line(ink, x0, x1, y, amount, False)
    return [] if line.end is None else [line]


def _has_company(ink: StaffInk, x0: float, x1: float, y: float) -> bool:
    """Whether other letters stand close beside a number, so that it is part of a text."""
    space = ink.staff.space
    letters: list[Item | Unknown] = list(ink.of("digit", "tuplet", "finger"))
    letters += [sign for sign in ink.asked if sign.x0 != x0 and sign.y1 - sign.y0 < 2.2 * space]
    return any(
        abs((sign.y0 + sign.y1) / 2 - y) < 0.6 * space
        and (0 < x0 - sign.x1 + 0.5 < 0.9 * space or 0 < sign.x0 - x1 + 0.5 < 0.9 * space)
        for sign in letters
    )


def _line(ink: StaffInk, x0: float, x1: float, y: float, amount: int, low: bool) -> OctaveLine:
    below = low or y < ink.staff.middle
    end = _end(ink, x1, y)
    return OctaveLine(
        x0, end if end is not None else _hook(ink, x1, y), y, -amount if below else amount
    )


def _hook(ink: StaffInk, x: float, y: float) -> float | None:
    """A short upright after a sign over one note alone."""
    space = ink.staff.space
    return next(
        (
            one.x for one in ink.uprights
            if 0 < one.x - x < 3 * space and 0.3 * space < one.length < 1.6 * space
            and abs((one.y0 + one.y1) / 2 - y) < 1.4 * space
        ),
        None,
    )  # fmt: skip


def _end(ink: StaffInk, x: float, y: float) -> float | None:
    """The right end of a line, whole or dashed, that goes on from (x, y)."""
    space = ink.staff.space
    lines = [line for line in ink.lines if line.x0 > x - 0.8 * space and _is_octaves(ink, line)]
    starts = [
        (abs(line.y - y) + 0.3 * abs(line.x0 - x), line.x0, line.y)
        for line in lines
        if line.x0 < x + 4.5 * space and abs(line.y - y) < 1.7 * space
    ]
    if not starts:
        return None
    _, end, at = min(starts)
    for line in sorted(lines, key=lambda line: line.x0):
        if abs(line.y - at) < 0.1 * space and line.x1 > end:
            if line.x0 > end + 1.6 * space:
                break
            end = line.x1
    return end


def _is_octaves(ink: StaffInk, line: Line) -> bool:
    """Whether a line stands off the staff and is no ledger line."""
    staff, space = ink.staff, ink.staff.space
    if abs(line.y - staff.middle) < 2.2 * space:
        return False
    off = max(line.y - staff.top, staff.bottom - line.y) / space
    if line.length > 2.6 * space or abs(off - round(off)) > 0.12:
        return True
    middle = (line.x0 + line.x1) / 2
    return not any(abs(middle - (item.x0 + item.x1) / 2) < 0.4 * space for item in ink.of("head"))


def shift_heads(ink: StaffInk, lines: Iterable[OctaveLine], heads: Sequence[Head]) -> None:
    """Move the heads under octave lines; doubt those whose line has no end."""
    space = ink.staff.space
    for line in lines:
        end = line.end if line.end is not None else line.start + 3 * space
        for head in heads:
            if line.start - 0.6 * space <= head.middle <= end + 0.1 * space:
                head.octaves = line.octaves
                if line.end is None or not line.sure:
                    head.doubts.append(fact("pdfparts.doubt_octave"))
