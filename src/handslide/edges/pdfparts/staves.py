"""Staves and the systems that they make: five level lines at equal distance."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from handslide.edges.pdfparts.forms import Line, Upright

_SHORTEST_STAFF = 60.0
_SPACES = (2.0, 16.0)
"""Points between two lines: from pocket scores to wall charts."""
_UNEVEN = 0.08
"""Share of a space by which a line may lie off."""


@dataclass(frozen=True, slots=True)
class Staff:
    """Five lines. ``bottom`` is the height of the lowest; places count half spaces from it."""

    x0: float
    x1: float
    bottom: float
    space: float

    @property
    def top(self) -> float:
        """The height of the highest line."""
        return self.bottom + 4 * self.space

    @property
    def middle(self) -> float:
        """The height of the middle line."""
        return self.bottom + 2 * self.space

    def place(self, y: float) -> float:
        """Half spaces above the lowest line."""
        return 2 * (y - self.bottom) / self.space

    def y_of(self, place: float) -> float:
        """The height of a place."""
        return self.bottom + place * self.space / 2


def staves_of(lines: Iterable[Line]) -> list[Staff]:
    """The staves of a page, from above to below."""
    joined = sorted(_joined(lines), key=lambda line: line.y)
    used: set[int] = set()
    found = []
    for index, lowest in enumerate(joined):
        if index in used:
            continue
        group = _five(joined, used, index)
        if group:
            used.update(group)
            space = (joined[group[4]].y - lowest.y) / 4
            found.append(Staff(lowest.x0, lowest.x1, lowest.y, space))
    return sorted(found, key=lambda staff: (-staff.bottom, staff.x0))


def _joined(lines: Iterable[Line]) -> list[Line]:
    """Pieces of one line, drawn one after the other, as one."""
    rows: dict[float, list[Line]] = {}
    for line in sorted(lines, key=lambda line: (line.y, line.x0)):
        key = round(line.y, 1)
        at = next((near for near in (key, round(key + 0.1, 1), round(key - 0.1, 1))
                   if near in rows), key)  # fmt: skip
        rows.setdefault(at, []).append(line)
    whole: list[Line] = []
    for row in rows.values():
        row.sort(key=lambda line: line.x0)
        now = row[0]
        for line in row[1:]:
            if line.x0 <= now.x1 + 1.5:
                now = Line(now.x0, max(now.x1, line.x1), now.y, now.width)
            else:
                whole.append(now)
                now = line
        whole.append(now)
    return [line for line in whole if line.length > _SHORTEST_STAFF]


def _five(lines: Sequence[Line], used: set[int], index: int) -> list[int]:
    """Indices of five lines that begin with ``index``; empty where there are none."""
    lowest = lines[index]
    for second in range(index + 1, min(index + 12, len(lines))):
        space = lines[second].y - lowest.y
        if not _SPACES[0] < space < _SPACES[1]:
            continue
        group = [index]
        # Where lines stand on a printer's pixels the first gap alone misleads.
        for count in range(1, 5):
            fitting = _fitting(lines, used, lowest, lowest.y + count * space, space)
            if fitting is None:
                break
            group.append(fitting)
            space = (lines[fitting].y - lowest.y) / count
        if len(group) == 5:
            return group
    return []


def _fitting(
    lines: Sequence[Line], used: set[int], lowest: Line, y: float, space: float
) -> int | None:
    for index, line in enumerate(lines):
        if index in used or line is lowest or abs(line.y - y) > _UNEVEN * space + 0.02:
            continue
        if abs(line.x0 - lowest.x0) < space and abs(line.x1 - lowest.x1) < space:
            return index
    return None


def usual_space(staves: Sequence[Staff]) -> float:
    """The space of most staves of a page."""
    return median(staff.space for staff in staves)


def systems_of(staves: Sequence[Staff], uprights: Iterable[Upright]) -> list[list[Staff]]:
    """Staves by system, from above to below: an upright at their beginning joins them."""
    systems: list[list[Staff]] = []
    long = [one for one in uprights if one.length > 5 * usual_space(staves)] if staves else []
    for staff in staves:
        if systems and _joins(systems[-1][-1], staff, long):
            systems[-1].append(staff)
        else:
            systems.append([staff])
    return systems


def _joins(upper: Staff, lower: Staff, uprights: Iterable[Upright]) -> bool:
    """An upright fills the gap between them: some programs draw a line through several staves in
    pieces."""
    slack = 0.5 * lower.space
    return abs(upper.x0 - lower.x0) < 2 * lower.space and any(
        one.y0 <= lower.top + slack
        and one.y1 >= upper.bottom - slack
        and lower.x0 - 3 * lower.space < one.x < lower.x1 + slack
        for one in uprights
    )
