"""Bowed and oblique lines between notes: ties, slurs, glissandi."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

from handslide.edges.pdfparts.forms import Arc, Slant
from handslide.edges.pdfparts.found import Event, Head, StaffInk

_BESIDE = 1.2
"""Spaces between the end of a tie and its head, at most."""
_LEVEL = 2.2
_SLUR_X, _SLUR_Y = 1.7, 5.0


@dataclass(slots=True)
class Loose:
    """Bows that lead over the end of a system: events and heads that wait for the next."""

    ties: list[tuple[Event, Head]] = field(default_factory=list)
    slurs: list[Event] = field(default_factory=list)


def read_curves(ink: StaffInk, events: Sequence[Event], loose: Loose) -> Loose:
    """Tie and slur the events of a staff; gives what leads on to the next."""
    onward = Loose()
    for arc in sorted(ink.arcs, key=lambda arc: (arc.left[0], arc.right[0])):
        if not _tie(ink, arc, events, loose, onward):
            _slur(ink, arc, events, loose, onward)
    for slant in ink.slants:
        _gliss(ink, slant, events)
    _tie_over(loose, events)
    return onward


def _tie_over(loose: Loose, events: Sequence[Event]) -> None:
    """Some programs draw only the half of a tie before the system's end."""
    first = next((event for event in events if event.heads and not event.small), None)
    for waiting in loose.ties:
        for head in first.heads if first is not None else ():
            if (
                head.tie_from is None
                and head.step == waiting[1].step
                and _may_tie(waiting[1], head)
            ):
                waiting[1].tie_to, head.tie_from = head, waiting[1]
                break


def _tie(ink: StaffInk, arc: Arc, events: Sequence[Event], loose: Loose, onward: Loose) -> bool:
    space = ink.staff.space
    from_left = [
        (event, head) for event in events for head in event.heads
        if head.x - 0.4 * space < arc.left[0] < head.right + _BESIDE * space
        and abs(arc.left[1] - head.y) < _LEVEL * space and head.tie_to is None
    ]  # fmt: skip
    to_right = [
        (event, head) for event in events for head in event.heads
        if head.x - _BESIDE * space < arc.right[0] < head.right + 0.4 * space
        and abs(arc.right[1] - head.y) < _LEVEL * space and head.tie_from is None
    ]  # fmt: skip
    pairs = [
        (abs(first.y - arc.left[1]), first, second)
        for before, first in from_left for after, second in to_right
        if second.place == first.place and second.x > first.right
        and _neighbours(before, after, events, space) and _may_tie(first, second)
    ]  # fmt: skip
    if pairs:
        _, first, second = min(pairs, key=lambda pair: pair[0])
        first.tie_to, second.tie_from = second, first
        return True
    if from_left and not to_right and _leads_out(ink, arc, events):
        onward.ties += [min(from_left, key=lambda pair: abs(pair[1].y - arc.left[1]))]
        onward.slurs.append(from_left[0][0])
        return True
    return _tie_in(arc, to_right, events, loose)


def _may_tie(first: Head, second: Head) -> bool:
    """An accidental before the second head makes another pitch of it, but for a courtesy."""
    return second.sign is None or first.sign == second.sign


def _neighbours(before: Event, after: Event, events: Sequence[Event], space: float) -> bool:
    """No event of the same voice stands between them; grace notes don't count."""
    between = [
        other for other in events
        if before.right < other.x and other.right < after.x and not other.small
    ]  # fmt: skip
    if not between:
        return True
    near = [other for other in events if before.x - space < other.x < after.right + space]
    two_voices = any(
        one.up is not None and other.up is not None and one.up != other.up
        and abs(one.x - other.x) < space
        for one, other in itertools.combinations(near, 2)
    )  # fmt: skip
    return two_voices and not any(other.up in (None, before.up) for other in between)


def _leads_out(ink: StaffInk, arc: Arc, events: Sequence[Event]) -> bool:
    last = max(event.right for event in events)
    past = last + 0.3 * ink.staff.space
    return arc.right[0] > past and arc.right[0] > ink.staff.x1 - 6 * ink.staff.space


def _comes_in(ink: StaffInk, arc: Arc, events: Sequence[Event], loose: Loose) -> bool:
    """It begins before all events of a staff, and something leads on from the staff before."""
    first = min(event.x for event in events)
    return bool(loose.slurs) and arc.left[0] < first - 0.3 * ink.staff.space


def _tie_in(
    arc: Arc, to_right: Sequence[tuple[Event, Head]], events: Sequence[Event], loose: Loose
) -> bool:
    """A bow that comes from the system before."""
    if not to_right or arc.left[0] > min(event.x for event in events):
        return False
    for _, head in to_right:
        for waiting in list(loose.ties):
            if waiting[1].step == head.step and _may_tie(waiting[1], head):
                waiting[1].tie_to, head.tie_from = head, waiting[1]
                loose.ties.remove(waiting)
                if waiting[0] in loose.slurs:
                    loose.slurs.remove(waiting[0])
                return True
    return False


def _slur(ink: StaffInk, arc: Arc, events: Sequence[Event], loose: Loose, onward: Loose) -> None:
    start = None if _comes_in(ink, arc, events, loose) else _at(ink, arc.left, events)
    stop = None if _leads_out(ink, arc, events) else _at(ink, arc.right, events)
    if start is not None and stop is not None and start is not stop:
        start.slur_starts += 1
        stop.slur_stops += 1
    elif start is not None and events and _leads_out(ink, arc, events):
        onward.slurs.append(start)
    elif stop is not None and arc.left[0] < min(event.x for event in events) and loose.slurs:
        loose.slurs.pop(0).slur_starts += 1
        stop.slur_stops += 1


def _at(ink: StaffInk, end: tuple[float, float], events: Sequence[Event]) -> Event | None:
    """The event at which a slur's end points."""
    space = ink.staff.space
    near = []
    for index, event in enumerate(events):
        if not event.heads:
            continue
        off = max(event.x - end[0], end[0] - event.right, 0.0)
        if event.stem is not None:
            off = min(off, abs(event.stem.x - end[0]))
        heights = [head.y for head in event.heads]
        if event.stem is not None:
            heights += [event.stem.tip]
        if min(heights) - _SLUR_Y * space < end[1] < max(heights) + _SLUR_Y * space:
            near.append((off, abs((event.x + event.right) / 2 - end[0]), index))
    best = min(near, default=None)
    return events[best[2]] if best is not None and best[0] < _SLUR_X * space else None


def _gliss(ink: StaffInk, slant: Slant, events: Sequence[Event]) -> None:
    """A straight line from a head towards the next one's height."""
    space = ink.staff.space
    sounding = [event for event in events if event.heads]
    for before, after in itertools.pairwise(sounding):
        first, second = before.heads[-1], after.heads[-1]
        leaves = -0.4 * space < slant.x0 - before.right < 1.6 * space
        arrives = -0.4 * space < after.x - slant.x1 < 2.2 * space
        heights = abs(slant.y0 - first.y) < 1.2 * space and abs(slant.y1 - second.y) < 1.2 * space
        if leaves and arrives and heights:
            before.gliss = True
