"""What each column of a studio from elsewhere may hold, and the check of all rows against it.

SQLite knows that a column is a text; that it is a day, a list of valves or a report is known here.
The forms are wider than what this handslide writes: numbers of any instrument, names of any length
that fits a page.
"""

from collections.abc import Iterator
from datetime import date, datetime
from typing import Annotated, Any, Literal, TypeAlias, TypeVar

import msgspec
from msgspec import Meta, Struct

from handslide.edges.store.connection import Connection
from handslide.edges.store.learnt import Told
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadData, StoreError
from handslide.ground.limits import QUESTION_NOTES, REPORT_BYTES, TYPED_BYTES
from handslide.ground.notenames import LANGUAGES
from handslide.instrument.markstyle import SHOWN, parse_style


class Moment(str):
    """A moment as ISO 8601."""

    def __new__(cls, text: str) -> "Moment":
        datetime.fromisoformat(text)
        return super().__new__(cls, text)


class Day(str):
    """A day as ISO 8601."""

    def __new__(cls, text: str) -> "Day":
        date.fromisoformat(text)
        return super().__new__(cls, text)


class Style(str):
    """How marks are written."""

    def __new__(cls, text: str) -> "Style":
        parse_style(text)
        return super().__new__(cls, text)


class Clef(str):
    """One of our clefs."""

    def __new__(cls, text: str) -> "Clef":
        return super().__new__(cls, _one_of(text, CLEFS))


class Naming(str):
    """How notes are named; empty: as the language does."""

    def __new__(cls, text: str) -> "Naming":
        return super().__new__(cls, _one_of(text, ("", *LANGUAGES)))


class Shown(str):
    """Which marks are shown."""

    def __new__(cls, text: str) -> "Shown":
        return super().__new__(cls, _one_of(text, SHOWN))


def _one_of(text: str, known: Any) -> str:
    if text not in known:
        raise ValueError(text)
    return text


_Form = TypeVar("_Form")
Row: TypeAlias = Annotated[int, Meta(ge=0, le=2**53)]
Count: TypeAlias = Annotated[int, Meta(ge=0, le=10_000_000)]
Flag: TypeAlias = Annotated[int, Meta(ge=0, le=1)]
Line: TypeAlias = Annotated[str, Meta(max_length=500)]
Name: TypeAlias = Annotated[str, Meta(min_length=1, max_length=200)]
Text: TypeAlias = Annotated[str, Meta(max_length=20_000)]
# The name of a horn or profile; a path would lead to a file of this machine.
Plain: TypeAlias = Annotated[str, Meta(pattern=r"^[^/\\:\x00-\x1f]{1,200}$")]
Code: TypeAlias = Annotated[str, Meta(pattern=r"^[A-Za-z_-]{0,20}$")]
Amount: TypeAlias = Annotated[float, Meta(ge=-1e7, le=1e7)]
Hertz: TypeAlias = Annotated[float, Meta(gt=0.0, le=1e5)]
Valve: TypeAlias = Annotated[str, Meta(min_length=1, max_length=40)]
Valves: TypeAlias = Annotated[list[Valve], Meta(max_length=16)]
Partial: TypeAlias = Annotated[int, Meta(ge=1, le=64)]
Midi: TypeAlias = Annotated[int, Meta(ge=-12, le=160)]
Digest: TypeAlias = Annotated[str, Meta(pattern="^[0-9a-f]{64}$")]
PartIds: TypeAlias = Annotated[list[Annotated[str, Meta(max_length=500)]], Meta(max_length=500)]
Wish: TypeAlias = tuple[Valves, Partial]
# A place in a PDF, or the mark of a shape; what is said of it.
Place: TypeAlias = Annotated[str, Meta(max_length=100)]
Said: TypeAlias = Annotated[str, Meta(max_length=40)]
Edit: TypeAlias = tuple[Place, Place, Said | None, Said | None]
Change: TypeAlias = tuple[Count, Wish | None, Wish | None]
Factor: TypeAlias = Annotated[float, Meta(gt=0.0, le=1000.0)]
Weight: TypeAlias = Annotated[str, Meta(pattern=r"^[a-z0-9_.]{1,60}$")]
KindOfHorn: TypeAlias = Annotated[str, Meta(max_length=40)]
Notes: TypeAlias = Annotated[list[Count], Meta(max_length=QUESTION_NOTES)]
Wishes: TypeAlias = Annotated[list[Wish], Meta(max_length=QUESTION_NOTES)]


class _Setting(Struct):
    key: Annotated[str, Meta(max_length=100)]
    value: Text


class _Student(Struct):
    id: Row
    uid: Annotated[str, Meta(pattern="^[0-9a-f]{32}$")]
    name: Name
    about: Text
    reach: Annotated[float, Meta(ge=1.0, le=12.0)] | None
    learned: str | None
    clef: Clef | None
    names: Naming
    marks: Style
    profile: Plain
    show: Shown
    consent_note: Annotated[str, Meta(max_length=4000)] | None
    consent_on: Day | None
    keep_recordings: Flag
    example: Flag
    archived_at: Moment | None
    created_at: Moment
    language: Code | None


class _Horn(Struct):
    id: Row
    student_id: Row
    title: Name
    base: Plain
    a4_hz: Annotated[float, Meta(ge=380.0, le=500.0)]
    temp_c: Annotated[float, Meta(ge=-50.0, le=60.0)] | None
    main: Flag
    archived_at: Moment | None
    created_at: Moment


class _HornVersion(Struct):
    id: Row
    horn_id: Row
    number: Count
    toml: Annotated[str, Meta(max_length=TYPED_BYTES)]
    origin: Line
    told: Annotated[str, Meta(max_length=TYPED_BYTES)] | None
    created_at: Moment


class _Score(Struct):
    id: Row
    title: Line
    composer: Line
    file_name: Annotated[str, Meta(min_length=1, max_length=500)]
    data: bytes
    digest: Digest
    example: Flag
    archived_at: Moment | None
    created_at: Moment
    pdf: Flag
    corrections_done: Count
    takes: str | None


class _Folder(Struct):
    id: Row
    path: Annotated[str, Meta(min_length=1, max_length=4096)]
    title: Line
    sent: Flag
    created_at: Moment


class _FolderFile(Struct):
    id: Row
    folder_id: Row
    path: Annotated[str, Meta(min_length=1, max_length=4096)]
    size: Row
    mtime_ns: int
    digest: Digest | None
    takes: str | None
    taken: Digest | None
    there: Flag


class _Correction(Struct):
    score_id: Row
    kind: Literal["clef", "key", "note", "staff"]
    place: Place
    value: Said


class _CorrectionEdit(Struct):
    score_id: Row
    number: Count
    changes: str
    made_at: Moment


class _Stand(Struct):
    id: Row
    student_id: Row
    horn_id: Row
    score_id: Row
    part: Line | None
    part_name: Line
    voice: Line | None
    tempo_qpm: Annotated[float, Meta(ge=10.0, le=500.0)]
    small_notes: Flag
    sounds: Literal["as-written", "Bb-treble"] | None
    edits_done: Count
    created_at: Moment
    opened_at: Moment
    seen_to: Count | None
    learnt_id: Row | None


class _Aside(Struct):
    """Of an edit: up to where the part was looked at, or what it is marked with."""

    what: Literal["seen_to", "learnt"]
    before: Row | None
    after: Row | None


class _Learnt(Struct):
    id: Row
    number: Count | None
    factors: Annotated[str, Meta(max_length=TYPED_BYTES)]
    told: Annotated[str, Meta(max_length=TYPED_BYTES)]
    made_at: Moment


class _StandUnlearnt(Struct):
    stand_id: Row
    note: Count


class _Answer(Struct):
    id: Row
    stand_id: Row
    notes: str
    first: str
    second: str
    picked: Literal[0, 1, 2]
    made_at: Moment


class _StandLock(Struct):
    stand_id: Row
    note: Count
    valves: str
    partial: Partial


class _StandEdit(Struct):
    stand_id: Row
    number: Count
    changes: str
    made_at: Moment


class _Take(Struct):
    id: Row
    student_id: Row
    horn_version_id: Row | None
    score_id: Row | None
    title: Line
    source: Line
    a4_hz: Annotated[float, Meta(ge=200.0, le=800.0)]
    length_s: Annotated[float, Meta(ge=0.0, le=1e6)]
    report: Annotated[str, Meta(max_length=REPORT_BYTES)]
    recorded_at: Moment
    created_at: Moment
    part: Line | None


class _TakeNote(Struct):
    take_id: Row
    number: Count
    measure: Line | None
    midi: Midi
    valves: str | None
    partial: Partial | None
    extension_mm: Amount | None
    mark: Line | None
    played: Literal["right", "wrong", "missing", "octave", "unsure", "free"]
    cents: Amount | None
    cents_se: Amount | None
    spread_cents: Amount | None
    slide_mm: Amount | None
    slide_se_mm: Amount | None
    start_s: Amount | None
    end_s: Amount | None
    f0_hz: Hertz | None


class _Recording(Struct):
    take_id: Row
    media_type: Annotated[str, Meta(pattern=r"^audio/[a-z0-9.+\-]{1,40}$")]
    created_at: Moment


class _Fact(Struct):
    """A fact as JSON; whether there are words for it is asked elsewhere."""

    kind: Annotated[str, Meta(pattern=r"^[a-z_0-9]{1,60}\.[a-z_0-9]{1,60}$")]
    values: dict[str, Any] = {}


_Facts: TypeAlias = list[_Fact]


class _ReportNote(Struct):
    measure: Line | None
    note: Line
    mark: Line | None
    played: Literal["right", "wrong", "missing", "octave", "unsure", "free"]
    outside: bool
    confidence: Amount | None
    start_s: Amount | None
    end_s: Amount | None
    cents: Amount | None
    cents_se: Amount | None
    spread_cents: Amount | None
    slide_mm: Amount | None
    slide_se_mm: Amount | None
    place_mm: Amount | None
    heard: Line | None
    told: _Facts


class _ReportHabit(Struct):
    kind: Line
    cents: Amount
    slide_mm: Amount | None
    notes: Count
    of: Count
    told: _Fact


class _ReportPractice(Struct):
    what: _Fact
    why: _Fact
    how: _Fact


class _ReportLeftOut(Struct):
    start_s: Amount
    end_s: Amount
    why: _Fact


class _ReportExtra(Struct):
    start_s: Amount
    midi: Midi
    kind: Line
    measure: str | int | None


class _Report(Struct):
    form: Literal[2]
    kind: Literal["part", "free"]
    title: Line
    horn: _Fact
    horn_name: Line
    a4_hz: Annotated[float, Meta(ge=200.0, le=800.0)]
    summary: _Facts
    doubt: _Fact | None
    notes: list[_ReportNote]
    habits: list[_ReportHabit]
    practice: list[_ReportPractice]
    left_out: list[_ReportLeftOut]
    warnings: _Facts
    positions_mm: list[tuple[Line, Amount]]
    tempo_ratio: Amount | None = None
    offset_cents: Amount = 0.0
    restarts: Count = 0
    extra: list[_ReportExtra] = []
    heard: list[dict[str, Line | Amount | bool | None]] = []
    as_told: _Facts = []


class _Plan(Struct):
    id: Row
    student_id: Row
    start_on: Day
    weeks: Annotated[int, Meta(ge=1, le=520)]
    minutes: Annotated[int, Meta(ge=1, le=600)]
    level: Code
    seed: Row
    created_at: Moment


class _PlanTick(Struct):
    plan_id: Row
    day: Count
    item: Line
    ticked: Flag


class _Exercises(Struct):
    id: Row
    title: Name
    text: Annotated[str, Meta(max_length=TYPED_BYTES)]
    archived_at: Moment | None
    created_at: Moment
    changed_at: Moment


_TABLES: dict[str, type[Struct]] = {
    "setting": _Setting,
    "student": _Student,
    "horn": _Horn,
    "horn_version": _HornVersion,
    "score": _Score,
    "correction": _Correction,
    "correction_edit": _CorrectionEdit,
    "learnt": _Learnt,
    "stand": _Stand,
    "stand_unlearnt": _StandUnlearnt,
    "answer": _Answer,
    "stand_lock": _StandLock,
    "stand_edit": _StandEdit,
    "take": _Take,
    "take_note": _TakeNote,
    "recording": _Recording,
    "plan": _Plan,
    "plan_tick": _PlanTick,
    "exercises": _Exercises,
    "folder": _Folder,
    "folder_file": _FolderFile,
}
_JSON: dict[tuple[str, str], Any] = {
    ("student", "learned"): Valves,
    ("score", "takes"): PartIds,
    ("folder_file", "takes"): PartIds,
    ("horn_version", "told"): _Fact,
    ("stand_lock", "valves"): Valves,
    ("stand_edit", "changes"): list[Change | _Aside],
    ("correction_edit", "changes"): list[Edit],
    ("take", "report"): _Report,
    ("take_note", "valves"): Valves,
    ("learnt", "factors"): dict[KindOfHorn, dict[Weight, Factor]],
    ("learnt", "told"): Told,
    ("answer", "notes"): Notes,
    ("answer", "first"): Wishes,
    ("answer", "second"): Wishes,
}
# What is looked at apart, since it may be large.
_WITHOUT = {"recording": ("data",)}


class RecordingEntry(Struct):
    """A recording in an archive's list."""

    take: Row
    file: Annotated[str, Meta(min_length=1, max_length=1000)]
    media_type: Annotated[str, Meta(pattern=r"^audio/[a-z0-9.+\-]{1,40}$")]
    created_at: str

    def __post_init__(self) -> None:
        Moment(self.created_at)


class About(Struct):
    """What an archive says of itself."""

    what: str
    archive_form: int | None = None


class _Recordings(Struct):
    recordings: list[RecordingEntry]


def read_about(manifest: bytes) -> About:
    """What an archive says of itself. Raises ValueError for anything else."""
    return _decoded(manifest, About)


def read_recordings(manifest: bytes) -> list[RecordingEntry]:
    """The recordings that an archive lists. Raises ValueError for anything else."""
    return _decoded(manifest, _Recordings).recordings


def _decoded(data: bytes, kind: type[_Form]) -> _Form:
    try:
        return msgspec.json.decode(data, type=kind)
    except (msgspec.MsgspecError, RecursionError) as error:
        raise ValueError(str(error)) from error


def tables() -> frozenset[str]:
    """The tables whose rows are checked: all of the newest schema version."""
    return frozenset(_TABLES)


def check_rows(db: Connection) -> None:
    """Check every field of every row of a database of the newest schema version.

    Raises
    ------
    StoreError
        ``store.unreadable_column``, with the table and column of the first that isn't of its form.
    """
    for table, form in _TABLES.items():
        for row in _rows(db, table):
            try:
                msgspec.convert(row, form, dec_hook=_made)
                for column, value in row.items():
                    kind = _JSON.get((table, column))
                    if kind is not None and value is not None:
                        msgspec.json.decode(value, type=kind)
            except (msgspec.MsgspecError, BadData, ValueError, RecursionError):
                column = _wrong_column(table, form, row)
                raise StoreError("store.unreadable_column", table=table, column=column) from None


def _rows(db: Connection, table: str) -> Iterator[dict[str, Any]]:
    names = [
        f'"{row["name"]}"'
        for row in db.execute("SELECT name FROM pragma_table_info(?)", (table,))
        if row["name"] not in _WITHOUT.get(table, ())
    ]
    for row in db.execute(f'SELECT {", ".join(names)} FROM "{table}"'):
        yield dict(row)


def _wrong_column(table: str, form: type[Struct], row: dict[str, Any]) -> str:
    """The first column of a row that isn't of its form."""
    for field in msgspec.structs.fields(form):
        try:
            value = row[field.encode_name]
            msgspec.convert(value, field.type, dec_hook=_made)
            kind = _JSON.get((table, field.encode_name))
            if kind is not None and value is not None:
                msgspec.json.decode(value, type=kind)
        except (msgspec.MsgspecError, BadData, ValueError, RecursionError):
            return field.encode_name
    return table


def _made(kind: type, value: Any) -> Any:
    if not isinstance(value, str):
        raise ValueError(value)
    return kind(value)
