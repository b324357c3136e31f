"""Rhythms and articulations: a row of pitches becomes full bars.

A rhythm repeats its cell over the notes, from a barline on. The last note is long and fills its
bar; where it would come too late in a bar for that, the notes before it broaden to plain beats. A
note that goes over a barline is tied.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from handslide.drills.piece import DrillNote
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch

Meter = tuple[int, int]
Bar = tuple[DrillNote, ...]
METERS: tuple[Meter, ...] = ((4, 4), (3, 4), (2, 4), (6, 8))
_MOST_BROADENED = 6
_SHORT = Fraction(1)
# Rhythms that are about holding a note.
_HELD = ("halves", "long-short", "tied")


@dataclass(frozen=True, slots=True)
class Rhythm:
    """A pattern of note lengths. ``cells`` are in quarter notes, for each meter that it has."""

    name: str
    cells: Mapping[Meter, tuple[Fraction, ...]]

    def triple(self, meter: Meter) -> bool:
        """Whether its notes come in threes."""
        cell = self.cells[meter]
        return self.name == "triplets" or (meter == (6, 8) and set(cell) == {Fraction(1, 2)})

    def notes_per_beat(self, meter: Meter) -> float:
        """Notes to a quarter note on average."""
        cell = self.cells[meter]
        return float(len(cell) / sum(cell, Fraction(0)))


def _cells(**rows: str) -> dict[Meter, tuple[Fraction, ...]]:
    meters = {"m44": (4, 4), "m34": (3, 4), "m24": (2, 4), "m68": (6, 8)}
    return {meters[name]: tuple(map(Fraction, row.split())) for name, row in rows.items()}


RHYTHMS = {
    rhythm.name: rhythm
    for rhythm in (
        Rhythm("halves", _cells(m44="2")),
        Rhythm("quarters", _cells(m44="1", m34="1", m24="1", m68="3/2")),
        Rhythm("eighths", _cells(m44="1/2", m34="1/2", m24="1/2", m68="1/2")),
        Rhythm(
            "dotted",
            _cells(m44="3/2 1/2", m34="3/2 1/2 1", m24="3/2 1/2", m68="3/4 1/4 1/2 3/4 1/4 1/2"),
        ),
        Rhythm(
            "dotted-eighths",
            _cells(m44="3/4 1/4", m34="3/4 1/4", m24="3/4 1/4"),
        ),
        Rhythm(
            "eighth-sixteenths",
            _cells(m44="1/2 1/4 1/4", m34="1/2 1/4 1/4", m24="1/2 1/4 1/4", m68="1/2 1/2 1/4 1/4"),
        ),
        Rhythm("triplets", _cells(m44="1/3", m34="1/3", m24="1/3")),
        Rhythm(
            "syncopated",
            _cells(m44="1/2 1 1/2", m34="1/2 1 1/2 1", m24="1/2 1 1/2", m68="1/2 1"),
        ),
        Rhythm(
            "tied",
            _cells(
                m44="1 1 1 2 1 2",
                m34="1 1 2 1 1",
                m24="1/2 1/2 1/2 1 1/2 1",
                m68="1 1/2 1 1 1 1/2 1",
            ),
        ),
        Rhythm(
            "long-short",
            _cells(m44="3 1", m34="2 1", m68="1 1/2"),
        ),
        Rhythm("sixteenths", _cells(m44="1/4", m34="1/4", m24="1/4")),
    )
}
ARTICULATION_NAMES = (
    "tongued", "slur-2", "slur-3", "slur-4", "slur-2-tongue-2", "staccato", "legato",
)  # fmt: skip
_SLURRED = {
    "slur-2": (True, False),
    "slur-3": (True, True, False),
    "slur-4": (True, True, True, False),
    "slur-2-tongue-2": (True, False, False, False),
}


def rhythm_of(name: str) -> Rhythm:
    """A rhythm by its name. Raises BadUsage."""
    if name not in RHYTHMS:
        raise BadUsage("drills.no_rhythm", wish=name, known=tuple(RHYTHMS))
    return RHYTHMS[name]


def fits(articulation: str, rhythm: Rhythm, meter: Meter) -> bool:
    """Whether an articulation lies well on a rhythm: threes on threes, nothing short where a note
    is to be held."""
    if articulation == "slur-3":
        return rhythm.triple(meter)
    if articulation in _SLURRED:
        return not rhythm.triple(meter)
    if articulation != "staccato":
        return True
    return rhythm.name not in _HELD and min(rhythm.cells[meter]) <= Fraction(1, 2)


def bar_beats(meter: Meter) -> Fraction:
    """Quarter notes in a bar."""
    return Fraction(4 * meter[0], meter[1])


def beat_of(meter: Meter) -> Fraction:
    """Quarter notes in a beat: a dotted quarter in 6/8."""
    return Fraction(3, 2) if meter == (6, 8) else Fraction(1)


def lengths(count: int, rhythm: Rhythm, meter: Meter) -> tuple[Fraction, ...]:
    """Lengths in quarter notes for ``count`` notes from a barline to the end of a bar.

    The last one is long: two beats at least, in 6/8 one.
    """
    cell = rhythm.cells[meter]
    bar, beat = bar_beats(meter), beat_of(meter)
    long = beat if meter == (6, 8) else 2 * beat
    row = [cell[n % len(cell)] for n in range(count - 1)]
    for broadened in range(min(_MOST_BROADENED, count - 1) + 1):
        kept = row[: count - 1 - broadened]
        onset = sum(kept, Fraction(0))
        if onset % beat:
            continue
        for more in _broadened(onset, broadened, bar, beat):
            left = bar - (onset + sum(more, Fraction(0))) % bar
            if left >= long:
                return (*kept, *more, left)
    # Nothing came out even: the note before the last one is held to the barline.
    onset = sum(row, Fraction(0))
    if row:
        row[-1] += -onset % bar
    return (*row, bar)


def _broadened(
    onset: Fraction, count: int, bar: Fraction, beat: Fraction
) -> Iterator[tuple[Fraction, ...]]:
    """Ways to play ``count`` notes from ``onset`` on broadly, none of them over a barline.

    All a beat long, or all two beats, or the last of them held to the end of the bar.
    """
    yield (beat,) * count
    if not count:
        return
    if not bar % (2 * beat) and not onset % (2 * beat):
        yield (2 * beat,) * count
    held = bar - (onset + (count - 1) * beat) % bar
    if held <= 3 * beat:
        yield (*(beat,) * (count - 1), held)


def articulated(
    pitches: Sequence[Pitch], beats: Sequence[Fraction], articulation: str
) -> list[DrillNote]:
    """Notes with slurs, dots or lines. No slur goes over a repeated note or beyond the last one."""
    if articulation not in ARTICULATION_NAMES:
        raise BadUsage("drills.no_articulation", wish=articulation, known=ARTICULATION_NAMES)
    slurred = _SLURRED.get(articulation, (False,))
    notes = []
    for number, (pitch, length) in enumerate(zip(pitches, beats, strict=True)):
        following = pitches[number + 1] if number + 1 < len(pitches) else None
        leads = following is not None and following.midi != pitch.midi
        sign = ""
        if articulation == "legato":
            sign = "tenuto"
        elif articulation == "staccato" and length <= _SHORT and following is not None:
            sign = "staccato"
        slur = leads and slurred[number % len(slurred)]
        notes.append(DrillNote(pitch, length, slur=slur, articulation=sign))
    return notes


def in_bars(notes: Iterable[DrillNote], meter: Meter) -> tuple[Bar, ...]:
    """Notes cut into bars, tied over the barlines; the last bar is filled with a rest.

    A tied note isn't short, and the note tied to has no sign of its own.
    """
    whole = bar_beats(meter)
    bars: list[Bar] = []
    now: list[DrillNote] = []
    room = whole
    for note in notes:
        while note.beats > room:
            first = replace(note, beats=room)
            if note.pitch is not None:
                short = note.articulation == "staccato"
                sign = "" if short else note.articulation
                first = replace(first, tie=True, slur=False, gliss=False, articulation=sign)
            first = replace(first, breath=False, fermata=False)
            if note.swell == "<>":
                first, note = replace(first, swell="<"), replace(note, swell=">")
            bars.append((*now, first))
            note = replace(note, beats=note.beats - room, articulation="", remark=None)
            note = replace(note, dynamic="")
            now, room = [], whole
        now.append(note)
        room -= note.beats
        if not room:
            bars.append(tuple(now))
            now, room = [], whole
    if now:
        bars.append((*now, DrillNote(None, room)))
    return tuple(bars)


def same_bar(one: Bar, other: Bar) -> bool:
    """Whether two bars sound the same: pitches and lengths, whatever the articulation.

    Bars of rests are never the same as anything.
    """
    if all(note.pitch is None for note in one):
        return False
    return _sound(one) == _sound(other)


def repeated_bars(bars: Sequence[Bar]) -> tuple[int, ...]:
    """The numbers (from 0) of all bars that are the same as the bar before."""
    return tuple(n for n in range(1, len(bars)) if same_bar(bars[n - 1], bars[n]))


def _sound(bar: Bar) -> list[tuple[int | None, Fraction, bool]]:
    return [(None if n.pitch is None else n.pitch.midi, n.beats, n.tie) for n in bar]
