"""All about one note of a part on a stand, in words: its place, the others, and why not those."""

from dataclasses import dataclass

from handslide.edges.musicxml.scorepart import ScoreNote
from handslide.ground.errors import NotFound
from handslide.ground.notenames import full_name
from handslide.instrument.marks import mark
from handslide.instrument.obstacles import why_forbidden
from handslide.jobs.mark.routed import Routed
from handslide.studio.parts.openpart import OpenPart, stored_locks
from handslide.studio.studio import Studio
from handslide.words.reasons import against_words, reason_words
from handslide.words.speech import Speech

# Up to these points a place is worse by ...; the words are the page's.
DEGREES = (
    (0.005, "same"), (1.0, "hardly"), (3.0, "little"), (8.0, "clearly"), (20.0, "much"),
)  # fmt: skip
WORST = "far"


@dataclass(frozen=True, slots=True)
class PlaceWords:
    """A place of a note.

    ``worse_by`` are the points by which the best route through it is worse than the best of all
    (with this note's own lock left out); None: a glissando forbids it. ``degree`` names how much
    that is, ``why_not`` is a sentence. ``uncertain_mm`` is ± at 95 %, on a fitted horn.
    """

    valves: tuple[str, ...]
    partial: int
    mark: str
    words: str
    position: float
    extension_mm: float
    uncertain_mm: float | None
    lip_cents: float
    worse_by: float | None
    degree: str
    chosen: bool
    why_not: str | None


@dataclass(frozen=True, slots=True)
class NoteWords:
    """A note of a part on a stand; ``places`` the best first, ``forbidden`` why others are out.

    ``alike`` notes are this one of a figure that comes several times; 1 where nothing is left to
    be locked in all of them.
    """

    note: ScoreNote
    measure: str
    name: str
    locked: bool
    lost: bool
    reason: str | None
    places: tuple[PlaceWords, ...]
    forbidden: tuple[tuple[str, str], ...]
    why_unplayable: str | None
    warnings: tuple[str, ...]
    alike: int

    @property
    def chosen(self) -> PlaceWords | None:
        """The place that it has now."""
        return next((place for place in self.places if place.chosen), None)


def note_words(say: Speech, studio: Studio, part: OpenPart, number: int) -> NoteWords:
    """All about written note ``number``. Raises NotFound."""
    if not 0 <= number < len(part.marked.part.notes):
        raise NotFound("parts.no_note")
    note = part.marked.part.notes[number]
    locked = number in part.locks
    routed = part.routed
    if number in routed.locked:
        # What the note would have without its lock, or without what is written over it, is what
        # its other places are measured by.
        wishes = stored_locks(studio, part.stand.id)
        wishes.pop(number, None)
        routed = part.with_locks(wishes, free=number)
    told = number in part.routed.locked or part.routed.is_unusual(number)
    reason = part.routed.why(number) if told and number in part.routed.places else None
    facts = [row.told for row in part.marked.found if row.number == number]
    playable = number in part.routed.places
    return NoteWords(
        note=note,
        measure=part.marked.measures.name(note.measure_index),
        name=full_name(note.sounding, say.names),
        locked=locked,
        lost=number in part.lost,
        reason=None if reason is None else reason_words(say, reason),
        places=_places(say, part, routed, number),
        forbidden=_forbidden(say, part, number),
        why_unplayable=None if playable or not facts else say.fact(facts[0]),
        warnings=tuple(say.fact(row.told) for row in part.found if row.number == number),
        alike=_left_alike(part, number),
    )


def _left_alike(part: OpenPart, number: int) -> int:
    """How many notes are this one of a figure, while one of them isn't locked to its place yet."""
    alike, place = part.routed.alike(number), part.routed.places.get(number)
    done = place is None or all(part.locks.get(other) == place for other in alike)
    return 1 if done else len(alike)


def _places(say: Speech, part: OpenPart, free: Routed, number: int) -> tuple[PlaceWords, ...]:
    chosen = part.routed.places.get(number)
    if chosen is None:
        return ()
    setup = part.routed.setup
    worse = {
        (other.place.valves, other.place.partial): other.worse_by
        for other in free.note(number).alternatives
    }
    best = free.places[number]
    worse[best.valves, best.partial] = 0.0
    rows = []
    for place in setup.book.places(part.routed.pitches[number].midi):
        points = worse.get((place.valves, place.partial))
        reason = None
        if place != best and points is not None:
            reason = free.why_not(number, place)
        half = setup.horn.half_width_mm(place.valves, place.partial, place.extension_m)
        rows.append(
            PlaceWords(
                valves=place.valves,
                partial=place.partial,
                mark=mark(setup.horn, place, setup.style),
                words=say.place(setup.told(place)),
                position=place.position,
                extension_mm=1000.0 * place.extension_m,
                uncertain_mm=half,
                lip_cents=place.lip_cents,
                worse_by=points,
                degree=_degree(points),
                chosen=place == chosen,
                why_not=None if reason is None else against_words(say, reason),
            )
        )
    return tuple(sorted(rows, key=lambda row: 1e9 if row.worse_by is None else row.worse_by))


def _degree(points: float | None) -> str:
    if points is None:
        return "torn"
    return next((name for most, name in DEGREES if points <= most), WORST)


def _forbidden(say: Speech, part: OpenPart, number: int) -> tuple[tuple[str, str], ...]:
    """Places that the horn has and the student's limits forbid: (mark and words, why)."""
    setup = part.routed.setup
    rows = []
    for place in setup.book.out_of_limits(part.routed.pitches[number].midi):
        why = say.fact(why_forbidden(setup.book.limits, place, setup.told(place)))
        rows.append((mark(setup.horn, place, setup.style), why))
    return tuple(rows)
