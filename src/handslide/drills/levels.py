"""First year, second year, advanced: what a drill may ask of a student.

Common practice, stated by the partials of the horn that is played, so that an alto and a
contrabass get ranges of their own. On a tenor: first year F2 to D4, second year E2 to F4, advanced
to C5 and down to the pedals where valves lead there. Keys after the usual order of brass methods:
flats first.

A level lowers what a student can use and never raises it. What a teacher asks for by name (a key,
a rhythm, a range) goes beyond the level; the horn, the student's reach and the valves that the
student has learned stay.
"""

from dataclasses import dataclass

from handslide.ground.errors import BadUsage

FIRST_YEAR, ADVANCED = "first-year", "advanced"
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
    """A level by its name, with blanks or dashes in it. Raises BadUsage."""
    key = "-".join(name.lower().replace("-", " ").split())
    if key not in LEVELS:
        raise BadUsage("drills.no_level", wish=name, known=tuple(LEVELS))
    return LEVELS[key]
