"""Systems onto pages: even distances between staves, no orphan, no stretched last page.

The engraver sets one endless column of systems; here they are cut apart and set on pages of a
given height. Lengths are in the engraver's units (100 units = 1 mm).
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from lxml import etree

from handslide.edges.engraving.marks import staff_lines
from handslide.edges.engraving.shapes import Box, Glyphs, finder, hull, ink, of_kind
from handslide.edges.engraving.turns import ENOUGH_Q
from handslide.edges.engraving.values import LOOSE_DISTANCE

MIN_GAP = 300.0  # between the ink of two systems, 3 mm
MAX_DISTANCE = 3500.0  # between the top lines of two staves when a page is filled out
# A turn without any rest costs as much as a page that is half empty.
_HASTY_TURN = 0.25
_find_shifted = finder("*[@class != '' and starts-with(@transform, 'translate(0, ')]")


@dataclass(frozen=True, slots=True)
class System:
    """One line of music: its group, its ink, the height of its top staff line, its measures."""

    group: etree._Element
    box: Box
    staff_top: float
    measures: tuple[str, ...] = ()

    @property
    def above(self) -> float:
        """How far the ink reaches above the top line."""
        return self.staff_top - self.box.top

    @property
    def below(self) -> float:
        """How far the ink reaches below the top line."""
        return self.box.bottom - self.staff_top


def measure_system(group: etree._Element, glyphs: Glyphs) -> System | None:
    """Return a system with its ink, or None when nothing is drawn in it."""
    lines = staff_lines(group)
    boxes = _all_ink(group, glyphs)
    if not lines or not boxes:
        return None
    measures = [measure.get("id", "") for measure in of_kind(group, "measure")]
    return System(group, hull(boxes), lines[0], tuple(measures))


class Column:
    """Systems below each other without an end, set one by one as `distribute` sets a last page.

    ``loose`` is the least distance of their top lines. The ink of the first begins at height 0.
    """

    def __init__(self, loose: float = LOOSE_DISTANCE) -> None:
        self._loose = loose
        self._top = 0.0
        self._last: System | None = None
        self.bottom = 0.0

    @property
    def begun(self) -> bool:
        """Whether there is a system in it."""
        return self._last is not None

    def place(self, system: System) -> float:
        """How far the next system is moved down."""
        if self._last is None:
            self._top = system.above
        else:
            self._top += max(*_least((self._last, system)), self._loose)
        self._last = system
        down = self._top - system.staff_top
        self.bottom = max(self.bottom, system.box.bottom + down)
        return down


def _all_ink(group: etree._Element, glyphs: Glyphs) -> list[Box]:
    boxes = []
    for child in _find_shifted(group):
        rise = float(child.get("transform").removeprefix("translate(0, ").rstrip(")"))
        boxes += [box.moved(rise) for box in ink(child, glyphs)]
    return boxes + ink(group, glyphs)


def distribute(
    systems: Sequence[System],
    first_height: float,
    height: float,
    loose: float = LOOSE_DISTANCE,
    turn_rests_q: Sequence[float] = (),
) -> list[list[tuple[System, float]]]:
    """Return pages of (system, how far it is moved down), each page starting at height 0.

    ``loose`` is the distance of staves on a last page that isn't full. ``turn_rests_q`` says for
    each pair of neighbouring systems how long a player rests between them, in quarter notes: pages
    are turned there where the music leaves a choice.
    """
    counts = _page_counts(systems, first_height, height, turn_rests_q)
    pages = []
    start = 0
    for number, count in enumerate(counts):
        chosen = systems[start : start + count]
        start += count
        room = first_height if number == 0 else height
        last = number == len(counts) - 1
        pages.append(_set_page(chosen, room, loose if last else MAX_DISTANCE))
    return pages


def _least(systems: Sequence[System]) -> list[float]:
    """Return the least distances of staves: ink to ink plus the least gap."""
    return [a.below + b.above + MIN_GAP for a, b in itertools.pairwise(systems)]


def _needed(systems: Sequence[System]) -> float:
    return systems[0].above + sum(_least(systems)) + systems[-1].below


def _page_counts(
    systems: Sequence[System],
    first_height: float,
    height: float,
    turn_rests_q: Sequence[float] = (),
) -> list[int]:
    """Cut into the fewest pages, at rests, with the slack shared as evenly as it can be.

    Dynamic programming over cuts: least sum of squared slack, where the last page may be
    emptier than the others at a small cost, and of what a turn without a rest costs. A page takes
    at least one system.
    """
    total = len(systems)
    if _needed(systems) <= first_height:
        return [total]
    best: list[tuple[int, float, list[int]] | None] = [None] * (total + 1)
    best[0] = (0, 0.0, [])
    for end in range(1, total + 1):
        for start in range(end - 1, -1, -1):
            before = best[start]
            if before is None:
                continue
            room = first_height if start == 0 else height
            needed = _needed(systems[start:end])
            if needed > room and end - start > 1:
                break
            slack = max(0.0, (room - needed) / room)
            cost = before[1] + slack * slack * (0.3 if end == total else 1.0)
            if end < total and turn_rests_q:
                rest = min(turn_rests_q[end - 1], ENOUGH_Q) / ENOUGH_Q
                cost += _HASTY_TURN * (1.0 - rest)
            offer = (before[0] + 1, cost, [*before[2], end - start])
            current = best[end]
            if current is None or offer[:2] < current[:2]:
                best[end] = offer
    found = best[total]
    return found[2] if found is not None else []


def _set_page(systems: Sequence[System], room: float, cap: float) -> list[tuple[System, float]]:
    least = _least(systems)
    free = room - systems[0].above - systems[-1].below
    even = min(_water_level(least, free), cap)
    top = systems[0].above
    placed = [(systems[0], top - systems[0].staff_top)]
    for system, distance in zip(systems[1:], least):
        top += max(distance, even)
        placed.append((system, top - system.staff_top))
    return placed


def _water_level(least: Sequence[float], total: float) -> float:
    """Return the distance D with sum(max(D, least)) = total; 0 when there is no room."""
    if not least or sum(least) >= total:
        return 0.0
    ordered = sorted(least)
    fixed = sum(ordered)
    for count in range(len(ordered), 0, -1):
        fixed -= ordered[count - 1] if count < len(ordered) else 0.0
        big = ordered[count:]
        level = (total - sum(big)) / count
        if level >= ordered[count - 1]:
            return level
    return ordered[0]
