"""A part that is open on a stand: read once, laid out once, routed again at each choice."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeAlias

from handslide.edges.musicxml.fingerings import read_fingerings
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.learnt import LearntRow
from handslide.edges.store.scores import ScoreRow
from handslide.edges.store.stands import Stand, Wish, number_of_edits, select_locks
from handslide.edges.store.students import Student
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import OPEN_ROUTES_NOTES, OPEN_SCORES_BYTES
from handslide.instrument.places import Place
from handslide.jobs.mark.existing import Existing, read_existing, route_keeping
from handslide.jobs.mark.mark import MarkedPart, MarkOptions
from handslide.jobs.mark.pdfpart import PdfPart
from handslide.jobs.mark.report import Found
from handslide.jobs.mark.routed import Prepared, Routed, played_line, prepare
from handslide.jobs.setup import Setup
from handslide.studio.cache import Cache, CacheKind
from handslide.studio.choosing.consent import collects
from handslide.studio.choosing.versions import learnt_of, setup_with
from handslide.studio.parts.reading import open_source, reading_key
from handslide.studio.parts.scores import get_score
from handslide.studio.parts.stand import get_stand
from handslide.studio.people.students import get_horn, get_student
from handslide.studio.studio import Studio

MOST_PARTS = 16
_NOTE_BYTES = 3000  # with its places and what is said of it
MOST_ROUTES = 12


@dataclass(frozen=True, slots=True)
class PartKey:
    """Everything that decides how a part is read and laid out."""

    digest: str
    part: str | None
    voice: str | None
    tempo_qpm: float
    small_notes: bool
    sounds: str | None
    horn_version: tuple[int, str]
    a4_hz: float
    temp_c: float | None
    reach: float | None
    learned: tuple[str, ...] | None
    profile: str
    learnt: str | None
    marks: str


@dataclass(frozen=True, eq=False)
class _Read:
    """A part as read with its fingerings, and its line laid out on the horn."""

    score: Score
    part: ScorePart
    prepared: Prepared
    existing: Existing
    memory_bytes: int
    source: PdfPart | None


_RouteKey: TypeAlias = tuple[PartKey, tuple[tuple[int, Wish], ...]]
_READ: CacheKind[PartKey, _Read] = CacheKind(
    MOST_PARTS, lambda read: read.memory_bytes, OPEN_SCORES_BYTES
)
_ROUTES: CacheKind[_RouteKey, Routed] = CacheKind(
    MOST_ROUTES, lambda routed: len(routed.routed_written), OPEN_ROUTES_NOTES
)


@dataclass(frozen=True, eq=False)
class OpenPart:
    """A stand with its part routed.

    ``locks`` are those in force by written note; ``lost`` those that this horn, within this
    student's limits, doesn't have now: they are kept and passed over. ``collects``: choices may be
    learnt from. ``routes`` are those that the studio has in memory.
    """

    stand: Stand
    student: Student
    horn: StudentHorn
    score: ScoreRow
    prepared: Prepared
    existing: Existing
    marked: MarkedPart
    locks: Mapping[int, Place]
    lost: tuple[int, ...]
    edits: int
    collects: bool
    key: PartKey
    routes: Cache[_RouteKey, Routed]

    @property
    def routed(self) -> Routed:
        """The route."""
        return self.marked.routed

    @property
    def title(self) -> str:
        """The title as the teacher has it."""
        return self.score.title

    @property
    def question(self) -> Fact | None:
        """What the teacher is asked: how the part sounds, where its file leaves that in doubt."""
        told = (row.told for row in self.marked.part.warnings)
        return next((one for one in told if one.kind == "scores.bflat"), None)

    @property
    def seen_to(self) -> int | None:
        """The written note up to which all places were looked at."""
        return self.stand.seen_to if self.collects else None

    @property
    def can_undo(self) -> bool:
        """Whether there is a choice to take back."""
        return self.stand.edits_done > 0

    @property
    def can_redo(self) -> bool:
        """Whether a choice was taken back that can come again."""
        return self.stand.edits_done < self.edits

    @cached_property
    def found(self) -> tuple[Found, ...]:
        """All warnings, those about locks first."""
        return (*self._lost_locks(), *self._torn_glissandi(), *self.marked.found)

    def _lost_locks(self) -> list[Found]:
        rows = []
        for number in self.lost:
            note = self.marked.part.notes[number]
            told = fact(
                "parts.lock_lost",
                note=note.sounding,
                horn=self.horn.title,
                student=self.student.name,
            )
            about = note.sounding.name, "lock", told, None, note.measure_index
            rows.append(Found(note.measure, number, *about))
        return rows

    def _torn_glissandi(self) -> list[Found]:
        """Glissandi that a lock has pulled onto two partials."""
        routed, line = self.routed, self.routed.cleared.line
        rows: dict[tuple[int, int], Found] = {}
        for first in line.gliss.nonzero()[0].tolist():
            pair = routed.routed_written[first], routed.routed_written[first + 1]
            one, two = (routed.places[number] for number in pair)
            if (one.valves, one.partial) == (two.valves, two.partial):
                continue
            note, other = (self.marked.part.notes[number] for number in pair)
            told = fact("parts.torn_glissando", first=note.sounding, last=other.sounding)
            about = note.sounding.name, "glissando", told, None, note.measure_index
            rows[pair] = Found(note.measure, note.index, *about)
        return list(rows.values())

    def with_locks(self, wishes: Mapping[int, Wish], free: int | None = None) -> Routed:
        """The same part routed with other locks; what isn't a place is passed over.

        ``free``: a note whose fingering in the part doesn't count either.
        """
        locks = locks_in_force(self.prepared, wishes)
        if free is not None and free in self.existing.by_number:
            others = [row for row in self.existing.readings if row.number != free]
            return route_keeping(self.prepared, others, locks)[0]
        return _route(self.routes, self.key, self.prepared, self.existing, locks)


def open_part(studio: Studio, stand_id: int) -> OpenPart:
    """The part on a stand with its route and all locks.

    Raises
    ------
    NotFound, ScoreError, BadData
        No such stand; a part, horn or setting that can't be used any more.
    """
    return open_part_with(studio, stand_id, learnt_of(studio, get_stand(studio, stand_id)))


def open_part_with(studio: Studio, stand_id: int, learnt: LearntRow | None) -> OpenPart:
    """The part on a stand, its route chosen by something learnt; None: by the student's profile.

    Raises as `open_part`.
    """
    with studio.store.read() as db:
        stand = get_stand(studio, stand_id)
        wishes = select_locks(db, stand_id)
        edits = number_of_edits(db, stand_id)
    student, horn = get_student(studio, stand.student_id), get_horn(studio, stand.horn_id)
    score = get_score(studio, stand.score_id)
    key = _key_of(studio, stand, student, horn, score, learnt)
    read = studio.caches.of(_READ).get(
        key, lambda: _read_part(studio, stand, setup_with(student, horn, learnt), score)
    )
    locks = locks_in_force(read.prepared, wishes)
    options = MarkOptions(
        stand.part,
        stand.voice,
        stand.tempo_qpm,
        show=student.show,
        small_notes=stand.small_notes,
        sounds=stand.sounds,
        student=student.name,
    )
    routes = studio.caches.of(_ROUTES)
    routed = _route(routes, key, read.prepared, read.existing, locks)
    existing = replace(read.existing, overruled=frozenset(locks))
    marked = MarkedPart(
        read.score, read.part, routed, options, existing=existing, source=read.source
    )
    lost = tuple(sorted(wishes.keys() - locks.keys()))
    return OpenPart(
        stand,
        student,
        horn,
        score,
        read.prepared,
        existing,
        marked,
        locks,
        lost,
        edits,
        collects(studio),
        key,
        routes,
    )


def stored_locks(studio: Studio, stand_id: int) -> dict[int, Wish]:
    """The locks of a stand as they are kept, by written note."""
    with studio.store.read() as db:
        return select_locks(db, stand_id)


def _key_of(
    studio: Studio,
    stand: Stand,
    student: Student,
    horn: StudentHorn,
    score: ScoreRow,
    learnt: LearntRow | None,
) -> PartKey:
    return PartKey(
        reading_key(studio, score),
        stand.part,
        stand.voice,
        stand.tempo_qpm,
        stand.small_notes,
        stand.sounds,
        (horn.id, horn.version.toml),
        horn.a4_hz,
        horn.temp_c,
        student.reach,
        student.learned,
        student.profile,
        # Not its id: numbers of rows that are gone come again.
        None if learnt is None else json.dumps(learnt.factors),
        student.marks,
    )


def _read_part(studio: Studio, stand: Stand, setup: Setup, row: ScoreRow) -> _Read:
    opened = open_source(studio, row)
    score = opened.score
    part, existing, prepared = lay_on_stand(score, stand, setup)
    weight = opened.file_bytes + score.memory_bytes() + _NOTE_BYTES * len(part.notes)
    return _Read(score, part, prepared, existing, weight, opened.source)


def lay_on_stand(score: Score, stand: Stand, setup: Setup) -> tuple[ScorePart, Existing, Prepared]:
    """The part of an open score that is on a stand, what is written in it, and its line laid out.

    Raises as `Score.read_part`.
    """
    part = read_on_stand(score, stand)
    line, pitches = played_line(part)
    fingerings = read_fingerings(score, part)
    existing = Existing(fingerings, read_existing(setup, part, fingerings))
    return part, existing, prepare(setup, line, pitches, part.played)


def read_on_stand(score: Score, stand: Stand) -> ScorePart:
    """The part of an open score that is on a stand. Raises as `Score.read_part`."""
    return score.read_part(
        stand.part,
        stand.voice,
        stand.tempo_qpm,
        small_notes=stand.small_notes,
        sounds=stand.sounds,
    )


def locks_in_force(prepared: Prepared, wishes: Mapping[int, Wish]) -> dict[int, Place]:
    """The wishes that are places of their notes on this horn."""
    found: dict[int, Place] = {}
    for number, wish in sorted(wishes.items()):
        if number < len(prepared.pitches):
            place = find_place(prepared, number, wish)
            if place is not None:
                found[number] = place
    return found


def find_place(prepared: Prepared, number: int, wish: Wish) -> Place | None:
    """The place of a written note on these valves and this partial, or None."""
    for place in prepared.setup.book.places(prepared.pitches[number].midi):
        if (place.valves, place.partial) == wish:
            return place
    return None


def _route(
    routes: Cache[_RouteKey, Routed],
    key: PartKey,
    prepared: Prepared,
    existing: Existing,
    locks: Mapping[int, Place],
) -> Routed:
    wishes = tuple((number, (place.valves, place.partial)) for number, place in locks.items())
    return routes.get((key, wishes), lambda: route_keeping(prepared, existing.readings, locks)[0])
