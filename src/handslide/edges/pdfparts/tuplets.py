"""Tuplets: the number over or under a group, with or without a bracket."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from handslide.edges.pdfparts.found import Bar, Event, StaffInk
from handslide.edges.pdfparts.items import Item
from handslide.edges.pdfparts.texts import Words

_NORMAL = {2: 3, 3: 2, 4: 3, 5: 4, 6: 4, 7: 4, 8: 6, 9: 8, 10: 8, 11: 8, 12: 8, 13: 8}
_REACH = 1.3
"""Spaces between a number and the middle of its group, at most."""


@dataclass(frozen=True, slots=True)
class Number:
    """A number near the staff; ``left`` and ``right`` are the ends of its bracket, if any."""

    count: int
    x: float
    y: float
    left: float | None = None
    right: float | None = None


def numbers_of(ink: StaffInk, words: Iterable[Words]) -> list[Number]:
    """Numbers that may belong to tuplets."""
    space = ink.staff.space
    found = [
        Number(int(item.kind.partition(".")[2]), (item.x0 + item.x1) / 2, (item.y0 + item.y1) / 2)
        for item in _digits_together(ink)
    ]
    for word in words:
        if word.text.isdigit() and 2 <= int(word.text[:3]) <= 13 and word.em < 4 * space:
            found.append(Number(int(word.text), (word.x0 + word.x1) / 2, word.y + 0.35 * word.em))
    return [_bracketed(ink, number) for number in found if number.count in _NORMAL]


def _digits_together(ink: StaffInk) -> list[Item]:
    return [item for item in ink.of("tuplet", "digit") if item.kind.partition(".")[2].isdigit()]


def _bracketed(ink: StaffInk, number: Number) -> Number:
    """With the ends of the lines to its left and right, where there are any."""
    space = ink.staff.space
    pieces = [(line.x0, line.y, line.x1, line.y) for line in ink.lines if line.length > 0.5 * space]
    pieces += [(one.x0, one.y0, one.x1, one.y1) for one in ink.slants]
    left = [
        x0
        for x0, _, x1, y1 in pieces
        if -0.2 * space < number.x - x1 < 1.6 * space and abs(y1 - number.y) < 0.9 * space
    ]
    right = [
        x1
        for x0, y0, x1, _ in pieces
        if -0.2 * space < x0 - number.x < 1.6 * space and abs(y0 - number.y) < 0.9 * space
    ]
    if left and right:
        return Number(number.count, number.x, number.y, min(left), max(right))
    return number


def mark_tuplets(ink: StaffInk, bar: Bar, numbers: Iterable[Number]) -> None:
    """Give the events of a bar their tuplets."""
    events = [event for event in bar.events if not event.grace]
    for number in sorted(numbers, key=lambda number: number.x):
        if bar.x0 <= number.x <= bar.x1:
            group = _group(ink, events, number)
            for event in group:
                event.actual, event.normal = number.count, _normal(number.count, group)


def _normal(count: int, group: Sequence[Event]) -> int:
    return _NORMAL[count]


def _group(ink: StaffInk, events: Sequence[Event], number: Number) -> list[Event]:
    """The run of events whose middle the number stands over and whose lengths make as many equal
    parts; a bracket or a common beam decides between several."""
    space = ink.staff.space
    best: tuple[float, list[Event]] | None = None
    for voice in _voices(events):
        for first in range(len(voice)):
            for last in range(first, min(first + 24, len(voice))):
                group = voice[first : last + 1]
                if not _may_be(group, number.count):
                    continue
                cost = _cost(group, number, space)
                if cost is not None and (best is None or cost < best[0]):
                    best = cost, group
    return best[1] if best is not None else []


def _voices(events: Sequence[Event]) -> list[list[Event]]:
    ordered = sorted(events, key=lambda event: event.x)
    ups = [event for event in ordered if event.up is not False]
    downs = [event for event in ordered if event.up is not True]
    both = [ordered, ups, downs]
    return [voice for index, voice in enumerate(both) if voice and voice not in both[:index]]


def _may_be(group: Sequence[Event], count: int) -> bool:
    """Whether the lengths add up to ``count`` of some note value, none longer than the whole."""
    if any(event.actual != 1 for event in group):
        return False
    total = sum((event.nominal for event in group), Fraction(0))
    part = total / count
    if (
        part > 2
        or part.numerator & (part.numerator - 1)
        or part.denominator & (part.denominator - 1)
    ):
        return False
    return len(group) > 1 and min(event.nominal for event in group) <= part


def _cost(group: Sequence[Event], number: Number, space: float) -> float | None:
    left, right = group[0].x, group[-1].right
    if number.left is not None and number.right is not None:
        off = abs(number.left - left) + abs(number.right - right)
        return off / space - 10 if off < 4.5 * space else None
    if group[0].stem is not None and group[-1].stem is not None:
        left, right = group[0].stem.x, group[-1].stem.x
    off = abs((left + right) / 2 - number.x)
    if off > _REACH * space:
        return None
    beamed = _one_beam(group)
    return off / space - (2 if beamed else 0) + 0.3 * len(group) / max(1, number.count)


def _one_beam(group: Sequence[Event]) -> bool:
    """Whether one beam joins them, and begins and ends with them."""
    stems = [event.stem for event in group]
    if any(stem is None or not stem.slabs for stem in stems):
        return False
    first, last = stems[0], stems[-1]
    return any(
        slab in last.slabs and abs(slab.x0 - first.x) < 1.0 and abs(slab.x1 - last.x) < 1.0  # type: ignore[union-attr]
        for slab in first.slabs  # type: ignore[union-attr]
    )
