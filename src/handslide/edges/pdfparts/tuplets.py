"""Tuplets: the number over or under a group, with or without a bracket.

Numbers stand over notes for other reasons too, such as slide positions. So a number alone is no
tuplet: what the bar lacks or has too much decides (`handslide.edges.pdfparts.timing`), and a
bracket or a beam over just the group makes it likelier.
"""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from handslide.edges.pdfparts.found import Bar, Event, StaffInk, TupletGroup
from handslide.edges.pdfparts.texts import Words

_NORMAL = {2: 3, 3: 2, 4: 3, 5: 4, 6: 4, 7: 4, 8: 6, 9: 8, 10: 8, 11: 8, 12: 8, 13: 8}
_REACH = 1.3
"""Spaces between a number and the middle of its group, at most."""
_BRACKETED, _BEAMED, _BARE = 0.0, 1.0, 3.0
_MOST_EVENTS = 24
_CANDIDATES = 2


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
        for item in ink.of("tuplet", "digit", "finger")
        if item.kind.partition(".")[2].isdigit()
    ]
    for word in words:
        if word.text.isdigit() and 2 <= int(word.text[:3]) <= 13 and word.em < 4 * space:
            found.append(Number(int(word.text), (word.x0 + word.x1) / 2, word.y + 0.35 * word.em))
    return [_bracketed(ink, number) for number in found if number.count in _NORMAL]


def _bracketed(ink: StaffInk, number: Number) -> Number:
    """With the ends of the lines to its left and right, where there are any."""
    space = ink.staff.space
    pieces = [(line.x0, line.y, line.x1, line.y) for line in ink.lines if line.length > 0.5 * space]
    pieces += [(one.x0, one.y0, one.x1, one.y1) for one in ink.slants]
    left = [
        x0 for x0, _, x1, y1 in pieces
        if -0.2 * space < number.x - x1 < 1.6 * space and abs(y1 - number.y) < 0.9 * space
    ]  # fmt: skip
    right = [
        x1 for x0, y0, x1, _ in pieces
        if -0.2 * space < x0 - number.x < 1.6 * space and abs(y0 - number.y) < 0.9 * space
    ]  # fmt: skip
    if left and right:
        return Number(number.count, number.x, number.y, min(left), max(right))
    return number


def find_tuplets(ink: StaffInk, bar: Bar, numbers: Iterable[Number]) -> None:
    """Note what the numbers over a bar may mean, for each the likeliest groups."""
    events = [event for event in bar.events if not (event.small and event.heads)]
    for number in sorted(numbers, key=lambda number: number.x):
        if bar.x0 <= number.x <= bar.x1:
            groups = sorted(_groups(ink, events, number), key=lambda group: group.cost)
            bar.tuplets += groups[:_CANDIDATES]


def _groups(ink: StaffInk, events: Sequence[Event], number: Number) -> list[TupletGroup]:
    """The runs of events whose middle the number stands over, or that its bracket spans, and whose
    lengths make as many equal parts."""
    found = []
    for voice in _voices(events):
        for first, last in itertools.combinations(range(len(voice)), 2):
            group = voice[first : last + 1]
            if last - first < _MOST_EVENTS and _may_be(group, number.count):
                cost = _cost(group, number, ink.staff.space)
                if cost is not None:
                    normal = _NORMAL[number.count]
                    found.append(TupletGroup(tuple(group), number.count, normal, cost))
    return found


def _voices(events: Sequence[Event]) -> list[list[Event]]:
    ordered = sorted(events, key=lambda event: event.x)
    ups = [event for event in ordered if event.up is not False]
    downs = [event for event in ordered if event.up is not True]
    both = [ordered, ups, downs]
    return [voice for index, voice in enumerate(both) if voice and voice not in both[:index]]


def _may_be(group: Sequence[Event], count: int) -> bool:
    """Whether the lengths add up to ``count`` of some note value, none longer than the whole."""
    total = sum((event.nominal for event in group), Fraction(0))
    part = total / count
    powers_of_two = (
        not part.numerator & (part.numerator - 1),
        not part.denominator & (part.denominator - 1),
    )
    return all(powers_of_two) and part <= 2 and min(event.nominal for event in group) <= part


def _cost(group: Sequence[Event], number: Number, space: float) -> float | None:
    left, right = group[0].x, group[-1].right
    if number.left is not None and number.right is not None:
        off = (abs(number.left - left) + abs(number.right - right)) / space
        return _BRACKETED + 0.1 * off if off < 4.5 else None
    if group[0].stem is not None and group[-1].stem is not None:
        left, right = group[0].stem.x, group[-1].stem.x
    off = abs((left + right) / 2 - number.x) / space
    if off > _REACH:
        return None
    longer = 0.1 * len(group) / number.count
    return (_BEAMED if _one_beam(group) else _BARE) + 0.3 * off + longer


def _one_beam(group: Sequence[Event]) -> bool:
    """Whether one beam joins them, and begins and ends with them."""
    first, last = group[0].stem, group[-1].stem
    if first is None or last is None:
        return False
    return any(
        slab in last.slabs and abs(slab.x0 - first.x) < 1.0 and abs(slab.x1 - last.x) < 1.0
        for slab in first.slabs
    )
