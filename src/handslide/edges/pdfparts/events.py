"""Chords and rests of the bars of a staff, in the order in which they stand."""

from collections.abc import Iterable, Sequence

from handslide.edges.pdfparts.found import Bar, Event, Head, Rest


def fill_bars(
    bars: Sequence[Bar], heads: Sequence[Head], rests: Sequence[Rest], space: float
) -> None:
    """Put the events of a staff into its bars."""
    events = _chords(heads, space)
    events += [Event(rest.x, rest.right, rest=rest) for rest in rests]
    for event in sorted(events, key=lambda event: (event.x, event.y)):
        bar = next((bar for bar in bars if bar.x0 - space < event.x < bar.x1), None)
        if bar is not None:
            bar.events.append(event)


def _chords(heads: Sequence[Head], space: float) -> list[Event]:
    """Heads on one stem, or without stem in one column, sound together."""
    groups: list[list[Head]] = []
    for head in sorted(heads, key=lambda head: (head.x, head.place)):
        for group in groups[-8:]:
            if _together(group, head, space):
                group.append(head)
                break
        else:
            groups.append([head])
    return [_event(group) for group in groups]


def _together(group: Sequence[Head], head: Head, space: float) -> bool:
    other = group[-1]
    if head.stem is not None or other.stem is not None:
        return head.stem is other.stem
    near = abs(head.x - other.x) < 0.3 * space
    second = abs(head.place - other.place) == 1 and abs(head.x - other.x) < 2.0 * space
    return (near or second) and head.kind == other.kind and head.small == other.small


def _event(group: Sequence[Head]) -> Event:
    heads = sorted(group, key=lambda head: head.place)
    x, right = min(head.x for head in heads), max(head.right for head in heads)
    return Event(x, right, heads)


def all_events(bars: Iterable[Bar]) -> list[Event]:
    """Those of all bars, in order."""
    return [event for bar in bars for event in bar.events]
