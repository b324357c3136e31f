"""When the events of a bar begin: by their lengths, in one voice or two.

Times are quarters from the beginning of the bar. Where what is printed leaves a choice (small notes
of grace or cue, a number that may be a fingering, two voices), the reading whose sum is what the
time signature asks is taken.
"""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from handslide.edges.pdfparts.found import Bar, Event, TupletGroup

_EVIDENT = 2.0
"""Cost below which a group of a tuplet has a bracket or a beam."""
_COLUMN = 0.95
"""Spaces between the left edges of what sounds together, at most."""


def time_bar(bar: Bar, asked: Fraction | None, middle_y: float, space: float) -> Fraction:
    """Set onsets, lengths and voices of a bar's events; gives the quarters that they fill.

    ``asked`` is the length of a bar in the meter, None where there is none.
    """
    if not bar.events:
        return Fraction(0)
    ways = _ways_of_small_notes(bar.events, space)
    for tuplets in _ways_of_tuplets(bar, asked):
        for small in ways:
            _number(bar.events, tuplets)
            filled = _lay(bar, asked, small, middle_y, space)
            if asked is None or filled == asked:
                return filled
    # A sum that is wrong in every reading is told with the likeliest one.
    _number(bar.events, _evident(bar))
    return _lay(bar, asked, ways[0], middle_y, space)


def _number(events: Sequence[Event], tuplets: Iterable[TupletGroup]) -> None:
    for event in events:
        event.actual = event.normal = 1
    for group in tuplets:
        for event in group.events:
            event.actual, event.normal = group.actual, group.normal


def _evident(bar: Bar) -> list[TupletGroup]:
    """Groups with a bracket or a beam of their own."""
    found: list[TupletGroup] = []
    for group in sorted(bar.tuplets, key=lambda group: group.cost):
        if group.cost < _EVIDENT and _is_free(group, found):
            found.append(group)
    return found


def _is_free(group: TupletGroup, taken: Iterable[TupletGroup]) -> bool:
    return not any(event in other.events for other in taken for event in group.events)


def _ways_of_tuplets(bar: Bar, asked: Fraction | None) -> Iterator[list[TupletGroup]]:
    """Which of the numbers over a bar may be tuplets, the likeliest first: none where it is full
    without them; those that make it full; those with brackets and beams; such as none shows."""
    timed = [event for event in bar.events if not (event.small and event.heads)]
    over = sum((event.nominal for event in timed), Fraction(0)) - (asked or Fraction(0))
    if asked is not None:
        yield from [[]] if over == 0 else _that_shorten(bar, over)
    yield _evident(bar)
    yield []
    yield _implied(bar.events)


def _that_shorten(bar: Bar, over: Fraction) -> list[list[TupletGroup]]:
    """The likeliest groups that together take away just ``over``."""
    best: dict[Fraction, tuple[float, list[TupletGroup]]] = {Fraction(0): (0.0, [])}
    for group in bar.tuplets:
        for already, (cost, chosen) in list(best.items()):
            total = already + group.shortens
            if _is_free(group, chosen) and total <= over:
                known = best.get(total)
                if known is None or cost + group.cost < known[0]:
                    best[total] = cost + group.cost, [*chosen, group]
    found = best.get(over)
    return [found[1]] if found is not None else []


def _implied(events: Sequence[Event]) -> list[TupletGroup]:
    """Beamed groups of three or six are triplets, as in bars after one with numbers."""
    return [
        TupletGroup(tuple(group), 3, 2, 0.0)
        for group in beamed_groups(events)
        if len(group) in (3, 6) and len({event.nominal for event in group}) == 1
    ]


def _ways_of_small_notes(events: Sequence[Event], space: float) -> tuple[str, ...]:
    """As what small notes may be read, the likeliest first: ``grace``, as cue notes in the line
    (``cue``), or beside it (``apart``)."""
    small = [event for event in events if event.small and event.heads]
    if not small:
        return ("grace",)
    if not any(event.heads and not event.small for event in events):
        return ("apart", "cue", "grace")
    if any(event.value <= 2 or not _leads_on(event, events, space) for event in small):
        return ("apart", "cue", "grace")
    return ("grace", "cue", "apart")


def _leads_on(event: Event, events: Sequence[Event], space: float) -> bool:
    """Whether a head stands close after it, as after a grace note."""
    after = [other for other in events if other.x > event.x]
    if not after:
        return True  # to the first note of the next bar
    following = min(after, key=lambda other: other.x)
    return bool(following.heads) and following.x - event.right < 5 * space


def beamed_groups(events: Sequence[Event]) -> list[list[Event]]:
    """Neighbouring events that a beam joins."""
    groups: list[list[Event]] = []
    for event in events:
        stem = event.stem
        if stem is None or not stem.slabs or event.small:
            continue
        last = groups[-1][-1].stem if groups else None
        if last is not None and any(slab in last.slabs for slab in stem.slabs):
            groups[-1].append(event)
        else:
            groups.append([event])
    return groups


def _lay(bar: Bar, asked: Fraction | None, small: str, middle_y: float, space: float) -> Fraction:
    for event in bar.events:
        event.grace = event.small and event.rest is None and small == "grace"
        event.cue = event.small and not event.grace
        event.whole_bar = False
        event.voice = 1
        event.length = Fraction(0)
        if not event.grace:
            event.length = event.nominal * event.normal / event.actual
    timed = [event for event in bar.events if not event.grace]
    if small == "apart":
        filled = _lay_apart(timed, asked, middle_y, space)
    else:
        filled = _lay_line(timed, asked, middle_y, space)
    _place_graces(bar.events, filled)
    return filled


def _lay_apart(
    timed: Sequence[Event], asked: Fraction | None, middle_y: float, space: float
) -> Fraction:
    """The cue notes as a voice of their own, beside what is played."""
    cues = [event for event in timed if event.cue]
    own = [event for event in timed if not event.cue]
    shown = _lay_line(cues, asked, middle_y, space)
    for event in cues:
        event.voice += 2
    filled = _lay_line(own, asked, middle_y, space)
    return max(shown, filled)


def _lay_line(
    timed: Sequence[Event], asked: Fraction | None, middle_y: float, space: float
) -> Fraction:
    if _is_whole_rest(timed):
        timed[0].whole_bar = True
        timed[0].length = asked if asked is not None else Fraction(4)
    silent = [event for event in timed if event.rest is not None and event.rest.value == 1]
    played = [event for event in timed if event not in silent]
    if silent and played and sum(event.length for event in played) == asked:
        for event in silent:
            event.whole_bar, event.voice = True, 2
        return _lay_one(played)
    single = sum((event.length for event in timed), Fraction(0))
    if _has_two_voices(timed, single, asked, space):
        return _lay_two(timed, asked, middle_y, space)
    return _lay_one(timed)


def _is_whole_rest(timed: Sequence[Event]) -> bool:
    return len(timed) == 1 and timed[0].rest is not None and timed[0].rest.value <= 1


def _lay_one(timed: Sequence[Event]) -> Fraction:
    now = Fraction(0)
    for event in timed:
        event.onset = now
        now += event.length
    return now


def _has_two_voices(
    timed: Sequence[Event], single: Fraction, asked: Fraction | None, space: float
) -> bool:
    """Stems to both sides in one column; or too much for one voice, and stems to both sides."""
    if asked is not None and single == asked:
        return False
    columns = _columns(timed, space)
    if any(len(column) > 1 for column in columns):
        return True
    return asked is not None and single > asked and {True, False} <= {e.up for e in timed}


def _columns(timed: Sequence[Event], space: float) -> list[list[Event]]:
    columns: list[list[Event]] = []
    for event in sorted(timed, key=lambda event: event.x):
        if columns and event.x - columns[-1][0].x < _COLUMN * space:
            columns[-1].append(event)
        else:
            columns.append([event])
    return columns


def _lay_two(
    timed: Sequence[Event], asked: Fraction | None, middle_y: float, space: float
) -> Fraction:
    columns = _columns(timed, space)
    for column in columns:
        _share_voices(column, middle_y)
    busy = {1: Fraction(0), 2: Fraction(0)}
    before: Fraction | None = None
    for column in columns:
        onset = _column_onset(column, busy, before)
        for event in column:
            if _is_silent_bar(event, timed):
                event.whole_bar = True
                event.onset, event.length = Fraction(0), asked if asked is not None else Fraction(4)
            else:
                event.onset = onset
            busy[event.voice] = event.onset + event.length
        if not all(event.whole_bar for event in column):
            before = onset
    return max(busy.values())


def _is_silent_bar(event: Event, timed: Sequence[Event]) -> bool:
    alone = not any(other is not event and other.voice == event.voice for other in timed)
    return alone and event.rest is not None and event.rest.value == 1


def _share_voices(column: Sequence[Event], middle_y: float) -> None:
    """The upper voice has its stems up; without stems the higher one is the upper voice."""
    for event in column:
        if event.up is not None:
            event.voice = 1 if event.up else 2
        else:
            event.voice = 1 if event.y >= middle_y else 2
    if len(column) == 2 and column[0].voice == column[1].voice:
        ordered = sorted(column, key=lambda event: -event.y)
        free = [event for event in ordered if event.up is None]
        if len(free) == 2:
            ordered[0].voice, ordered[1].voice = 1, 2
        elif free:
            other = next(event for event in column if event is not free[0])
            free[0].voice = 3 - other.voice


def _column_onset(
    column: Sequence[Event], busy: dict[int, Fraction], before: Fraction | None
) -> Fraction:
    """Its voices begin together; a voice that was silent begins when the other goes on."""
    onset = max(busy[event.voice] for event in column)
    if before is not None and onset <= before:
        onset = max(onset, *busy.values())
        later = [end for end in busy.values() if end > before]
        onset = min(later) if later else onset
    return onset


def _place_graces(events: Sequence[Event], filled: Fraction) -> None:
    """A grace note begins with the note that it leads to."""
    coming = filled
    for event in sorted(events, key=lambda event: -event.x):
        if event.grace:
            event.onset = coming
        else:
            coming = event.onset
