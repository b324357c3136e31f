"""The table ``student``."""

import json
import sqlite3
from dataclasses import asdict, dataclass, fields
from typing import Any

from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now


@dataclass(frozen=True, slots=True)
class Student:
    """A student as stored; ``learned`` None: all valves; ``clef`` None: the horn's usual one.

    ``language`` is that of what is printed for the student; None: the studio's. ``names`` is how
    notes are named; empty: as the language does.

    ``uid`` is the same in all backups and archives, whatever the ``id`` there.
    """

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
    uid: str
    language: str | None


@dataclass(frozen=True, slots=True)
class StudentValues:
    """What a teacher says of a student; the same meanings as in `Student`.

    ``consent_note`` says who agreed to recordings, and how; ``consent_on`` is that day as
    YYYY-MM-DD (None: today, where there is a note).
    """

    name: str
    about: str = ""
    reach: float | None = None
    learned: tuple[str, ...] | None = None
    clef: str | None = None
    names: str = ""
    marks: str = ""
    profile: str = "classical"
    show: str = "all"
    consent_note: str | None = None
    consent_on: str | None = None
    keep_recordings: bool = False
    language: str | None = None


_COLUMNS = tuple(field.name for field in fields(StudentValues))


def insert_student(db: Connection, values: StudentValues, *, example: bool) -> int:
    """A new student; the id."""
    names = (*_COLUMNS, "example", "created_at")
    done = db.execute(
        f"INSERT INTO student ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})",
        (*_stored(values), int(example), now()),
    )
    return int(done.lastrowid or 0)


def update_student(db: Connection, student_id: int, values: StudentValues) -> None:
    """Give a student other values."""
    sets = ", ".join(f"{name} = ?" for name in _COLUMNS)
    db.execute(f"UPDATE student SET {sets} WHERE id = ?", (*_stored(values), student_id))


def find_student(db: Connection, student_id: int) -> Student | None:
    """A student, None where there is none of that number."""
    row = db.execute("SELECT * FROM student WHERE id = ?", (student_id,)).fetchone()
    return None if row is None else _student(row)


def select_students(db: Connection, *, archived: bool) -> tuple[Student, ...]:
    """All students by name: those in lessons, or the archived ones."""
    rows = db.execute(
        "SELECT * FROM student WHERE (archived_at IS NOT NULL) = ? "
        "ORDER BY name COLLATE NOCASE, id",
        (archived,),
    )
    return tuple(_student(row) for row in rows)


def update_student_archived(db: Connection, student_id: int, *, archived: bool) -> None:
    """Put a student into the archive, or take the student out."""
    when = now() if archived else None
    db.execute("UPDATE student SET archived_at = ? WHERE id = ?", (when, student_id))


def number_of_students(db: Connection) -> int:
    """How many students there are, the archived ones too."""
    return int(db.execute("SELECT count(*) FROM student").fetchone()[0])


def select_student_uids(db: Connection) -> tuple[tuple[str, str], ...]:
    """(name, uid) of all students, by name."""
    rows = db.execute("SELECT name, uid FROM student ORDER BY name COLLATE NOCASE")
    return tuple((row["name"], row["uid"]) for row in rows)


def select_names(db: Connection) -> tuple[tuple[int, str, str | None, str], ...]:
    """(id, name, title of the main horn, created_at) of all students, the archived ones too."""
    rows = db.execute(
        "SELECT id, name, (SELECT title FROM horn WHERE student_id = student.id "
        "AND archived_at IS NULL ORDER BY main DESC, id LIMIT 1) AS horn, created_at "
        "FROM student ORDER BY id"
    )
    return tuple(tuple(row) for row in rows)


def has_student(db: Connection, uid: str) -> bool:
    """Whether a student is in a copy of the studio."""
    return db.execute("SELECT 1 FROM student WHERE uid = ?", (uid,)).fetchone() is not None


def _stored(values: StudentValues) -> tuple[Any, ...]:
    row = asdict(values)
    row["learned"] = None if values.learned is None else json.dumps(values.learned)
    row["keep_recordings"] = int(values.keep_recordings)
    return tuple(row.values())


def _student(row: sqlite3.Row) -> Student:
    learned = None if row["learned"] is None else tuple(json.loads(row["learned"]))
    told = {name: bool(row[name]) for name in ("keep_recordings", "example")}
    return Student(**dict(row) | {"learned": learned} | told)
