"""A ladder to a hard spot: its notes in other rhythms, one more each time, and from the end.

Such ways of practising are common among teachers. Each step ends on a note that is held; what is
short takes one bar, so that a ladder is a few lines.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil

from handslide.drills.piece import DrillNote, Key, Piece
from handslide.drills.placed import EIGHTH, QUARTER, rest
from handslide.ground.facts import Fact, fact

# A ladder has so many notes: without the last one they are pairs and threes.
SIZES = (7, 5, 3)
MOST_LADDERS = 6
_LEAST = 3
_COMMON, _SHORT = (4, 4), (2, 4)
_MOST_BARS = 12
# Lengths of all notes but the last, by how many notes there are; the last one fills the bar.
_PAIRS = ("3/4 1/4", "1/4 3/4")
_RHYTHMS = {
    7: (*_PAIRS, "1/2 1/4 1/4", "1/4 1/4 1/2"),
    5: (*_PAIRS, "1 1 1/2 1/2", "1/2 1/2 1 1"),
    3: _PAIRS,
}
Bar = tuple[DrillNote, ...]


def ladder_of(
    notes: Sequence[DrillNote], key: Key, tempo_qpm: float, measures: Fact, clef: str | None
) -> tuple[Piece, ...]:
    """The steps to a spot of as many notes as one of SIZES, each with its place and its own length.

    ``measures`` says where the spot is.
    """
    rows = (
        ("rhythms", _COMMON, _in_rhythms(notes)),
        ("more", _COMMON, _one_more(notes)),
        ("end", _SHORT, _from_the_end(notes)),
    )
    return tuple(
        Piece(
            fact("practice.ladder", step=step, measures=measures),
            (fact("practice.how_to_ladder", step=step),),
            key,
            meter,
            tempo_qpm,
            bars,
            clef,
        )
        for step, meter, bars in rows
    )


def _in_rhythms(notes: Sequence[DrillNote]) -> tuple[Bar, ...]:
    bars = []
    for text in _RHYTHMS[len(notes)]:
        cell = [Fraction(length) for length in text.split()]
        lengths = [cell[k % len(cell)] for k in range(len(notes) - 1)]
        bars.append(_held(notes, lengths, Fraction(4)))
    return tuple(bars)


def _one_more(notes: Sequence[DrillNote]) -> tuple[Bar, ...]:
    """The first three notes in eighths, then the first four, to the whole."""
    bars = []
    for count in range(_LEAST, len(notes) + 1):
        lengths = [EIGHTH] * (count - 1)
        free = 4 - sum(lengths) - 1
        pause = [rest(QUARTER)] if free >= 1 else []
        bars.append((*_held(notes[:count], lengths, Fraction(4 - len(pause))), *pause))
    return tuple(bars)


def _from_the_end(notes: Sequence[DrillNote]) -> tuple[Bar, ...]:
    """The last three notes as they are written, then the last four, to the whole; the last note
    of each falls on a beat."""
    counts = list(range(_LEAST, len(notes) + 1))
    rows = [_packed(_arriving(notes[-count:])) for count in counts]
    if sum(map(len, rows)) > _MOST_BARS:
        rows = [rows[0], rows[-1]] if len(rows) > 1 else rows
    return tuple(bar for row in rows for bar in row)


def _arriving(notes: Sequence[DrillNote]) -> list[DrillNote]:
    before = sum((note.beats for note in notes[:-1]), Fraction(0))
    beat = Fraction(ceil(before))
    whole = Fraction(2 * ceil((beat + 1) / 2))
    lead = [rest(beat - before)] if beat > before else []
    return [*lead, *notes[:-1], _last(notes[-1], whole - beat)]


def _held(notes: Sequence[DrillNote], lengths: Sequence[Fraction], whole: Fraction) -> Bar:
    rows = [replace(note, beats=length) for note, length in zip(notes, lengths)]
    return (*rows, _last(notes[-1], whole - sum(lengths)))


def _last(note: DrillNote, beats: Fraction) -> DrillNote:
    return replace(note, beats=beats, slur=False, breath=True)


def _packed(notes: Iterable[DrillNote]) -> list[Bar]:
    """Notes in bars of two quarters; what goes over a barline is tied."""
    bars: list[list[DrillNote]] = [[]]
    room = Fraction(2)
    for note in notes:
        left = note.beats
        while left:
            if not room:
                bars.append([])
                room = Fraction(2)
            length = min(left, room)
            left, room = left - length, room - length
            leads = bool(left) and note.pitch is not None
            bars[-1].append(
                replace(
                    note,
                    beats=length,
                    tie=leads,
                    slur=note.slur and not leads,
                    breath=note.breath and not left,
                )
            )
    return [tuple(bar) for bar in bars]
