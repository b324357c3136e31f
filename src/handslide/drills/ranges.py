"""What a level leaves of a horn: its places, the ends of its range, the valve register."""

from collections.abc import Collection
from dataclasses import replace
from functools import lru_cache

from handslide.drills.levels import Level
from handslide.ground.errors import BadUsage
from handslide.ground.units import cents
from handslide.instrument.horn import Horn
from handslide.instrument.places import Limits, PlaceBook

# Semitones of the partials above the first, from the 1st; the 7th and 11th to the nearest note.
_ABOVE = (0, 12, 19, 24, 28, 31, 34, 36, 38, 40, 42, 43)


def limited(book: PlaceBook, level: Level, valve_register: bool = False) -> PlaceBook:
    """The places of ``book`` that a level leaves.

    The level's reach holds where it is shorter than the student's. Where nobody has said which
    valves the student has learned, a level without valves takes those out that lower the horn,
    unless the ``valve_register`` is asked for; a valve that raises it (a child's horn in B flat and
    C) is there for first years.
    """
    limits = book.limits
    reach = limits.reach
    if level.reach is not None:
        reach = level.reach if reach is None else min(reach, level.reach)
    learned = limits.learned
    if learned is None and not level.valves and not valve_register:
        learned = frozenset(valve.name for valve in book.horn.valves if valve.loop_m < 0)
    if (reach, learned) == (limits.reach, limits.learned):
        return book
    return _book_of(book.horn, replace(limits, reach=reach, learned=learned))


@lru_cache(maxsize=32)
def _book_of(horn: Horn, limits: Limits) -> PlaceBook:
    return PlaceBook(horn, limits)


def partial_midi(horn: Horn, partial: int, valves: tuple[str, ...] = ()) -> int:
    """MIDI note of a partial (1 to 12) of the closed horn, to the nearest semitone."""
    first_hz = horn.speed_m_s / (2.0 * (horn.length_m + horn.loops_m(valves)))
    return round(69 + cents(first_hz / horn.a4_hz) / 100.0) + _ABOVE[partial - 1]


def range_of(book: PlaceBook, level: Level, valve_register: bool = False) -> tuple[int, int]:
    """Lowest and highest MIDI note of a level on a horn, both with a place in ``book``.

    Between them notes may be missing: below the 2nd partial, or within a short reach.

    Raises
    ------
    BadUsage
        When no note at all is left.
    """
    second = partial_midi(book.horn, 2)
    low = second - (level.below_valve if valve_register else level.below)
    high = partial_midi(book.horn, level.top_partial)
    notes = [midi for midi in range(low, high + 1) if book.places(midi)]
    if not notes:
        raise BadUsage("drills.no_note_at_level", horn=book.horn.called)
    return notes[0], notes[-1]


def valve_notes(book: PlaceBook, midis: Collection[int]) -> tuple[int, ...]:
    """The valve register among MIDI notes, rising: what only a valve gives.

    These are the notes all of whose places have a valve, one of them at least above the pedals,
    below the lowest note of the open horn's 2nd partial; on a horn that has none such (a valve that
    raises it), any that need a valve.
    """
    need = [
        midi
        for midi in sorted(midis)
        if (places := book.places(midi))
        and all(place.valves for place in places)
        and any(place.partial > 1 for place in places)
    ]
    is_open = [
        midi
        for midi in range(partial_midi(book.horn, 2), partial_midi(book.horn, 1), -1)
        if any(not place.valves and place.partial == 2 for place in book.places(midi))
    ]
    lowest = min(is_open, default=partial_midi(book.horn, 2))
    return tuple(midi for midi in need if midi < lowest) or tuple(need)
