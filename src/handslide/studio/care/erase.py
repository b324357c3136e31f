"""Erasing for good: out of the studio, out of every backup, without remains in any file.

The backups come first and the studio last: when the program is killed in between, what was to go is
still there to be erased again. Archives that were exported elsewhere can't be reached.
"""

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass

from handslide.edges.store.copies import (
    backups_in,
    check_file,
    clear_parts,
    connect_file,
    damage_of,
    damaged_in,
    remove_database,
)
from handslide.edges.store.database import telling
from handslide.ground.errors import NotFound, StoreError
from handslide.studio.care.backups import CARE, make_backup
from handslide.studio.studio import Studio
from handslide.studio.takes.sound import forget_sounds

_STUDENT = "DELETE FROM student WHERE uid = ?"
_TAKE = (
    "DELETE FROM take WHERE created_at = ? AND recorded_at = ? "
    "AND student_id IN (SELECT id FROM student WHERE uid = ?)"
)
_RECORDING = (
    "DELETE FROM recording WHERE take_id IN (SELECT take.id FROM take JOIN student "
    "ON student.id = take.student_id WHERE take.created_at = ? AND take.recorded_at = ? "
    "AND student.uid = ?)"
)
_RECORDINGS_OF = (
    "DELETE FROM recording WHERE take_id IN (SELECT take.id FROM take JOIN student "
    "ON student.id = take.student_id WHERE student.uid = ?)"
)
_RECORDINGS = "DELETE FROM recording"


@dataclass(frozen=True, slots=True)
class Goes:
    """What goes when a student is erased."""

    horns: int
    stands: int
    takes: int
    recordings: int
    backups: int
    """Backup files that the student is taken out of."""


def what_goes(studio: Studio, student_id: int) -> Goes:
    """What would go with a student. Raises NotFound."""
    uid = _uid(studio, student_id)
    with studio.store.read() as db:
        counts = [
            db.execute(f"SELECT count(*) FROM {source} WHERE student_id = ?", (student_id,))
            for source in ("horn", "stand", "take", "recording JOIN take ON take.id = take_id")
        ]
        horns, stands, takes, recordings = (count.fetchone()[0] for count in counts)
    backups = 0
    for found in backups_in(studio.folder):
        try:
            check_file(found.path)
            with closing(connect_file(found.path)) as db:
                has = db.execute("SELECT 1 FROM student WHERE uid = ?", (uid,)).fetchone()
                backups += has is not None
        except StoreError:
            backups += 1  # a damaged one goes as a whole
    return Goes(horns, stands, takes, recordings, backups)


def erase_student(studio: Studio, student_id: int) -> None:
    """Erase a student with all horns, stands, takes and recordings, here and in every backup.

    Damaged files that were put aside are removed whole. Raises NotFound, StoreError.
    """
    with CARE:
        uid = _uid(studio, student_id)
        make_backup(studio, "erasing")
        _erase(studio, _STUDENT, (uid,))


def erase_take(studio: Studio, take_id: int) -> None:
    """Erase a take with its recording, here and in every backup. Raises NotFound, StoreError."""
    _erase(studio, _TAKE, _of_take(studio, take_id))


def erase_recording(studio: Studio, take_id: int) -> None:
    """Erase the recording of a take; the take stays. Raises NotFound, StoreError."""
    _erase(studio, _RECORDING, _of_take(studio, take_id))


def erase_recordings(studio: Studio, student_id: int | None = None) -> None:
    """Erase all recordings of a student, or of all students; the takes stay.

    What is only in memory, for playing notes back, goes too.

    Raises NotFound, StoreError.
    """
    forget_sounds(studio, all_of_them=student_id is None, student_id=student_id)
    if student_id is None:
        _erase(studio, _RECORDINGS, ())
    else:
        _erase(studio, _RECORDINGS_OF, (_uid(studio, student_id),))


def _uid(studio: Studio, student_id: int) -> str:
    with studio.store.read() as db:
        row = db.execute("SELECT uid FROM student WHERE id = ?", (student_id,)).fetchone()
    if row is None:
        raise NotFound("this student isn't in the studio (any more)")
    return str(row["uid"])


def _of_take(studio: Studio, take_id: int) -> tuple[str, str, str]:
    """What a take is known by in every copy, whatever its number there."""
    with studio.store.read() as db:
        row = db.execute(
            "SELECT take.created_at, take.recorded_at, student.uid FROM take "
            "JOIN student ON student.id = take.student_id WHERE take.id = ?",
            (take_id,),
        ).fetchone()
    if row is None:
        raise NotFound("this take isn't in the studio (any more)")
    return tuple(row)


def _erase(studio: Studio, statement: str, values: Sequence[str]) -> None:
    with telling("not all of it could be erased"), CARE:
        clear_parts(studio.folder)
        for path in damaged_in(studio.folder):
            remove_database(path)
        for found in backups_in(studio.folder):
            if damage_of(found.path) is not None:
                remove_database(found.path)  # what can't be read can't be cleaned
                continue
            check_file(found.path)  # one of a newer form isn't ours to change
            with closing(connect_file(found.path)) as db:
                _delete_in_file(db, found.path.name, statement, values)
        with studio.store.write() as db:
            db.execute(statement, values)
        forget_sounds(studio)
        if not studio.store.tidy():
            raise StoreError(
                "it is deleted, but remains are in the studio's log while another page or program "
                "reads: stop the studio and start it again, and they are gone"
            )


def _delete_in_file(
    db: sqlite3.Connection, name: str, statement: str, values: Sequence[str]
) -> None:
    try:
        if db.execute(statement, values).rowcount:
            db.execute("VACUUM")
    except sqlite3.Error as error:
        raise StoreError(
            f"can't erase in the backup {name} ({error}): make room or close what holds it, then "
            "do it again; in the studio nothing was erased yet"
        ) from error
