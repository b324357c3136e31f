"""Fingerings that stand in a part already: what they say, kept, replaced, locked or checked.

A fingering is known by what it says: notation programs drop every hidden tag when they save.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from handslide.edges.musicxml.fingerings import Fingering
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.typesetting.part import Section
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import NOTE_FINGERINGS
from handslide.ground.pitch import Pitch
from handslide.instrument.lattice import StepCallback
from handslide.instrument.markreading import (
    is_unplayable_sign,
    names_valve,
    read_mark,
    says_position,
)
from handslide.instrument.obstacles import why_forbidden
from handslide.instrument.places import Place, find_places
from handslide.instrument.route import NEAR_TIE
from handslide.jobs.mark.measures import measure_names
from handslide.jobs.mark.report import Found, measure_number
from handslide.jobs.mark.routed import Prepared, Routed
from handslide.jobs.setup import Setup
from handslide.words import report as words
from handslide.words.reasons import reason_words
from handslide.words.speech import Speech

_FORBIDDEN = {
    "places.forbidden_valve": "unlearned",
    "places.forbidden_reach": "out_of_reach",
    "places.forbidden_partial": "high_partial",
}


@dataclass(frozen=True, slots=True)
class Reading:
    """What stands over a written note, and what it says.

    ``kind`` is ``place`` where it is a place of the note that this student has, else what is wrong:
    ``unread``, ``no_place``, ``no_valve``, ``unlearned``, ``out_of_reach``, ``high_partial``.
    ``places`` are those that it can mean, the likeliest first.
    """

    number: int
    texts: tuple[str, ...]
    kind: str
    places: tuple[Place, ...] = ()
    why: Fact | None = None

    @property
    def text(self) -> str:
        """All of it; a valve's sign may stand apart from its position."""
        return "".join(self.texts)

    @property
    def is_mark(self) -> bool:
        """Whether it reads as a place of its note, though maybe not for this student."""
        return bool(self.places)


@dataclass(frozen=True, eq=False)
class Existing:
    """The fingerings of a part and their readings.

    ``torn`` are notes whose fingering a glissando forbids; ``overruled`` notes whose place was
    given otherwise.
    """

    fingerings: tuple[Fingering, ...] = ()
    readings: tuple[Reading, ...] = ()
    torn: frozenset[int] = frozenset()
    overruled: frozenset[int] = frozenset()

    @cached_property
    def by_number(self) -> dict[int, Reading]:
        """The readings by written note."""
        return {reading.number: reading for reading in self.readings}

    def kept(self, routed: Routed) -> dict[int, Reading]:
        """What stays over its note in place of a mark of ours."""
        return {
            number: reading
            for number, reading in self.by_number.items()
            if reading.is_mark and number in routed.places and number not in self.overruled
        }

    def overruled_texts(self, number: int) -> tuple[str, ...]:
        """What stands over a note and gives way to the place that it was given otherwise."""
        reading = self.by_number.get(number)
        overruled = reading is not None and reading.is_mark and number in self.overruled
        return reading.texts if reading is not None and overruled else ()

    def found(self, part: ScorePart) -> list[Found]:
        """What doesn't read as a place of its note, or can't be used."""
        rows = []
        for reading in self.readings:
            note = part.notes[reading.number]
            told = reading.why
            if reading.number in self.torn:
                told = fact("marks.fingering_torn", text=reading.text, note=note.sounding)
            if told is not None and reading.number not in self.overruled:
                about = note.sounding.name, "fingering", told, None, note.measure_index
                rows.append(Found(note.measure, reading.number, *about))
        return rows


def read_existing(
    setup: Setup, part: ScorePart, fingerings: Iterable[Fingering], *, tagged: bool = False
) -> tuple[Reading, ...]:
    """The readings of a part's fingerings; ``tagged``: of our own too."""
    texts: dict[int, list[str]] = {}
    for row in fingerings:
        if (tagged or not row.tagged) and not is_unplayable_sign(row.text):
            texts.setdefault(row.ordinal, []).append(row.text)
    return tuple(
        _read(setup, note.index, note.sounding, texts[note.ordinal][:NOTE_FINGERINGS])
        for note in part.notes
        if note.ordinal in texts
    )


def _read(setup: Setup, number: int, pitch: Pitch, texts: list[str]) -> Reading:
    together: list[tuple[str, ...]] = []
    if len(texts) == 2 and not all(map(says_position, texts)):
        # Programs stack a valve's sign and its position.
        together = [(texts[0], texts[1]), (texts[1], texts[0])]
    options = [*together, *((text,) for text in dict.fromkeys(texts))]
    here, horn = setup.book.places(pitch.midi), setup.horn
    for option in options:
        places = read_mark(horn, here, "".join(option), setup.style)
        if places:
            return Reading(number, option, "place", places)
    for option in options:
        text = "".join(option)
        places = read_mark(horn, find_places(horn, pitch.midi), text, setup.style)
        if places:
            why = why_forbidden(setup.book.limits, places[0], setup.told(places[0]))
            told = fact("marks.fingering_forbidden", text=text, note=pitch, why=why)
            return Reading(number, option, _FORBIDDEN[why.kind], places, told)
    text = next(filter(says_position, texts), texts[0])
    if not says_position(text):
        told = fact("marks.fingering_unread", text=text, note=pitch)
        return Reading(number, (text,), "unread", (), told)
    if names_valve(text) and not horn.valves:
        told = fact("marks.fingering_no_valve", text=text, note=pitch)
        return Reading(number, (text,), "no_valve", (), told)
    told = fact("marks.fingering_no_place", text=text, note=pitch)
    return Reading(number, (text,), "no_place", (), told)


def route_keeping(
    prepared: Prepared,
    readings: Iterable[Reading],
    locks: Mapping[int, Place],
    progress: StepCallback | None = None,
) -> tuple[Routed, frozenset[int]]:
    """The best route through what is written, and the notes where a glissando forbids that.

    Only places that the route would leave are fixed, again and again until it leaves none.
    """
    wanted = {
        reading.number: reading
        for reading in readings
        if reading.kind == "place" and reading.number not in locks
    }
    fixed, added = dict[int, Place](), dict[int, Place]()
    torn: set[int] = set()
    routed = prepared.route(locks, progress)
    possible = routed.is_possible
    while True:
        if possible and not routed.is_possible:
            # Each alone can be played, but not all of them within one glissando.
            torn |= added.keys() & routed.gliding
            fixed = {number: place for number, place in fixed.items() if number not in torn}
            routed = prepared.route(locks, progress, fixed)
        left = {}
        for number, reading in wanted.items():
            if number in routed.places and routed.places[number] not in reading.places:
                costs = routed.costs(number)
                fitting = [place for place in reading.places if place in costs]
                if fitting and number not in fixed:
                    left[number] = fitting[0]
                else:
                    torn.add(number)
        left = {number: place for number, place in left.items() if number not in torn}
        if not left:
            return routed, frozenset(torn)
        fixed, added = fixed | left, left
        routed = prepared.route(locks, progress, fixed)


def locked_places(part: ScorePart, readings: Iterable[Reading]) -> dict[int, Place]:
    """What is written as locks. Raises ScoreError for what this student can't play so."""
    locks = {}
    for reading in readings:
        if reading.kind == "place":
            locks[reading.number] = reading.places[0]
        elif reading.kind != "unread":
            assert reading.why is not None
            measure = measure_names(part).name(part.notes[reading.number].measure_index)
            raise ScoreError("marks.fingering_impossible", measure=measure, why=reading.why)
    return locks


@dataclass(frozen=True, slots=True)
class Check:
    """What is to be said of a fingering: a ``kind`` of :class:`Reading`, ``glissando`` or
    ``costs_more``; ``worse_by`` in points beside the best route, None where it can't be played."""

    reading: Reading
    kind: str
    told: Fact
    worse_by: float | None = None


@dataclass(frozen=True, slots=True)
class Checked:
    """The fingerings of a part beside the best route: how many were read, and what is to be said
    of some; ``together`` is by how much a route through all that can be played is worse."""

    count: int
    checks: tuple[Check, ...] = field(default=())
    together: float = 0.0


def check_existing(prepared: Prepared, routed: Routed, readings: tuple[Reading, ...]) -> Checked:
    """Compare fingerings with the best route."""
    checks = []
    for reading in readings:
        pitch = routed.pitches[reading.number]
        if reading.kind != "place":
            assert reading.why is not None
            checks.append(Check(reading, reading.kind, reading.why))
            continue
        best = routed.places.get(reading.number)
        if best is None or best in reading.places:
            continue
        costs = routed.costs(reading.number)
        fitting = [place for place in reading.places if place in costs]
        if not fitting:
            told = fact("marks.fingering_torn", text=reading.text, note=pitch)
            checks.append(Check(reading, "glissando", told))
        elif costs[fitting[0]] > NEAR_TIE:
            worse_by = costs[fitting[0]]
            told = fact(
                "marks.fingering_costs",
                text=reading.text,
                note=pitch,
                best=routed.marks[reading.number],
                worse_by=worse_by,
            )
            checks.append(Check(reading, "costs_more", told, worse_by))
    through, _ = route_keeping(prepared, readings, {})
    together = 0.0
    if through.solution is not None and routed.solution is not None:
        together = max(0.0, through.solution.total - routed.solution.total)
    return Checked(len(readings), tuple(checks), together)


def check_json(say: Speech, part: ScorePart, routed: Routed, check: Check) -> dict[str, Any]:
    """The JSON object of one check."""
    note = part.notes[check.reading.number]
    return {
        "measure": measure_number(note.measure),
        "measure_index": note.measure_index,
        "index": note.number,
        "note": note.sounding.name,
        "written": check.reading.text,
        "kind": check.kind,
        "worse_by": None if check.worse_by is None else round(check.worse_by, 4),
        "best": routed.marks.get(check.reading.number),
        "text": say.fact(check.told),
        "reason": why_not(say, routed, check),
    }


def checked_section(say: Speech, part: ScorePart, routed: Routed, checked: Checked) -> Section:
    """What was found of the fingerings, as a section of a report."""
    if not checked.count:
        return Section(say(words.CHECKED), (), say(words.CHECKED_NONE))
    if not checked.checks:
        told = say(words.CHECKED_NOTHING, count=checked.count)
        return Section(say(words.CHECKED), (), told)
    rows, names = [], measure_names(part)
    for check in checked.checks:
        note = part.notes[check.reading.number]
        why = why_not(say, routed, check)
        text = say.fact(check.told)
        measure = names.name(note.measure_index)
        rows.append((measure, say(words.WITH_REASON, text=text, reason=why) if why else text))
    said = [say(words.CHECKED_SOME, count=checked.count)]
    if checked.together > NEAR_TIE:
        said.append(say(words.TOGETHER, worse_by=checked.together))
    heads = say(words.MEASURE), ""
    return Section(say(words.CHECKED), tuple(rows), " ".join(said), heads)


def why_not(say: Speech, routed: Routed, check: Check) -> str | None:
    """Why the best route doesn't go where the fingering says, where it could."""
    if check.kind != "costs_more" or routed.solution is None:
        return None
    number = check.reading.number
    options = routed.solution.choices.places[routed.passes[number][0]]
    rival = next(place for place in check.reading.places if place in options)
    reason = routed.why_not(number, rival)
    return None if reason is None else reason_words(say, reason)
