"""What is erased for good, in the studio as in each copy: found by what is the same there."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import TypeAlias

from handslide.edges.store.connection import Connection, connect_file
from handslide.edges.store.takes import TakeKey
from handslide.ground.errors import StoreError

Deletion: TypeAlias = Callable[[Connection], int]
"""Deletes something in one database; how many rows of it were there."""

_TAKE_OF = (
    "SELECT take.id FROM take JOIN student ON student.id = take.student_id "
    "WHERE take.created_at = ? AND take.recorded_at = ? AND student.uid = ?"
)


def student_deletion(uid: str) -> Deletion:
    """A student with all that is the student's."""
    return lambda db: db.execute("DELETE FROM student WHERE uid = ?", (uid,)).rowcount


def take_deletion(key: TakeKey) -> Deletion:
    """A take with its notes and its recording."""
    statement = f"DELETE FROM take WHERE id IN ({_TAKE_OF})"
    return lambda db: db.execute(statement, _values(key)).rowcount


def recording_deletion(key: TakeKey) -> Deletion:
    """The recording of a take."""
    statement = f"DELETE FROM recording WHERE take_id IN ({_TAKE_OF})"
    return lambda db: db.execute(statement, _values(key)).rowcount


def recordings_deletion(uid: str | None) -> Deletion:
    """All recordings of a student, or (None) of everybody."""
    if uid is None:
        return lambda db: db.execute("DELETE FROM recording").rowcount
    statement = (
        "DELETE FROM recording WHERE take_id IN (SELECT take.id FROM take JOIN student "
        "ON student.id = take.student_id WHERE student.uid = ?)"
    )
    return lambda db: db.execute(statement, (uid,)).rowcount


def delete_in_file(path: Path, delete: Deletion) -> None:
    """Delete something in a backup of the studio, without remains. Raises StoreError."""
    try:
        with closing(connect_file(path)) as db:
            if delete(db):
                db.execute("VACUUM")
    except sqlite3.Error as error:
        raise StoreError("store.backup_kept_it", file=path.name, reason=str(error)) from error


def _values(key: TakeKey) -> tuple[str, str, str]:
    return key.created_at, key.recorded_at, key.student_uid
