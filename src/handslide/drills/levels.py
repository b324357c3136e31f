"""First year, second year, advanced: what a drill may ask of a student.

Common practice, stated by the partials of the horn that is played, so that an alto and a
contrabass get ranges of their own. On a tenor: first year F2 to D4, second year E2 to F4, advanced
to C5 and down to the pedals where valves lead there. Keys after the usual order of brass methods:
flats first.

A level lowers what a student can use and never raises it. What a teacher asks for by name (a key,
a rhythm, a range) goes beyond the level; the horn, the student's reach and the valves that the
student has learned stay.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import lru_cache

from handslide.ground.errors import BadUsage
from handslide.ground.units import cents
from handslide.instrument.horn import Horn
from handslide.instrument.places import Limits, PlaceBook

# Semitones of the partials above the first, from the 1st; the 7th and 11th to the nearest note.
_ABOVE = (0, 12, 19, 24, 28, 31, 34, 36, 38, 40, 42, 43)
_PEDAL_SEMITONES = 17
_SLOWEST_BPM = 40.0


@dataclass(frozen=True, slots=True)
class Level:
    """The limits of a level.

    ``below`` and ``top_partial``: the range goes from so many semitones below the 2nd partial of
    the closed horn up to that partial, ``below_valve`` with the valve register asked for.
    ``flats`` and ``sharps``: signs of a key at most. ``notes_per_s``: how many notes a second in
    the quick parts of a rhythm; ``tempo_qpm`` quarter notes a minute at most. ``reach`` is a
    position. ``valves``: whether lowering valves are used though nobody named them as learned.
    ``alternate``: points of effort at least for a step away from a note's plain places, so that
    scales stay in the places of a first chart.
    """

    name: str
    title: str
    words: str
    below: int
    below_valve: int
    top_partial: int
    flats: int
    sharps: int
    rhythms: tuple[str, ...]
    articulations: tuple[str, ...]
    meters: tuple[tuple[int, int], ...]
    tempo_qpm: float
    notes_per_s: float
    reach: float | None
    valves: bool
    alternate: float

    def allows_key(self, fifths: int) -> bool:
        """Whether a signature of ``fifths`` sharps (negative: flats) is within the level."""
        return -self.flats <= fifths <= self.sharps

    def tempo_for(self, notes_per_beat: float, beat: float = 1.0) -> float:
        """A tempo in quarter notes a minute, for so many notes a quarter note on average.

        ``beat`` is what the metronome counts, in quarter notes: it gets a multiple of 4.
        """
        most = min(self.tempo_qpm, 60.0 * self.notes_per_s / notes_per_beat)
        return beat * max(_SLOWEST_BPM, 4.0 * int(most / beat / 4.0))


LEVELS = {
    level.name: level
    for level in (
        Level(
            name="first-year",
            title="first year",
            words="an octave and a sixth about the middle, up to 3 flats, quarters and eighths, "
            "no further than 6th position",
            below=5,
            below_valve=10,
            top_partial=5,
            flats=3,
            sharps=0,
            rhythms=("quarters", "halves", "long-short", "eighths"),
            articulations=("tongued", "legato", "slur-2"),
            meters=((4, 4), (3, 4), (2, 4)),
            tempo_qpm=72.0,
            notes_per_s=2.0,
            reach=6.0,
            valves=False,
            alternate=6.0,
        ),
        Level(
            name="second-year",
            title="second year",
            words="two octaves, up to 4 flats and 2 sharps, dotted rhythms and triplets, "
            "all seven positions",
            below=6,
            below_valve=10,
            top_partial=6,
            flats=4,
            sharps=2,
            rhythms=("quarters", "eighths", "long-short", "dotted", "triplets"),
            articulations=(
                "tongued", "legato", "staccato", "slur-2", "slur-3", "slur-4", "slur-2-tongue-2",
            ),
            meters=((4, 4), (3, 4), (2, 4), (6, 8)),
            tempo_qpm=88.0,
            notes_per_s=3.2,
            reach=7.0,
            valves=True,
            alternate=3.0,
        ),
        Level(
            name="advanced",
            title="advanced",
            words="the whole range up to the 9th partial, all keys and rhythms",
            below=_PEDAL_SEMITONES,
            below_valve=_PEDAL_SEMITONES,
            top_partial=9,
            flats=6,
            sharps=6,
            rhythms=(
                "eighths", "dotted", "dotted-eighths", "eighth-sixteenths", "triplets",
                "syncopated", "tied", "long-short", "sixteenths",
            ),
            articulations=(
                "tongued", "legato", "staccato", "slur-2", "slur-3", "slur-4", "slur-2-tongue-2",
            ),
            meters=((4, 4), (3, 4), (2, 4), (6, 8)),
            tempo_qpm=104.0,
            notes_per_s=5.0,
            reach=None,
            valves=True,
            alternate=0.0,
        ),
    )
}  # fmt: skip
DEFAULT_LEVEL = "second-year"


def level_of(name: str) -> Level:
    """A level by its name or title. Raises BadUsage."""
    key = "-".join(name.lower().replace("-", " ").split())
    if key not in LEVELS:
        raise BadUsage(f"there is no level called {name!r}: choose one of {', '.join(LEVELS)}")
    return LEVELS[key]


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


def partial_midi(horn: Horn, partial: int) -> int:
    """MIDI note of a partial (1 to 12) of the closed, open horn, to the nearest semitone."""
    first_hz = horn.speed_m_s / (2.0 * horn.length_m)
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
        raise BadUsage(
            f"{book.horn.title} has no note for a student of {level.title} within this reach"
        )
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
