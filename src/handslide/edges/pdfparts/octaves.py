"""Octave lines: 8va, 8vb, 15ma over or under the notes."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handslide.edges.pdfparts.found import Head, StaffInk
from handslide.edges.pdfparts.texts import Words
from handslide.ground.facts import fact

_TEXT = re.compile(r"^\(?(8|15)\s?(v?a|v?b|ba|ma|mb)?\)?\.?$")


@dataclass(frozen=True, slots=True)
class OctaveLine:
    """Where it begins and ends; ``end`` is None where no line is drawn after the sign."""

    start: float
    end: float | None
    y: float
    octaves: int


def octave_lines(ink: StaffInk, words: Iterable[Words]) -> list[OctaveLine]:
    """The octave lines of a staff."""
    found = []
    for item in ink.of("ottava"):
        amount = 2 if "15" in item.kind else 1
        middle = (item.y0 + item.y1) / 2
        found.append(_line(ink, item.x0, item.x1, middle, amount, ".8b" in item.kind))
    for word in words:
        match = _TEXT.match(word.plain)
        if match is None or ink.staff.bottom - word.em < word.y < ink.staff.top:
            continue
        amount = 2 if match[1] == "15" else 1
        low = (match[2] or "").endswith("b") or match[2] == "ba"
        line = _line(ink, word.x0, word.x1, word.y + 0.3 * word.em, amount, low)
        if line.end is not None:
            found.append(line)
    return found


def _line(ink: StaffInk, x0: float, x1: float, y: float, amount: int, low: bool) -> OctaveLine:
    below = low or y < ink.staff.middle
    return OctaveLine(x0, _end(ink, x1, y), y, -amount if below else amount)


def _end(ink: StaffInk, x: float, y: float) -> float | None:
    """The right end of a line, whole or dashed, that goes on from (x, y)."""
    space, end, at = ink.staff.space, None, None
    for line in sorted(ink.lines, key=lambda line: line.x0):
        if line.x0 < x - 0.3 * space:
            continue
        off = abs(line.y - (y if at is None else at))
        if off > (1.7 * space if at is None else 0.1 * space):
            continue
        if abs(line.y - ink.staff.middle) < 2.2 * space:
            continue
        if line.x0 - (x if end is None else end) > (4.5 * space if at is None else 1.6 * space):
            break
        end, at = max(end or line.x1, line.x1), line.y
    return end


def shift_heads(ink: StaffInk, lines: Iterable[OctaveLine], heads: Sequence[Head]) -> None:
    """Move the heads under octave lines; doubt those whose line has no end."""
    space = ink.staff.space
    for line in lines:
        end = line.end if line.end is not None else line.start + 3 * space
        for head in heads:
            if line.start - 1.5 * space <= head.x <= end + 0.5 * space:
                head.octaves = line.octaves
                if line.end is None:
                    head.doubts.append(fact("pdfparts.doubt_octave"))
