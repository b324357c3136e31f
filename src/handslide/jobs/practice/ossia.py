"""Ossias: what a student can play instead of notes that can't be played.

The figure an octave higher or lower where all of it can be played there and joins on to what is
around it; else the nearest note of the bar's own harmony for each. Both are common practice, and a
suggestion: the teacher decides.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from handslide.drills.ranges import partial_midi
from handslide.edges.musicxml.cut import cut_measures
from handslide.edges.musicxml.read import read_score
from handslide.edges.musicxml.scorepart import ScoreNote
from handslide.edges.musicxml.transpose import transpose_part
from handslide.ground.errors import HandslideError
from handslide.ground.facts import Fact, fact
from handslide.ground.intervals import Interval
from handslide.ground.pitch import Pitch
from handslide.instrument.places import Place
from handslide.jobs.mark.excerpts import Spot
from handslide.jobs.mark.mark import MarkedPart, choose_for
from handslide.jobs.practice.ladders import following

MOST_OSSIAS = 4
_STAY = Interval(0, 0)
# A figure joins on to its neighbours by no more than an octave.
_WIDEST_JOINT = 12
# Thirds, fourths, fifths, sixths: notes that sound with another in a chord.
_CHORDAL = frozenset((3, 4, 5, 7, 8, 9))
_FURTHEST = 12
# Up to this partial a note is offered though the part has none as high.
_SURE_PARTIAL = 4


@dataclass(frozen=True, slots=True, eq=False)
class Ossia:
    """Measures ``first`` to ``last`` (from 0) as they can be played.

    ``changed`` are (note as it was, note instead) as they sound, ``told`` says it. ``marked`` holds
    these measures alone.
    """

    first: int
    last: int
    changed: tuple[tuple[Pitch, Pitch], ...]
    told: Fact
    marked: MarkedPart

    @property
    def marks(self) -> dict[int, str]:
        """What stands over its notes, as with an excerpt."""
        ordinals = self.marked.part.ordinals
        return {ordinals[number]: text for number, text in self.marked.shown.items()}

    @property
    def places(self) -> frozenset[Place]:
        """All places in use."""
        return frozenset(self.marked.routed.places.values())


def ossia_of(marked: MarkedPart, first: int, last: int) -> Ossia | None:
    """What can be played instead in these measures; None where all of it can be, or nothing helps.

    It takes the measures from the first to the last note that can't be played.
    """
    part = marked.part
    bad = [
        note
        for note in part.notes
        if first <= note.measure_index <= last and note.index not in marked.routed.places
    ]
    if not bad:
        return None
    moves = _moves_of(marked, bad)
    if not all(note.index in moves for note in bad):
        return None
    return _written(marked, bad[0].measure_index, bad[-1].measure_index, moves)


def _moves_of(marked: MarkedPart, bad: Sequence[ScoreNote]) -> dict[int, Interval]:
    """What each note moves by; one for which there is nothing is left out."""
    moves: dict[int, Interval] = {}
    for note in bad:
        if note.index in moves:
            continue
        figure = _figure(marked, note)
        octave = _octave_for(marked, figure)
        if octave is not None:
            moves |= dict.fromkeys((one.index for one in figure), octave)
            continue
        other = _of_harmony(marked, note)
        if other is not None:
            moves[note.index] = _between(note.sounding, other)
    return moves


def _figure(marked: MarkedPart, note: ScoreNote) -> list[ScoreNote]:
    """The notes of its measure that follow each other without a rest, this one among them."""
    notes, follows = marked.part.notes, following(marked)
    begin = end = note.index
    while begin and notes[begin - 1].measure_index == note.measure_index and follows(begin - 1):
        begin -= 1
    while (
        end + 1 < len(notes) and notes[end + 1].measure_index == note.measure_index and follows(end)
    ):
        end += 1
    return list(notes[begin : end + 1])


def _octave_for(marked: MarkedPart, figure: Sequence[ScoreNote]) -> Interval | None:
    """The octave by which a figure can be moved; up or down, whichever joins better."""
    notes = marked.part.notes
    around = [
        (own.sounding.midi, notes[n].sounding.midi)
        for own, n in ((figure[0], figure[0].index - 1), (figure[-1], figure[-1].index + 1))
        if 0 <= n < len(notes) and n in marked.routed.places
    ]
    options = []
    for count in (1, -1):
        fits = all(_easy(marked, one.sounding.midi + 12 * count) for one in figure)
        widest = max((abs(own + 12 * count - other) for own, other in around), default=0)
        if fits and widest <= _WIDEST_JOINT:
            options.append((widest, count))
    if not options:
        return None
    _, count = min(options)
    return Interval(7 * count, 12 * count)


def _easy(marked: MarkedPart, midi: int) -> bool:
    """Whether a note can be played, is no pedal, and no higher than what the part asks for."""
    setup, notes = marked.routed.setup, marked.part.notes
    top = max((notes[n].sounding.midi for n in marked.routed.places), default=0)
    top = max(top, partial_midi(setup.horn, _SURE_PARTIAL))
    return midi <= top and any(place.partial > 1 for place in setup.book.places(midi))


def _of_harmony(marked: MarkedPart, note: ScoreNote) -> Pitch | None:
    """The nearest playable note of the chord that the measure's notes make with this one."""
    notes = marked.part.notes
    here = [one for one in notes if one.measure_index == note.measure_index]
    names = [
        one.sounding for one in here if (one.sounding.midi - note.sounding.midi) % 12 in _CHORDAL
    ]
    # Its own octaves sound with it in any case.
    options = [
        replace(name, octave=name.octave + octaves)
        for name in [*names, note.sounding]
        for octaves in range(-3, 4)
    ]
    beside = [
        notes[n].sounding.midi
        for n in (note.index - 1, note.index + 1)
        if 0 <= n < len(notes) and n in marked.routed.places
    ]
    near = [
        (abs(one.midi - note.sounding.midi), sum(abs(one.midi - m) for m in beside), one.midi, one)
        for one in options
        if abs(one.midi - note.sounding.midi) <= _FURTHEST and _easy(marked, one.midi)
    ]
    return min(near, key=lambda row: row[:3])[3] if near else None


def _between(old: Pitch, new: Pitch) -> Interval:
    letters = "CDEFGAB".index(new.step) - "CDEFGAB".index(old.step)
    return Interval(letters + 7 * (new.octave - old.octave), new.midi - old.midi)


def _written(marked: MarkedPart, first: int, last: int, moves: dict[int, Interval]) -> Ossia | None:
    """The measures with these notes moved, and their places."""
    part = marked.part
    cut = cut_measures(marked.score, part.part_id, first, last, "")
    alone = {part.notes[n].ordinal - cut.first_note: way for n, way in moves.items()}
    alone = {ordinal: way for ordinal, way in alone.items() if 0 <= ordinal < cut.notes}
    score = read_score(cut.to_bytes())
    options = replace(
        marked.options,
        part=part.part_id,
        voice=part.voice,
        tempo_qpm=part.tempo_qpm,
        locks=(),
        existing="replace",
    )
    try:
        transpose_part(score, part.part_id, _STAY, alone)
        routed = choose_for(score, marked.routed.setup, options)
    except HandslideError:
        return None
    changed = tuple(
        dict.fromkeys(
            (old, old.transposed(way.letters, way.semitones))
            for old, way in ((part.notes[n].sounding, way) for n, way in sorted(moves.items()))
        )
    )
    return Ossia(first, last, changed, _told(list(moves.values()), changed), routed)


def _told(ways: Sequence[Interval], changed: Sequence[tuple[Pitch, Pitch]]) -> Fact:
    octaves = {way.semitones for way in ways}
    if len(octaves) == 1 and ways[0].is_octaves and len(ways) > 1:
        way = "up" if ways[0].semitones > 0 else "down"
        return fact("practice.ossia_octave", way=way)
    pairs = [fact("practice.instead", old=old, new=new) for old, new in changed]
    return fact("practice.ossia_notes", pairs=pairs)


def spots_beyond(marked: MarkedPart, taken: Sequence[Spot], most: int = MOST_OSSIAS) -> list[Spot]:
    """The first measures with notes that can't be played, two together at most, but for those
    that are in spots already; one that comes back note for note is taken once."""
    bad = {n.measure_index for n in marked.part.notes if n.index not in marked.routed.places}
    bad -= {measure for spot in taken for measure in range(spot.first, spot.last + 1)}
    found: list[Spot] = []
    seen: set[tuple[tuple[int, float], ...]] = set()
    for measure in sorted(bad):
        notes = [n for n in marked.part.notes if n.measure_index == measure]
        here = tuple((note.sounding.midi, note.beats) for note in notes)
        if here in seen:
            continue
        seen.add(here)
        if found and found[-1].first == measure - 1 == found[-1].last:
            found[-1] = replace(found[-1], last=measure)
        elif len(found) < most:
            found.append(Spot(measure, measure, (fact("practice.not_as_written"),)))
    return found
