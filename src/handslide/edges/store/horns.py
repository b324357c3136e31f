"""The tables ``horn`` and ``horn_version``: horns of students, each with its history."""

import json
import sqlite3
from dataclasses import dataclass
from functools import cached_property

from handslide.edges.files.factjson import fact_of_json, to_json
from handslide.edges.files.horns import read_horn
from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now
from handslide.ground.errors import HornError
from handslide.ground.facts import Fact
from handslide.instrument.horn import HornDescription


@dataclass(frozen=True)
class HornVersion:
    """One version of a student's horn. ``origin``: how it came to be; ``told``: what was done."""

    id: int
    horn_id: int
    number: int
    toml: str
    origin: str
    created_at: str
    told: Fact | None

    @cached_property
    def description(self) -> HornDescription:
        """The horn that it describes. Raises HornError."""
        return read_horn(self.toml, horn_name(self.horn_id))


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

    @property
    def description(self) -> HornDescription:
        """The horn in its newest version. Raises HornError, which says what to do."""
        try:
            return self.version.description
        except HornError as error:
            cause = error.fact["cause"] if error.fact.kind == "horn.in_file" else error.fact
            raise HornError("horn.unread", horn=self.title, cause=cause) from None


def horn_name(horn_id: int) -> str:
    """The name by which errors and JSON call a student's horn."""
    return f"horn-{horn_id}"


def insert_horn(
    db: Connection, student_id: int, *, title: str, base: str, a4_hz: float, main: bool
) -> int:
    """A new horn, without a version as yet; its id."""
    done = db.execute(
        "INSERT INTO horn (student_id, title, base, a4_hz, main, created_at) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        (student_id, title, base, a4_hz, int(main), now()),
    )
    return int(done.lastrowid or 0)


def insert_version(
    db: Connection, horn_id: int, toml: str, origin: str, told: Fact | None
) -> HornVersion:
    """The next version of a horn, which is in use from now on."""
    db.execute(
        "INSERT INTO horn_version (horn_id, number, toml, origin, told, created_at) "
        "VALUES (?, (SELECT coalesce(max(number), 0) + 1 FROM horn_version "
        "WHERE horn_id = ?), ?, ?, ?, ?)",
        (horn_id, horn_id, toml, origin, _stored(told), now()),
    )
    return _newest(db, horn_id)


def find_horn(db: Connection, horn_id: int) -> StudentHorn | None:
    """A horn in its newest version, None where there is none of that number."""
    row = db.execute("SELECT * FROM horn WHERE id = ?", (horn_id,)).fetchone()
    return None if row is None else _horn(db, row)


def select_horns(db: Connection, student_id: int, *, archived: bool) -> tuple[StudentHorn, ...]:
    """A student's horns in use, or the archived ones; the main one first."""
    rows = db.execute(
        "SELECT * FROM horn WHERE student_id = ? AND (archived_at IS NOT NULL) = ? "
        "ORDER BY main DESC, id",
        (student_id, archived),
    ).fetchall()
    return tuple(_horn(db, row) for row in rows)


def select_versions(db: Connection, horn_id: int) -> tuple[HornVersion, ...]:
    """All versions of a horn, the newest first."""
    rows = db.execute(
        "SELECT * FROM horn_version WHERE horn_id = ? ORDER BY number DESC", (horn_id,)
    )
    return tuple(_version(row) for row in rows)


def update_horn(
    db: Connection, horn_id: int, *, title: str, a4_hz: float, temp_c: float | None
) -> None:
    """Change what has no history."""
    db.execute(
        "UPDATE horn SET title = ?, a4_hz = ?, temp_c = ? WHERE id = ?",
        (title, a4_hz, temp_c, horn_id),
    )


def update_horn_archived(db: Connection, horn_id: int, *, archived: bool) -> None:
    """Put a horn into the archive, or take it out; it isn't the main one any more."""
    when = now() if archived else None
    db.execute("UPDATE horn SET archived_at = ?, main = 0 WHERE id = ?", (when, horn_id))


def update_main_horn(db: Connection, student_id: int, horn_id: int) -> None:
    """Make one of a student's horns the main one, and only this one."""
    db.execute("UPDATE horn SET main = (id = ?) WHERE student_id = ?", (horn_id, student_id))


def _horn(db: Connection, row: sqlite3.Row) -> StudentHorn:
    keys = dict(row) | {"main": bool(row["main"])}
    return StudentHorn(**keys, version=_newest(db, row["id"]))


def _newest(db: Connection, horn_id: int) -> HornVersion:
    row = db.execute(
        "SELECT * FROM horn_version WHERE horn_id = ? ORDER BY number DESC LIMIT 1", (horn_id,)
    ).fetchone()
    return _version(row)


def _version(row: sqlite3.Row) -> HornVersion:
    told = None if row["told"] is None else fact_of_json(json.loads(row["told"]))
    return HornVersion(**dict(row) | {"told": told})


def _stored(told: Fact | None) -> str | None:
    return None if told is None else json.dumps(to_json(told), ensure_ascii=False)
