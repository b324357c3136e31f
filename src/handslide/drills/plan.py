"""A plan over weeks: one key a week, each day in another articulation; what was weak comes back.

Order of the keys. First years: from the horn's own key to its neighbours, flats before sharps
(common practice of first books). Later: round the circle of fifths from the horn's own key
towards the flats, then the keys on its other side; after the major keys the minor ones.

What was weak comes back as `handslide.instrument.progress.comeback` has it.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from handslide.drills.keys import fifths_of, kind_of, tonic_of, tonics_within
from handslide.drills.levels import ADVANCED, FIRST_YEAR, Level
from handslide.drills.placed import Player
from handslide.drills.ranges import limited, range_of
from handslide.drills.routine import DAYS, articulations_of
from handslide.drills.running import degree
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.instrument.progress.comeback import GAPS_DAYS

MOST_WEEKS = 52
_CIRCLE = 12
_LEAST_NOTES = 4
_NEAR = (1, 4, 5, 7, 8)
_MINOR = {"second-year": "harmonic-minor", ADVANCED: "melodic-minor"}


@dataclass(frozen=True, slots=True)
class WeekKey:
    """The key of a week: a scale and its tonic (whose octave doesn't matter)."""

    scale: str
    tonic: Pitch

    @property
    def name(self) -> str:
        """The tonic as it is typed: ``Bb``."""
        return self.tonic.name.rstrip("0123456789")


def week_keys(player: Player, level: Level) -> tuple[WeekKey, ...]:
    """The keys of a level in the order of the weeks.

    Those whose scale lies within reach for an octave, for first years for five notes; where none
    does, for five notes; else those with tonic, fourth, fifth, leading note and octave, on which
    the tunes on near notes are; else those that leave most notes.

    Raises
    ------
    BadUsage
        When no key has four notes within these limits.
    """
    home = fifths_of(parse_pitch(f"{player.horn.closed_name(())}4"))
    found = _in_order("major", level, home)
    if level.name in _MINOR:
        found += _in_order(_MINOR[level.name], level, home)
    low, high = range_of(limited(player.book, level), level)
    here = {m for m in range(low, high + 1) if limited(player.book, level).places(m)}
    octave = () if level.name == FIRST_YEAR else (range(1, 9),)
    for numbers in (*octave, range(1, 6), _NEAR):
        kept = tuple(key for key in found if _has(key, numbers, here))
        if kept:
            return kept
    counts = [_count(key, here) for key in found]
    most = max(counts)
    if most < _LEAST_NOTES:
        raise BadUsage("drills.no_note_at_level", horn=player.horn.called)
    return tuple(key for key, count in zip(found, counts) if count == most)


def _in_order(scale: str, level: Level, home: int) -> list[WeekKey]:
    mode = kind_of(scale).name_mode
    flats, sharps = level.flats, level.sharps
    tonics = tonics_within(scale, flats, sharps)
    signs = [fifths_of(tonic, mode) for tonic in tonics]
    if level.name == FIRST_YEAR:
        signs.sort(key=lambda fifths: (abs(fifths - home), fifths))
    elif len(signs) == _CIRCLE:
        signs.sort(key=lambda fifths: (home - fifths) % _CIRCLE)
    else:
        signs.sort(key=lambda fifths: (fifths > home, abs(fifths - home)))
    return [WeekKey(scale, tonic_of(fifths, mode)) for fifths in signs]


def _has(key: WeekKey, numbers: Iterable[int], here: Collection[int]) -> bool:
    """Whether all these degrees of a key can be played in some octave."""
    for octave in range(-1, 8):
        shift = octave - key.tonic.octave
        root = key.tonic.transposed(7 * shift, 12 * shift)
        if all(degree(key.scale, root, number).midi in here for number in numbers):
            return True
    return False


def _count(key: WeekKey, here: Iterable[int]) -> int:
    """How many notes of a key can be played."""
    classes = {degree(key.scale, key.tonic, number).midi % 12 for number in range(1, 8)}
    return sum(midi % 12 in classes for midi in here)


@dataclass(frozen=True, slots=True)
class Weak:
    """A kind of drill that is weak, and on which day of the plan (0: the first; negative: before)
    it was found."""

    kind: str
    day: int = 0


@dataclass(frozen=True, slots=True)
class Week:
    """A week of a plan, counted from 0: its key, its days' articulations, and what comes back on
    which of its days (0 to 6)."""

    number: int
    key: WeekKey
    articulations: tuple[str, ...]
    again: tuple[tuple[str, tuple[int, ...]], ...] = ()

    def again_on(self, day: int) -> tuple[str, ...]:
        """What comes back on a day."""
        return tuple(kind for kind, days in self.again if day in days)


def make_weeks(
    player: Player, level: Level, count: int, weak: Sequence[Weak] = ()
) -> tuple[Week, ...]:
    """The weeks of a plan; after the last key they begin with the first one again.

    Raises
    ------
    BadUsage
        Too many weeks, or no key within the limits.
    """
    if not 1 <= count <= MOST_WEEKS:
        raise BadUsage("routine.weeks", weeks=count, most=MOST_WEEKS)
    keys = week_keys(player, level)
    ways = articulations_of(level)
    found = []
    for number in range(count):
        begins = number * DAYS
        again = []
        for kind in dict.fromkeys(one.kind for one in weak):
            due = {one.day + gap for one in weak if one.kind == kind for gap in GAPS_DAYS}
            days = tuple(day for day in range(DAYS) if begins + day in due)
            if days:
                again.append((kind, days))
        found.append(Week(number, keys[number % len(keys)], ways, tuple(again)))
    return tuple(found)
