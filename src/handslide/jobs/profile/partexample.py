"""A part as an example: what is written over its notes, and what was read and left standing."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path

from handslide.edges.musicxml.fingerings import read_fingerings
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.cleantext import clean_line
from handslide.ground.errors import BadData, BadUsage
from handslide.ground.facts import Fact
from handslide.ground.wholenumber import whole_number
from handslide.instrument.learning.example import ChosenNote, Example, How, Stand, Wish
from handslide.instrument.places import Place
from handslide.jobs.mark.existing import Existing, Reading, read_existing, route_keeping
from handslide.jobs.mark.measures import measure_names
from handslide.jobs.mark.routed import played_line, prepare
from handslide.jobs.partwishes import PartWishes
from handslide.jobs.profile.examplenotes import plain_notes
from handslide.jobs.setup import Setup, make_setup

TO_THE_END = "end"
"""What is given in place of a measure where all of a part was read."""


@dataclass(frozen=True, slots=True)
class TakenPart:
    """A part as an example; ``ours`` counts the marks of ours that weren't looked at, ``unused``
    are measures with a fingering that couldn't be used, and why."""

    example: Example
    ours: int
    unused: tuple[tuple[str, Fact], ...]

    def count(self, *hows: str) -> int:
        """How many notes were chosen so."""
        return sum(note.how in hows for note in self.example.notes)


def setup_on(stand: Stand, profile: str, marks: str = "") -> Setup:
    """The setup of a stand, to choose by a profile. Raises as `make_setup`."""
    return make_setup(
        stand.horn,
        a4_hz=stand.a4_hz,
        temp_c=stand.temp_c,
        reach=stand.reach,
        learned=stand.learned,
        profile=profile,
        marks=marks,
    )


def plain_example(
    score: Score, part: ScorePart, file: str, wishes: PartWishes, stand: Stand
) -> Example:
    """A part without a choice. Its key is the name of its ``file``, and which part of it was
    asked for."""
    asked = [part.part_id] if wishes.part is not None else []
    asked += [part.voice] if wishes.voice is not None else []
    key = "#".join((clean_line(file), *asked))
    return Example(key, score.title or clean_line(Path(file).stem), stand, plain_notes(part))


def take_part(
    score: Score,
    part: ScorePart,
    plain: Example,
    setup: Setup,
    seen: str | None = None,
) -> TakenPart:
    """The choices in a part, added to ``plain``.

    A fingering of others counts as written, and as a change where a mark of ours stands beside it
    and says something else. ``seen`` is the last measure that was read: up to its end every other
    note counts as left standing, in the place that our mark over it names, else where the best
    route through all of these goes. ``setup`` has the profile that it began from.

    Raises
    ------
    BadData
        Where there is nothing to learn from.
    BadUsage
        A measure that the part doesn't have, or has several times.
    """
    end = None if seen is None else _seen_to(part, seen)
    fingerings = read_fingerings(score, part)
    ours = _by_number(read_existing(setup, part, [r for r in fingerings if r.tagged], tagged=True))
    theirs = _by_number(read_existing(setup, part, [r for r in fingerings if not r.tagged]))
    line, pitches = played_line(part)
    prepared = prepare(setup, line, pitches, part.played)
    read = {n: mark for n, mark in ours.items() if _is_read(part, n, end)}
    routed, torn = route_keeping(prepared, (read | theirs).values(), {})

    def chosen(note: ChosenNote) -> ChosenNote:
        number = note.number
        mark, written = ours.get(number), theirs.get(number)
        reading = written or mark
        if number not in routed.places or number in torn:
            return note
        if reading is not None and reading.kind != "place":
            return note
        if written is not None:
            changed = mark is not None and mark.places[:1] != written.places[:1]
            how: How = "changed" if changed else "written"
            return replace(note, how=how, places=_wishes(written.places))
        if not _is_read(part, number, end):
            return note
        places = mark.places if mark is not None else (routed.places[number],)
        return replace(note, how="kept", places=_wishes(places))

    example = replace(plain, notes=tuple(map(chosen, plain.notes)))
    left = sum(note.how is None and note.number in ours for note in example.notes)
    if all(note.how is None for note in example.notes):
        kind = "profile.only_our_marks" if left else "profile.nothing_to_learn"
        raise BadData(kind, file=score.name)
    found = Existing(readings=tuple(theirs.values()), torn=torn & theirs.keys()).found(part)
    names = measure_names(part)
    unused = tuple((row.measure_name(names), row.what or row.told) for row in found)
    return TakenPart(example, left, unused)


def _is_read(part: ScorePart, number: int, end: int | None) -> bool:
    return end is not None and part.notes[number].measure_index <= end


def _by_number(readings: Iterable[Reading]) -> dict[int, Reading]:
    return {reading.number: reading for reading in readings}


def _wishes(places: Iterable[Place]) -> tuple[Wish, ...]:
    return tuple(dict.fromkeys((place.valves, place.partial) for place in places))


def _seen_to(part: ScorePart, measure: str) -> int:
    """The index of the last measure that was read."""
    labels = {row.index: row.number for row in part.measures}
    labels |= {note.measure_index: note.measure for note in part.notes}
    wanted = measure.strip()
    if wanted == TO_THE_END:
        return max(labels)
    place = whole_number(wanted[1:]) if wanted.startswith("#") else None
    if place is not None:
        fitting = [place - 1] if place - 1 in labels else []
    else:
        fitting = sorted(index for index, label in labels.items() if label == wanted)
    if not fitting:
        last = measure_names(part).name(max(labels))
        raise BadUsage("profile.seen_no_measure", measure=measure, last=last)
    # A measure that is printed in two halves, with a repeat sign between, is one.
    runs = [
        [index for _, index in run]
        for _, run in groupby(enumerate(fitting), lambda row: row[1] - row[0])
    ]
    if len(runs) > 1:
        spelled = ", ".join(f"#{run[-1] + 1}" for run in runs)
        raise BadUsage("profile.seen_measures", measure=measure, count=len(runs), spelled=spelled)
    return fitting[-1]
