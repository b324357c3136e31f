"""Where marks stand on a page that is printed already: in rows over their staves, in free room.

Every staff has a level row as low as nearly all of its marks find room; one that finds none there
goes to the nearest room over its note, a little aside or a little smaller, and at last under the
staff. Where there is none at all it is left out, and told. Lengths are in seen points, y up.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.edges.engraving.marks import (
    ASCENT_EM,
    DESCENT_EM,
    GAP_EM,
    GRACE_SCALE,
    ROW_EM,
    Mark,
    apart,
    mark_width_em,
)
from handslide.edges.pdfparts.reading import ReadStaff
from handslide.edges.pdfparts.room import Box, Room

LEAST_PT = 6.5  # of a mark; MIN_PT of our own sheets has no such narrow pages to fit in
USUAL_PT = 10.0  # as on our own sheets
SIZE_SPACES = 1.9  # of a mark over a staff that is smaller than ours
FRAME = 1.1  # between a doubtful mark and its frame
FRAME_LINE = 0.6
DOUBT = "?"
_HIGHEST_SPACES = 8.0  # of a row over the staff
_LOWEST_SPACES = 6.0  # of a mark under it
_FOREIGN_SPACES = 2.5  # of another staff of the part
_STEP_SPACES = 0.2
_SHARES = (1.0, 0.9, 0.8)  # of the usual size
_ASIDE_EM = 0.45  # a mark still stands over its note
_CAPITALS_EM = 0.75  # as high as what has no flat or sharp is
_SHIFTS_EM = np.array((0.0, 0.2, -0.2, 0.4, -0.4))
_HOP = 2.5
_CROWDED = 8.0  # what a mark that finds no room in a row counts, in marks a space higher


@dataclass(frozen=True, slots=True)
class NoteMark:
    """What is to stand over a note: ``note`` names it, ``staff`` is its place among the staves,
    ``x`` and ``y`` are the middle of its head. One with a doubt is framed, whatever it has."""

    note: int
    staff: int
    x: float
    y: float
    text: str
    small: bool = False
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class PlacedMark:
    """A mark in its room: ``x`` is its left edge, ``y`` its baseline; ``frame`` is None without a
    doubt."""

    note: int
    text: str
    x: float
    y: float
    size_pt: float
    frame: Box | None

    @property
    def box(self) -> Box:
        """What it covers."""
        return self.frame or _box(self.text, self.x, self.y, self.size_pt)


def place_page(
    marks: Sequence[NoteMark], staves: Sequence[ReadStaff], room: Room
) -> tuple[PlacedMark, ...]:
    """The marks of one page that find room, which they take. ``staves`` are those of the part."""
    rows: dict[int, list[NoteMark]] = {}
    for mark in sorted(marks, key=lambda mark: (mark.staff, mark.x, mark.note)):
        rows.setdefault(mark.staff, []).append(mark)
    placed: dict[int, PlacedMark] = {}
    loose = []
    for number, row in rows.items():
        staff = staves[number]
        ceiling, floor = _neighbours(staff, staves)
        wanted, height = _row(row, staff, ceiling, room)
        for index, found in wanted.items():
            if found is not None and _is_free(found.box, room):
                _take(placed, found, room)
            else:
                loose.append((row[index], staff, height, ceiling, floor))
    for mark, staff, height, ceiling, floor in loose:
        found = _own_room(mark, staff, height, ceiling, floor, room)
        if found is not None:
            _take(placed, found, room)
    return tuple(placed[note] for note in sorted(placed))


def _neighbours(staff: ReadStaff, staves: Sequence[ReadStaff]) -> tuple[float, float]:
    """How high and how low a mark may stand, so that nobody takes it for another staff's."""
    others = [each for each in staves if each.page == staff.page]
    above = [each.bottom for each in others if each.bottom > staff.bottom]
    below = [each.bottom + 4 * each.space for each in others if each.bottom < staff.bottom]
    near = _FOREIGN_SPACES * staff.space
    return min(above, default=1e9) - near, max(below, default=-1e9) + near


def _take(placed: dict[int, PlacedMark], found: PlacedMark, room: Room) -> None:
    placed[found.note] = found
    room.take(found.box)


def _is_free(box: Box, room: Room) -> bool:
    return bool(room.is_free(box.x0, box.y0, box.x1, box.y1))


def _row(
    marks: Sequence[NoteMark], staff: ReadStaff, ceiling: float, room: Room
) -> tuple[dict[int, PlacedMark | None], float]:
    """The marks of a staff in their row, None where there is ink, and the row's height."""
    usual = max(LEAST_PT, min(USUAL_PT, SIZE_SPACES * staff.space))
    found, levels = _spread(marks, usual)
    space, top = staff.space, staff.bottom + 4 * staff.space
    heights = top + space * np.arange(0.9, _HIGHEST_SPACES, _STEP_SPACES)
    heights = heights[: max(1, int((heights < ceiling).sum()))]
    free = np.empty((len(found), len(heights)), bool)
    for index, (mark, level) in enumerate(zip(found, levels)):
        lift = level * ROW_EM * mark.size
        y = heights + lift
        x = mark.centre - mark.width / 2
        free[index] = _free_at(marks[mark.ordinal], x, y, mark.size, space, room, aside=1.2)
    cost = _CROWDED * (~free).sum(axis=0) + len(found) * (heights - top) / space
    best = int(np.argmin(cost))
    row: dict[int, PlacedMark | None] = {}
    for index, (mark, level) in enumerate(zip(found, levels)):
        y_row = float(heights[best]) + level * ROW_EM * mark.size
        place = _placed(marks[mark.ordinal], mark.centre, y_row, mark.size)
        row[mark.ordinal] = place if free[index, best] else None
    return row, float(heights[best])


def _spread(marks: Sequence[NoteMark], usual_pt: float) -> tuple[list[Mark], list[int]]:
    """The marks of a row side by side, none far from its note.

    Where they crowd they get smaller, and where that isn't enough every second one goes up a level.
    """
    steps, levels = [0] * len(marks), [0] * len(marks)
    while True:
        sizes = [max(LEAST_PT, share * usual_pt) for share in (_SHARES[step] for step in steps)]
        found = [_as_mark(index, mark, sizes[index]) for index, mark in enumerate(marks)]
        for level in (0, 1):
            row = [index for index, own in enumerate(levels) if own == level]
            for one in apart([found[index] for index in row]):
                found[one.ordinal] = one
        crowds = [
            crowd
            for crowd in _crowds(found, levels)
            if any(abs(found[i].centre - marks[i].x) >= _ASIDE_EM * found[i].size for i in crowd)
        ]
        if not crowds:
            return found, levels
        for crowd in crowds:
            if max(steps[index] for index in crowd) + 1 < len(_SHARES):
                for index in crowd:
                    steps[index] += 1
            elif all(levels[index] == 0 for index in crowd):
                for place, index in enumerate(crowd):
                    levels[index] = place % 2
            else:
                return found, levels


def _crowds(found: Sequence[Mark], levels: Sequence[int]) -> list[list[int]]:
    """Runs of marks of one level that stand as close as they may, by their places."""
    crowds: list[list[int]] = []
    for level in (0, 1):
        before: Mark | None = None
        for index, mark in enumerate(found):
            if levels[index] != level:
                continue
            if before is not None and mark.centre - before.centre < _least(before, mark) + 0.01:
                crowds[-1].append(index)
            else:
                crowds.append([index])
            before = mark
    return crowds


def _least(one: Mark, other: Mark) -> float:
    """How far the centres of two neighbours must be apart."""
    return (one.width + other.width) / 2 + GAP_EM * min(one.size, other.size)


def _as_mark(number: int, mark: NoteMark, size: float) -> Mark:
    own = _own_size(mark, size)
    return Mark(number, _text(mark), mark.x, _width(mark, own), own, 1.0 if mark.small else 30.0)


def _own_size(mark: NoteMark, size: float) -> float:
    return max(LEAST_PT, GRACE_SCALE * size) if mark.small else size


def _width(mark: NoteMark, own: float) -> float:
    return mark_width_em(_text(mark)) * own + (2 * FRAME if mark.doubtful else 0.0)


def _text(mark: NoteMark) -> str:
    return mark.text + DOUBT if mark.doubtful else mark.text


def _own_room(
    mark: NoteMark, staff: ReadStaff, height: float, ceiling: float, floor: float, room: Room
) -> PlacedMark | None:
    """The room nearest to the row for one mark, else under its staff."""
    space, top = staff.space, staff.bottom + 4 * staff.space
    usual = _own_size(mark, max(LEAST_PT, min(USUAL_PT, SIZE_SPACES * space)))
    above = top + space * np.arange(0.5, _HIGHEST_SPACES + 1, _STEP_SPACES)
    above = above[: max(1, int((above < ceiling).sum()))]
    # Nearer to its note rather than beyond what stands in the row's way.
    far = np.where(above > height, _HOP * (above - height), height - above)
    above = above[np.argsort(far, kind="stable")]
    lowest = min(mark.y, staff.bottom)
    below = lowest - space * np.arange(1.8, _LOWEST_SPACES, _STEP_SPACES)
    below = below[: max(1, int((below > floor).sum()))]
    sizes = sorted({max(LEAST_PT, share * usual) for share in (1.0, 0.88, 0.76)}, reverse=True)
    for heights, under in ((above, False), (below, True)):
        for size, aside in itertools.product(sizes, (1.0, 0.4)):
            centres = mark.x + size * _SHIFTS_EM
            left = (centres - _width(mark, size) / 2)[:, np.newaxis]
            free = _free_at(mark, left, heights, size, space, room, aside, under=under)
            if free.any():
                shift = int(np.argmax(free.any(axis=1)))
                at = float(heights[int(np.argmax(free[shift]))])
                return _placed(mark, float(centres[shift]), at, size)
    return None


def _free_at(
    mark: NoteMark,
    x: float | NDArray[np.float64],
    heights: NDArray[np.float64],
    size: float,
    space: float,
    room: Room,
    aside: float,
    *,
    under: bool = False,
) -> NDArray[np.bool_]:
    """At which baselines a mark whose left edge is ``x`` has room and ``aside`` to spare."""
    up, down = _reach(_text(mark), size)
    frame, line = (FRAME + FRAME_LINE / 2, FRAME_LINE / 2) if mark.doubtful else (0.0, 0.0)
    apart_y, apart_x = frame + 0.75 * aside, line + aside
    low, high = heights - down - apart_y, heights + up + apart_y
    free = room.is_free(x - apart_x, low, x + _width(mark, size) + apart_x, high)
    beyond = high < mark.y - 0.6 * space if under else low > mark.y + 0.6 * space
    return np.asarray(free & beyond)


def _placed(mark: NoteMark, centre: float, y: float, size: float) -> PlacedMark:
    x = centre - _width(mark, size) / 2
    text = _text(mark)
    if not mark.doubtful:
        return PlacedMark(mark.note, text, x, y, size, None)
    inner = _box(text, x + FRAME, y, size)
    frame = Box(inner.x0 - FRAME, inner.y0 - FRAME, inner.x1 + FRAME, inner.y1 + FRAME)
    return PlacedMark(mark.note, text, x + FRAME, y, size, frame)


def _reach(text: str, size: float) -> tuple[float, float]:
    """How far a mark goes above and below its baseline."""
    if any(sign in text for sign in "♭♯()"):
        return ASCENT_EM * size, DESCENT_EM * size
    return _CAPITALS_EM * size, 0.02 * size


def _box(text: str, x: float, y: float, size: float) -> Box:
    up, down = _reach(text, size)
    return Box(x, y - down, x + mark_width_em(text) * size, y + up)


def head_tint(mark: NoteMark, staff: ReadStaff) -> Box:
    """What is tinted behind the head of a doubtful note."""
    space = staff.space
    return Box(mark.x - 1.1 * space, mark.y - 0.95 * space, mark.x + 1.1 * space,
               mark.y + 0.95 * space)  # fmt: skip
