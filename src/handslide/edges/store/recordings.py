"""The table ``recording``: the sound of takes, kept only where a student's consent allows it."""

import sqlite3
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass

from handslide.edges.store.connection import Connection, transaction
from handslide.edges.store.database import now
from handslide.ground.errors import StoreError


@dataclass(frozen=True, slots=True)
class RecordingsOf:
    """The kept recordings of a student, with the note of consent that they were kept by."""

    student_id: int
    student: str
    count: int
    length_s: float
    size_bytes: int
    consent_note: str | None
    consent_on: str | None


def insert_recording(db: Connection, take_id: int, media_type: str, data: bytes) -> None:
    """Keep the sound of a take."""
    db.execute(
        "INSERT INTO recording (take_id, media_type, data, created_at) VALUES (?, ?, ?, ?)",
        (take_id, media_type, data, now()),
    )


def insert_recording_blocks(
    db: Connection,
    take_id: int,
    media_type: str,
    blocks: Iterable[bytes],
    *,
    size_bytes: int,
    created_at: str,
) -> None:
    """Keep a sound that comes in blocks. Raises StoreError when there is no such take."""
    try:
        db.execute(
            "INSERT INTO recording (take_id, media_type, data, created_at) "
            "VALUES (?, ?, zeroblob(?), ?)",
            (take_id, media_type, size_bytes, created_at),
        )
    except sqlite3.IntegrityError as error:
        raise StoreError("store.recording_without_take") from error
    with closing(db.blobopen("recording", "data", take_id)) as blob:
        for block in blocks:
            blob.write(block)


def find_recording(db: Connection, take_id: int) -> tuple[str, int] | None:
    """Media type and size in bytes of a take's sound, None where none is kept."""
    row = db.execute(
        "SELECT media_type, length(data) AS size FROM recording WHERE take_id = ?", (take_id,)
    ).fetchone()
    return None if row is None else (row["media_type"], row["size"])


def read_recording(db: Connection, take_id: int, first: int, count: int) -> bytes | None:
    """``count`` bytes of a take's sound from ``first`` on, None where none is kept."""
    row = db.execute(
        "SELECT substr(data, ?, ?) AS piece FROM recording WHERE take_id = ?",
        (first + 1, count, take_id),
    ).fetchone()
    return None if row is None else bytes(row["piece"])


def number_of_recordings(db: Connection, student_id: int | None = None) -> int:
    """How many recordings of a student are kept, or of all."""
    found = db.execute(
        "SELECT count(*) FROM recording JOIN take ON take.id = take_id "
        "WHERE ?1 IS NULL OR student_id = ?1",
        (student_id,),
    )
    return int(found.fetchone()[0])


def size_of_recordings(db: Connection) -> int:
    """How many bytes all recordings have."""
    return int(db.execute("SELECT coalesce(sum(length(data)), 0) FROM recording").fetchone()[0])


def select_recordings_by_student(db: Connection) -> tuple[RecordingsOf, ...]:
    """Who has recordings, by name."""
    rows = db.execute(
        "SELECT student.id AS student_id, student.name AS student, count(*) AS count, "
        "sum(take.length_s) AS length_s, sum(length(recording.data)) AS size_bytes, "
        "student.consent_note, student.consent_on "
        "FROM recording JOIN take ON take.id = take_id JOIN student ON student.id = student_id "
        "GROUP BY student.id ORDER BY student.name COLLATE NOCASE, student.id"
    )
    return tuple(RecordingsOf(**dict(row)) for row in rows)


def carry_recordings(here: Connection, there: Connection) -> None:
    """Copy the recordings of one database into another where that has their takes."""
    with transaction(there):
        for row in here.execute(
            "SELECT student.uid, take.created_at AS take_created_at, take.recorded_at, recording.* "
            "FROM recording JOIN take ON take.id = recording.take_id "
            "JOIN student ON student.id = take.student_id"
        ):
            there.execute(
                "INSERT OR IGNORE INTO recording (take_id, media_type, data, created_at) "
                "SELECT take.id, ?, ?, ? FROM take JOIN student ON student.id = take.student_id "
                "WHERE student.uid = ? AND take.created_at = ? AND take.recorded_at = ?",
                (row["media_type"], row["data"], row["created_at"],
                 row["uid"], row["take_created_at"], row["recorded_at"]),
            )  # fmt: skip
