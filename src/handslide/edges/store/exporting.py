"""What is in the store, for people and other programs to read."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from handslide.edges.store.connection import Connection


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of a table under the ``names`` of its columns."""

    names: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]


@dataclass(frozen=True, slots=True)
class ScoreFile:
    """A part as it was put in."""

    id: int
    file_name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class HornFile:
    """A version of a horn as a horn file."""

    horn_id: int
    title: str
    number: int
    toml: str
    newest: bool


@dataclass(frozen=True, slots=True)
class TakeFile:
    """A take: its report as JSON; ``media_type`` and ``kept_at`` where a recording is kept."""

    id: int
    title: str
    report: str
    recorded_at: str
    media_type: str | None
    kept_at: str | None


def student_names(db: Connection) -> tuple[tuple[int, str], ...]:
    """(id, name) of all students, by id."""
    rows = db.execute("SELECT id, name FROM student ORDER BY id")
    return tuple((row["id"], row["name"]) for row in rows)


def student_rows(db: Connection) -> Rows:
    """All that is said of the students."""
    return _rows(
        db,
        "SELECT id, name, about, reach, learned, clef, names, language, marks, profile, show, "
        "consent_note, consent_on, keep_recordings, example, archived_at, created_at "
        "FROM student ORDER BY id",
    )


def stand_rows(db: Connection, student_id: int) -> Rows:
    """The parts on a student's stands."""
    return _rows(
        db,
        "SELECT score.title AS part_title, score.file_name, horn.title AS horn, stand.part, "
        "stand.voice, stand.tempo_qpm, stand.opened_at, stand.seen_to AS looked_at_to_note, "
        "(SELECT count(*) FROM stand_lock WHERE stand_id = stand.id) AS chosen_places FROM stand "
        "JOIN score ON score.id = score_id "
        "JOIN horn ON horn.id = horn_id WHERE stand.student_id = ? ORDER BY stand.id",
        student_id,
    )


def note_rows(db: Connection, take_id: int) -> Rows:
    """The notes of a take, in playing order."""
    found = _rows(db, "SELECT * FROM take_note WHERE take_id = ? ORDER BY number", take_id)
    own = found.names.index("take_id")
    return Rows(
        found.names[:own] + found.names[own + 1 :],
        tuple(row[:own] + row[own + 1 :] for row in found.rows),
    )


def score_files(db: Connection) -> Iterator[ScoreFile]:
    """All parts, one after the other."""
    for row in db.execute("SELECT id, file_name, data FROM score ORDER BY id"):
        yield ScoreFile(row["id"], row["file_name"], bytes(row["data"]))


def exercises_files(db: Connection) -> Iterator[tuple[int, str, str]]:
    """(id, title, text) of the teacher's own exercises, those that were put away, too."""
    for row in db.execute("SELECT id, title, text FROM exercises ORDER BY id"):
        yield row["id"], row["title"], row["text"]


def horn_files(db: Connection, student_id: int) -> tuple[HornFile, ...]:
    """All versions of a student's horns, the oldest first."""
    rows = db.execute(
        "SELECT horn.id, horn.title, number, toml, "
        "number = (SELECT max(number) FROM horn_version WHERE horn_id = horn.id) AS newest "
        "FROM horn_version JOIN horn ON horn.id = horn_id WHERE student_id = ? "
        "ORDER BY horn.id, number",
        (student_id,),
    )
    return tuple(
        HornFile(row["id"], row["title"], row["number"], row["toml"], bool(row["newest"]))
        for row in rows
    )


def take_files(db: Connection, student_id: int) -> Iterator[TakeFile]:
    """All takes of a student, one after the other."""
    rows = db.execute(
        "SELECT take.id, title, report, recorded_at, media_type, recording.created_at FROM take "
        "LEFT JOIN recording ON take_id = take.id WHERE student_id = ? ORDER BY take.id",
        (student_id,),
    )
    for row in rows:
        yield TakeFile(*row)


def recording_blocks(db: Connection, take_id: int, block_bytes: int) -> Iterator[bytes]:
    """The sound of a take, block by block."""
    with closing(db.blobopen("recording", "data", take_id, readonly=True)) as blob:
        while block := blob.read(block_bytes):
            yield block


def _rows(db: Connection, statement: str, *values: object) -> Rows:
    found = db.execute(statement, values)
    names = tuple(column[0] for column in found.description)
    return Rows(names, tuple(tuple(row) for row in found))
