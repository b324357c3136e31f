"""Progress of a student: the takes of the studio judged together, and what to practise next."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

from handslide.edges.files.horns import read_horn
from handslide.edges.store.connection import Connection
from handslide.edges.store.stands import StandRow
from handslide.edges.store.students import Student
from handslide.edges.store.takes import (
    JudgedTake,
    NoteRow,
    select_horns_played,
    select_judged_takes,
    select_notes,
    select_scores_played,
)
from handslide.ground.errors import BadUsage, HandslideError
from handslide.ground.hearing import IN_TUNE_CENTS, TRAINED_EAR_CENTS
from handslide.ground.pitch import pretty_name
from handslide.instrument.horn import Horn
from handslide.instrument.marks import mark
from handslide.instrument.places import Place
from handslide.instrument.progress.advice import Next, StandKey, key_of, next_to_practise
from handslide.instrument.progress.judge import (
    WIDE,
    Change,
    GroupProgress,
    Progress,
    TakenNote,
    find_progress,
)
from handslide.jobs.setup import Setup, load_tuned
from handslide.studio.cache import CacheKind
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import get_student, list_horns_of, setup_for
from handslide.studio.studio import Studio

# A rest in the playing longer than this: the slide had time, no move is blamed.
_NO_MOVE_S = 1.0
_MOST_WHERE = 3
# The same rows are judged once: the page and its sheet ask for them one after the other.
_JUDGED: CacheKind[tuple[TakenNote, ...], Progress] = CacheKind(8)


@dataclass(frozen=True, slots=True)
class Filters:
    """Which takes count: of one horn, one part, from and to a day (ISO 8601); None: all."""

    horn_id: int | None = None
    score_id: int | None = None
    since: str | None = None
    until: str | None = None

    def __post_init__(self) -> None:
        days = [_day(text) for text in (self.since, self.until) if text is not None]
        if len(days) == 2 and days[0] > days[1]:
            raise BadUsage("progress.no_time", since=self.since, until=self.until)


@dataclass(frozen=True, slots=True)
class Choice:
    """A horn or a part that takes can be chosen by."""

    id: int
    title: str


@dataclass(frozen=True, slots=True)
class OnStand:
    """Where a note stands: a stand, the first measure there, how often in the part."""

    stand_id: int
    score_id: int
    title: str
    measure: str
    count: int


@dataclass(frozen=True, slots=True)
class Needs:
    """What takes would tell: of ``places``, ``known`` are known to within hearing; ``more`` takes
    (None: many) would tell of ``near`` more. ``changes``: whether any change could be asked for."""

    places: int
    known: int
    more: int | None
    near: int
    changes: bool


@dataclass(frozen=True, slots=True, eq=False)
class NextThing:
    """Something to practise: the finding, and where it stands."""

    found: Next
    where: tuple[OnStand, ...]


@dataclass(frozen=True, slots=True, eq=False)
class StudentProgress:
    """What is known of a student's playing over time.

    ``doubtful`` takes didn't fit their part and aren't counted; ``guessed`` notes were played
    without a part and are counted in their usual place. ``setup`` is that of the main horn, None
    without one; ``first_day`` and ``last_day`` are of the takes that count.
    """

    student: Student
    filters: Filters
    horns: tuple[Choice, ...]
    scores: tuple[Choice, ...]
    takes: int
    doubtful: int
    guessed: int
    first_day: date | None
    last_day: date | None
    rows: tuple[TakenNote, ...]
    progress: Progress
    next: tuple[NextThing, ...]
    setup: Setup | None

    @property
    def in_tune(self) -> float | None:
        """The share of right notes that a listener hears as in tune; None where too few tell."""
        notes = self.progress.of_kind("note")
        rows = [(note.notes, note.heard) for note in notes if note.heard is not None]
        total = sum(count for count, _ in rows)
        return 1.0 - sum(count * heard for count, heard in rows) / total if total else None

    @property
    def needs(self) -> Needs:
        """How much is known, and what more takes would tell."""
        places = self.progress.of_kind("place")
        unknown = [place.more for place in places if not place.known]
        more = min((count for count in unknown if count), default=None)
        near = 0 if more is None else unknown.count(more)
        asked = any(place.change("bias") for place in places)
        return Needs(len(places), len(places) - len(unknown), more, near, asked)

    @property
    def tuning_off(self) -> bool:
        """Whether the horn was surely out of tune as a whole in the last takes."""
        now = self.progress.tuning_now
        return now is not None and abs(now.value) >= TRAINED_EAR_CENTS and now.nearer_to_0() != 0

    @property
    def tuning_told(self) -> bool:
        """Whether any take has closed notes enough to tell the tuning from the slide."""
        return any(one.closed for one in self.progress.tuning)

    def mark_of(self, group: GroupProgress) -> str:
        """A place as the student's parts write it; empty where no place is known.

        Of a horn that isn't the student's any more the valves stand by their names: ``F·2``.
        """
        if group.position is None or group.valves is None:
            return ""
        if self.setup is None or not _has(self.setup.horn, group.valves):
            return "·".join(filter(None, ("+".join(map(pretty_name, group.valves)), group.mark)))
        horn = self.setup.horn
        extension_m = max(horn.extension_m(group.position), 0.0)
        place = Place(group.valves, group.partial or 1, extension_m, group.position)
        return mark(horn, place, self.setup.style)

    def changed(self, verdict: str) -> tuple[tuple[GroupProgress, Change], ...]:
        """(group, change) of all changes with a verdict, the largest first.

        A place's notes aren't said again; where three places or more share a cause, it is said.
        """
        found = [
            (group, change)
            for group in self.progress.groups
            for change in group.changes
            if change.verdict == verdict
        ]
        found.sort(key=lambda pair: (_ORDER[pair[0].kind], -_size(pair[1])))
        said: list[tuple[GroupProgress, Change]] = []
        for group, change in found:
            alike = [g for g, c in said if c.measure == change.measure and g.kind != "all"]
            members = [g for g in alike if 2 * len(g.rows & group.rows) > len(g.rows)]
            if group.kind in WIDE and len(members) >= _MANY:
                # What holds for many of its places is said once, of the group.
                said = [
                    pair
                    for pair in said
                    if pair[0] not in members or pair[1].measure != change.measure
                ]
                said.append((group, change))
            elif group.kind not in WIDE and not any(
                2 * len(group.rows & g.rows) > len(group.rows) for g in alike
            ):
                said.append((group, change))
        return tuple(sorted(said, key=lambda pair: (pair[0].kind not in WIDE, -_size(pair[1]))))


# Places first: what is said of a place needn't be said of its notes.
_ORDER = {"all": 0, "place": 1, "note": 2, "away": 3, "valve": 4, "out": 5, "in": 6, "partial": 7}
_MANY = 3


def _has(horn: Horn, valves: tuple[str, ...]) -> bool:
    return {valve.name for valve in horn.valves}.issuperset(valves)


def _size(change: Change) -> float:
    """A change in hearing thresholds; a tenth of the notes counts as one."""
    return abs(change.by.value) / (0.1 if change.measure == "right" else IN_TUNE_CENTS)


def progress_of(studio: Studio, student_id: int, filters: Filters | None = None) -> StudentProgress:
    """Judge all takes of a student that ``filters`` let through. Raises NotFound."""
    filters = filters or Filters()
    student = get_student(studio, student_id)
    with studio.store.read() as db:
        horns = select_horns_played(db, student_id)
        scores = select_scores_played(db, student_id)
        takes = _takes(db, student_id, filters)
        sure = [take for take in takes if not take.doubt]
        rows, guessed = _rows(db, sure)
    days = [_moment(take.recorded_at).date() for take in sure]
    progress = studio.caches.of(_JUDGED).get(tuple(rows), lambda: find_progress(rows))
    stands = _stands(studio, student_id, filters.score_id)
    counts: Counter[StandKey] = Counter()
    for _, notes in stands:
        counts.update(key for key, _ in notes)
    own = list_horns_of(studio, student_id)
    report = StudentProgress(
        student=student,
        filters=filters,
        horns=tuple(Choice(*horn) for horn in horns),
        scores=tuple(Choice(*score) for score in scores),
        takes=len(sure),
        doubtful=len(takes) - len(sure),
        guessed=guessed,
        first_day=min(days, default=None),
        last_day=max(days, default=None),
        rows=tuple(rows),
        progress=progress,
        next=(),
        setup=setup_for(student, own[0]) if own else None,
    )
    found = next_to_practise(progress, rows, counts)
    return replace(report, next=tuple(_thing(report, one, stands) for one in found))


# Out of the store.


def _takes(db: Connection, student_id: int, filters: Filters) -> tuple[JudgedTake, ...]:
    since = None if filters.since is None else _day(filters.since).isoformat()
    until = None
    if filters.until is not None:
        # Behind every moment of that day: "T" comes before "~".
        until = f"{_day(filters.until).isoformat()}~"
    return select_judged_takes(
        db,
        student_id,
        horn_id=filters.horn_id,
        score_id=filters.score_id,
        since=since,
        until=until,
    )


def _rows(db: Connection, takes: Sequence[JudgedTake]) -> tuple[list[TakenNote], int]:
    """The notes of all takes as the core wants them, and how many have a guessed place."""
    horns: dict[tuple[int, float], Horn] = {}
    rows: list[TakenNote] = []
    guessed = 0
    if not takes:
        return rows, guessed
    begin = _moment(takes[0].recorded_at)
    for take in takes:
        horn = None
        if take.version_id is not None and take.toml is not None:
            key = take.version_id, take.a4_hz
            if key not in horns:
                horns[key] = load_tuned(read_horn(take.toml, "horn"), take.a4_hz, take.temp_c)
            horn = horns[key]
        when = (_moment(take.recorded_at) - begin).total_seconds() / 86400.0
        before: NoteRow | None = None
        for note in select_notes(db, take.id):
            row = _row(when, take.id, note, before, horn)
            rows.append(row)
            guessed += row.played == "free" and row.position is not None
            before = note
    return rows, guessed


def _row(
    when: float, take: int, note: NoteRow, before: NoteRow | None, horn: Horn | None
) -> TakenNote:
    valves = position = extension = None
    if note.partial is not None and note.extension_mm is not None and horn is not None:
        valves = note.valves or ()
        extension = note.extension_mm
        position = horn.position(extension / 1000.0)
    return TakenNote(
        when_days=when,
        take=take,
        midi=note.midi,
        played=note.played,
        cents=note.cents,
        cents_se=note.cents_se,
        slide_mm=note.slide_mm,
        slide_se_mm=note.slide_se_mm,
        valves=valves,
        partial=None if valves is None else note.partial,
        position=position,
        extension_mm=extension,
        move_mm=_move(note, before),
    )


def _move(note: NoteRow, before: NoteRow | None) -> float | None:
    """The way of the slide from the note before, where that was right and there was no rest."""
    if before is None or before.played != "right" or note.played != "right":
        return None
    if before.extension_mm is None or note.extension_mm is None:
        return None
    if before.end_s is None or note.start_s is None:
        return None
    backwards = (before.start_s or 0.0) > note.start_s
    if backwards or note.start_s - before.end_s > _NO_MOVE_S:
        return None
    return note.extension_mm - before.extension_mm


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadUsage("progress.not_a_day", text=text) from None


# What stands on the student's stands.

_StandNotes = tuple[StandRow, list[tuple[StandKey, str]]]


def _stands(studio: Studio, student_id: int, score_id: int | None) -> list[_StandNotes]:
    """(stand, (note, measure) as played) of each part that can still be opened."""
    found: list[_StandNotes] = []
    for stand in list_stands(studio, student_id=student_id, score_id=score_id):
        try:
            part = open_part(studio, stand.id)
        except HandslideError:
            continue
        notes: list[tuple[StandKey, str]] = []
        places = part.routed.places
        for number in part.marked.part.played:
            note, place = part.marked.part.notes[number], places.get(number)
            if place is not None:
                key = note.sounding.midi, place.valves, place.partial
                notes.append((key, part.marked.measures.name(note.measure_index)))
        found.append((stand, notes))
    return found


def _thing(report: StudentProgress, found: Next, stands: Iterable[_StandNotes]) -> NextThing:
    keys = {key_of(report.rows[n]) for n in found.group.rows}
    where = []
    for stand, notes in stands:
        measures = [measure for key, measure in notes if key in keys]
        if measures:
            where.append(OnStand(stand.id, stand.score_id, stand.title, measures[0], len(measures)))
    where.sort(key=lambda one: -one.count)
    return NextThing(found, tuple(where[:_MOST_WHERE]))
