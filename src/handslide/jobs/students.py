"""Students of a studio and their horns, each horn with its history."""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from handslide.edges.store import now
from handslide.edges.tomlfile import read_horn
from handslide.ground.errors import BadData, NotFound
from handslide.instrument.horn import HornDescription
from handslide.jobs.setup import Setup, make_setup
from handslide.jobs.studio import Studio

ORIGINS = ("model", "edit", "fit", "tuning", "restored", "import")
_MOST_WORDS = 500


@dataclass(frozen=True, slots=True)
class Student:
    """A student as stored; ``learned`` None: all valves; ``clef`` None: the horn's usual one."""

    id: int
    name: str
    about: str
    reach: float | None
    learned: tuple[str, ...] | None
    clef: str | None
    names: str
    marks: str
    profile: str
    show: str
    consent_note: str | None
    consent_on: str | None
    keep_recordings: bool
    example: bool
    archived_at: str | None
    created_at: str


@dataclass(frozen=True, slots=True)
class HornVersion:
    """One version of a student's horn. ``origin``: how it came to be; ``words``: in words."""

    id: int
    horn_id: int
    number: int
    toml: str
    origin: str
    words: str
    created_at: str

    @property
    def description(self) -> HornDescription:
        """The horn that it describes."""
        return _parsed(self.toml, f"horn-{self.horn_id}")


@dataclass(frozen=True, slots=True)
class StudentHorn:
    """A student's horn in its newest ``version``."""

    id: int
    student_id: int
    title: str
    base: str
    a4_hz: float
    temp_c: float | None
    main: bool
    archived_at: str | None
    created_at: str
    version: HornVersion


@lru_cache(maxsize=256)
def _parsed(toml: str, name: str) -> HornDescription:
    return read_horn(toml, name)


def get_student(studio: Studio, student_id: int) -> Student:
    """A student. Raises NotFound."""
    with studio.store.read() as db:
        row = db.execute("SELECT * FROM student WHERE id = ?", (student_id,)).fetchone()
    if row is None:
        raise NotFound("this student isn't in the studio (any more)")
    return _student(row)


def list_students(studio: Studio, *, archived: bool = False) -> tuple[Student, ...]:
    """All students by name: those in lessons, or the archived ones."""
    kept = "NOT NULL" if archived else "NULL"
    with studio.store.read() as db:
        rows = db.execute(
            f"SELECT * FROM student WHERE archived_at IS {kept} ORDER BY name COLLATE NOCASE, id"
        ).fetchall()
    return tuple(_student(row) for row in rows)


def get_horn(studio: Studio, horn_id: int) -> StudentHorn:
    """A student's horn in its newest version. Raises NotFound."""
    with studio.store.read() as db:
        row = db.execute("SELECT * FROM horn WHERE id = ?", (horn_id,)).fetchone()
        if row is None:
            raise NotFound("this horn isn't in the studio (any more)")
        return _horn(row, _newest(db, horn_id))


def list_horns_of(
    studio: Studio, student_id: int, *, archived: bool = False
) -> tuple[StudentHorn, ...]:
    """A student's horns, the main one first."""
    kept = "NOT NULL" if archived else "NULL"
    with studio.store.read() as db:
        rows = db.execute(
            f"SELECT * FROM horn WHERE student_id = ? AND archived_at IS {kept} "
            "ORDER BY main DESC, id",
            (student_id,),
        ).fetchall()
        return tuple(_horn(row, _newest(db, row["id"])) for row in rows)


def main_horn(studio: Studio, student_id: int) -> StudentHorn:
    """The horn that a student plays unless another is chosen. Raises NotFound."""
    horns = list_horns_of(studio, student_id)
    if not horns:
        raise NotFound("this student has no horn yet: give one first")
    return horns[0]


def list_versions(studio: Studio, horn_id: int) -> tuple[HornVersion, ...]:
    """All versions of a horn, the newest first."""
    with studio.store.read() as db:
        rows = db.execute(
            "SELECT * FROM horn_version WHERE horn_id = ? ORDER BY number DESC", (horn_id,)
        ).fetchall()
    return tuple(HornVersion(**dict(row)) for row in rows)


def add_version(
    studio: Studio, horn_id: int, toml: str, origin: str, words: str = ""
) -> HornVersion:
    """Put a new version of a horn in use; the former ones stay in its history.

    ``toml`` is the text of a horn file, ``origin`` one of ``ORIGINS``, ``words`` say what was done.

    Raises
    ------
    HornError
        When the text doesn't describe a horn.
    NotFound
        When there is no such horn.
    """
    if origin not in ORIGINS:
        raise BadData(f"{origin!r} isn't an origin of a horn: {', '.join(ORIGINS)}")
    horn = get_horn(studio, horn_id)
    read_horn(toml, horn.title)
    with studio.store.write() as db:
        insert_version(db, horn_id, toml, origin, words)
        return HornVersion(**dict(_newest(db, horn_id)))


def insert_version(
    db: sqlite3.Connection, horn_id: int, toml: str, origin: str, words: str
) -> None:
    """The next version of a horn, unchecked, in the transaction of ``db``."""
    db.execute(
        "INSERT INTO horn_version (horn_id, number, toml, origin, words, created_at) "
        "VALUES (?, (SELECT coalesce(max(number), 0) + 1 FROM horn_version "
        "WHERE horn_id = ?), ?, ?, ?, ?)",
        (horn_id, horn_id, toml, origin, words.strip()[:_MOST_WORDS], now()),
    )


def setup_for(student: Student, horn: StudentHorn) -> Setup:
    """The setup of a student with a horn. Learned valves that this horn lacks are passed over."""
    description = horn.version.description
    has = {valve.name for valve in description.valves}
    learned = student.learned
    return make_setup(
        description,
        a4_hz=horn.a4_hz,
        temp_c=horn.temp_c,
        reach=student.reach,
        learned=None if learned is None else [name for name in learned if name in has],
        profile=student.profile,
        marks=student.marks,
    )


def _newest(db: sqlite3.Connection, horn_id: int) -> sqlite3.Row:
    row: sqlite3.Row = db.execute(
        "SELECT * FROM horn_version WHERE horn_id = ? ORDER BY number DESC LIMIT 1", (horn_id,)
    ).fetchone()
    return row


def _student(row: sqlite3.Row) -> Student:
    keys = {key: row[key] for key in row.keys()}  # noqa: SIM118 (a Row iterates over values)
    learned: Sequence[str] | None = None if row["learned"] is None else json.loads(row["learned"])
    keys["learned"] = None if learned is None else tuple(learned)
    keys["keep_recordings"] = bool(row["keep_recordings"])
    keys["example"] = bool(row["example"])
    return Student(**keys)


def _horn(row: sqlite3.Row, version: sqlite3.Row) -> StudentHorn:
    keys = {key: row[key] for key in row.keys()}  # noqa: SIM118
    keys["main"] = bool(row["main"])
    return StudentHorn(**keys, version=HornVersion(**dict(version)))
