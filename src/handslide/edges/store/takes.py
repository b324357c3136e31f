"""The tables ``take`` and ``take_note``: what was heard of a student's playing."""

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any

from handslide.edges.files.factjson import fact_of_json
from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now
from handslide.ground.facts import Fact


@dataclass(frozen=True, slots=True)
class NoteRow:
    """A note of a take as stored; the columns of the table ``take_note``.

    ``number`` counts from 0 in playing order and is the note's place in the report. ``played``:
    right, wrong, missing, octave, unsure, or free. ``extension_mm`` is where the slide should be,
    ``slide_mm`` how far it was beyond (positive = too far out). A note that ran together with the
    one before has no cents of its own. None: not known.
    """

    number: int
    measure: str | None
    midi: int
    valves: tuple[str, ...] | None
    partial: int | None
    extension_mm: float | None
    mark: str | None
    played: str
    cents: float | None = None
    cents_se: float | None = None
    spread_cents: float | None = None
    slide_mm: float | None = None
    slide_se_mm: float | None = None
    start_s: float | None = None
    end_s: float | None = None
    f0_hz: float | None = None


_NAMES = tuple(field.name for field in fields(NoteRow))
_COLUMNS = ", ".join(_NAMES)


@dataclass(frozen=True, slots=True)
class TakeLine:
    """A take in a list. ``summary`` is what one line says of it: its counts, or a doubt.

    ``kept``: its recording is in the store.
    """

    id: int
    student_id: int
    student: str
    title: str
    source: str
    kind: str
    summary: tuple[Fact, ...]
    length_s: float
    recorded_at: str
    kept: bool


@dataclass(frozen=True, slots=True)
class Take:
    """A stored take. ``report`` is what its page shows; ``kept``: its recording is in the store.

    ``part`` is the part of the score that it was played from, None for free playing or where it
    isn't known; ``stand_id`` the stand of it, None for free playing or when it is gone.
    """

    id: int
    student_id: int
    horn_version_id: int | None
    score_id: int | None
    stand_id: int | None
    title: str
    source: str
    a4_hz: float
    length_s: float
    report: dict[str, Any]
    recorded_at: str
    created_at: str
    kept: bool
    part: str | None


@dataclass(frozen=True, slots=True)
class JudgedTake:
    """What progress needs of a take: when, at which pitch, on which horn as it was then.

    ``version_id``, ``toml`` and ``temp_c`` are None where the horn is gone. ``doubt`` is there
    where the take didn't fit its part.
    """

    id: int
    recorded_at: str
    a4_hz: float
    version_id: int | None
    toml: str | None
    temp_c: float | None
    doubt: str | None  # the JSON of a fact


@dataclass(frozen=True, slots=True)
class TakeKey:
    """What a take is known by in every copy of the studio, whatever its number there.

    ``student_id`` is the number of its student in this copy.
    """

    created_at: str
    recorded_at: str
    student_uid: str
    student_id: int


def insert_take(
    db: Connection,
    student_id: int,
    report: Mapping[str, Any],
    notes: Iterable[NoteRow],
    *,
    title: str,
    source: str,
    a4_hz: float,
    length_s: float,
    horn_version_id: int | None,
    score_id: int | None,
    part: str | None,
    recorded_at: str,
) -> int:
    """A new take with its notes; its id."""
    done = db.execute(
        "INSERT INTO take (student_id, horn_version_id, score_id, part, title, source, a4_hz, "
        "length_s, report, recorded_at, created_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (student_id, horn_version_id, score_id, part, title, source, a4_hz, length_s,
         json.dumps(report, ensure_ascii=False), recorded_at, now()),
    )  # fmt: skip
    take_id = int(done.lastrowid or 0)
    places = ", ".join("?" * (len(_NAMES) + 1))
    db.executemany(
        f"INSERT INTO take_note (take_id, {_COLUMNS}) VALUES ({places})",
        [(take_id, *_stored(note)) for note in notes],
    )
    return take_id


def find_take(db: Connection, take_id: int) -> Take | None:
    """A take, None where there is none."""
    row = db.execute(
        "SELECT take.*, stand.id AS stand_id, "
        "EXISTS (SELECT 1 FROM recording WHERE take_id = take.id) AS kept FROM take "
        "LEFT JOIN horn_version ON horn_version.id = take.horn_version_id "
        "LEFT JOIN stand ON stand.student_id = take.student_id "
        "AND stand.score_id = take.score_id AND stand.horn_id = horn_version.horn_id "
        # A part that is read unasked may be called by its name, too.
        "WHERE take.id = ? ORDER BY CASE WHEN stand.part = take.part THEN 0 "
        "WHEN stand.part IS NULL THEN 1 ELSE 2 END, stand.id LIMIT 1",
        (take_id,),
    ).fetchone()
    if row is None:
        return None
    return Take(**dict(row) | {"report": json.loads(row["report"]), "kept": bool(row["kept"])})


def select_takes(
    db: Connection, student_id: int | None, *, most: int, after: int
) -> tuple[TakeLine, ...]:
    """The takes of a student, or (None) of all who aren't archived, newest first.

    ``most`` of them (-1: all) from the one at ``after`` on, counted from 0.
    """
    rows = db.execute(
        "SELECT take.id, student_id, student.name AS student, title, source, "
        "json_extract(report, '$.kind') AS kind, "
        "json_extract(report, '$.summary') AS summary, "
        "json_extract(report, '$.doubt') AS doubt, length_s, "
        "recorded_at, EXISTS (SELECT 1 FROM recording WHERE take_id = take.id) AS kept "
        "FROM take JOIN student ON student.id = take.student_id "
        "WHERE ?1 = student_id OR (?1 IS NULL AND student.archived_at IS NULL) "
        "ORDER BY recorded_at DESC, take.id DESC LIMIT ?2 OFFSET ?3",
        (student_id, most, after),
    )
    return tuple(map(_line, rows))


def _line(row: sqlite3.Row) -> TakeLine:
    values = dict(row) | {"kept": bool(row["kept"])}
    doubt, counts = values.pop("doubt"), values.pop("summary")
    facts = json.loads(counts or "[]") if doubt is None else [json.loads(doubt)]
    return TakeLine(**values, summary=tuple(map(fact_of_json, facts)))


def select_last_takes(
    db: Connection, student_id: int, most: int
) -> tuple[tuple[int, str, str, Fact | None], ...]:
    """(id, title, recorded_at, first thing to practise) of a student's last takes, newest first."""
    rows = db.execute(
        "SELECT id, title, recorded_at, json_extract(report, '$.practice[0].what') AS what "
        "FROM take WHERE student_id = ? ORDER BY recorded_at DESC, id DESC LIMIT ?",
        (student_id, most),
    )
    return tuple(
        (row["id"], row["title"], row["recorded_at"],
         None if row["what"] is None else fact_of_json(json.loads(row["what"])))
        for row in rows
    )  # fmt: skip


def select_take_moments(db: Connection) -> tuple[tuple[int, str], ...]:
    """(student_id, recorded_at) of all takes, the oldest first."""
    rows = db.execute("SELECT student_id, recorded_at FROM take ORDER BY recorded_at, id")
    return tuple((row["student_id"], row["recorded_at"]) for row in rows)


def find_take_before(db: Connection, take_id: int) -> int | None:
    """The last take of the same part, or of free playing too, that the student made before.

    Takes that didn't fit their part don't count. None where there is none.
    """
    row = db.execute(
        "SELECT other.id FROM take JOIN take AS other ON other.student_id = take.student_id "
        "AND other.score_id IS take.score_id "
        "AND (other.part IS take.part OR other.part IS NULL OR take.part IS NULL) "
        "AND (other.recorded_at, other.id) < (take.recorded_at, take.id) "
        "AND json_extract(other.report, '$.doubt') IS NULL "
        "WHERE take.id = ? ORDER BY other.recorded_at DESC, other.id DESC LIMIT 1",
        (take_id,),
    ).fetchone()
    return None if row is None else int(row["id"])


def find_last_take(
    db: Connection, student_id: int, score_id: int, part: str, horn_id: int
) -> int | None:
    """The last take that a student made of a part on a horn and that fitted it; None without.

    Of some it isn't known which part of the score they were played from.
    """
    row = db.execute(
        "SELECT take.id FROM take JOIN horn_version ON horn_version.id = take.horn_version_id "
        "WHERE take.student_id = ? AND take.score_id = ? AND horn_version.horn_id = ? "
        "AND (take.part IS NULL OR take.part = ?) "
        "AND json_extract(take.report, '$.doubt') IS NULL "
        "ORDER BY take.recorded_at DESC, take.id DESC LIMIT 1",
        (student_id, score_id, horn_id, part),
    ).fetchone()
    return None if row is None else int(row["id"])


def select_notes(db: Connection, take_id: int) -> tuple[NoteRow, ...]:
    """The notes of a take, in playing order."""
    rows = db.execute(
        f"SELECT {_COLUMNS} FROM take_note WHERE take_id = ? ORDER BY number", (take_id,)
    )
    return tuple(_note(row) for row in rows)


def update_take_title(db: Connection, take_id: int, title: str) -> None:
    """Give a take another title."""
    db.execute("UPDATE take SET title = ? WHERE id = ?", (title, take_id))


def number_of_takes(db: Connection, student_id: int | None = None) -> int:
    """How many takes a student has, or all."""
    found = db.execute(
        "SELECT count(*) FROM take WHERE ?1 IS NULL OR student_id = ?1", (student_id,)
    )
    return int(found.fetchone()[0])


def find_take_key(db: Connection, take_id: int) -> TakeKey | None:
    """What a take is known by, None where there is none."""
    row = db.execute(
        "SELECT take.created_at, take.recorded_at, student.uid AS student_uid, take.student_id "
        "FROM take JOIN student ON student.id = take.student_id WHERE take.id = ?",
        (take_id,),
    ).fetchone()
    return None if row is None else TakeKey(**dict(row))


def select_take_owners(db: Connection) -> dict[tuple[int, str], int]:
    """The student of every take, by the take's id and when it was made."""
    rows = db.execute("SELECT id, created_at, student_id FROM take")
    return {(row["id"], row["created_at"]): row["student_id"] for row in rows}


# For progress.


def select_judged_takes(
    db: Connection,
    student_id: int,
    *,
    horn_id: int | None,
    score_id: int | None,
    since: str | None,
    until: str | None,
) -> tuple[JudgedTake, ...]:
    """A student's takes from ``since`` to before ``until`` (stored times), the oldest first.

    None: of any horn, any part, any time.
    """
    rows = db.execute(
        "SELECT take.id, take.recorded_at, take.a4_hz, horn_version.id AS version_id, "
        "horn_version.toml, horn.temp_c, json_extract(take.report, '$.doubt') AS doubt "
        "FROM take LEFT JOIN horn_version ON horn_version.id = take.horn_version_id "
        "LEFT JOIN horn ON horn.id = horn_version.horn_id "
        "WHERE take.student_id = ?1 AND (?2 IS NULL OR horn.id = ?2) "
        "AND (?3 IS NULL OR take.score_id = ?3) AND (?4 IS NULL OR take.recorded_at >= ?4) "
        "AND (?5 IS NULL OR take.recorded_at < ?5) ORDER BY take.recorded_at, take.id",
        (student_id, horn_id, score_id, since, until),
    )
    return tuple(JudgedTake(**dict(row)) for row in rows)


def select_horns_played(db: Connection, student_id: int) -> tuple[tuple[int, str], ...]:
    """(id, title) of the horns that a student has takes of."""
    rows = db.execute(
        "SELECT DISTINCT horn.id, horn.title FROM take "
        "JOIN horn_version ON horn_version.id = take.horn_version_id "
        "JOIN horn ON horn.id = horn_version.horn_id WHERE take.student_id = ? ORDER BY horn.id",
        (student_id,),
    )
    return tuple((row["id"], row["title"]) for row in rows)


def select_scores_played(db: Connection, student_id: int) -> tuple[tuple[int, str], ...]:
    """(id, title) of the parts that a student has takes of, by title."""
    rows = db.execute(
        "SELECT DISTINCT score.id, score.title FROM take JOIN score ON score.id = take.score_id "
        "WHERE take.student_id = ? ORDER BY score.title COLLATE NOCASE, score.id",
        (student_id,),
    )
    return tuple((row["id"], row["title"]) for row in rows)


def _stored(note: NoteRow) -> tuple[Any, ...]:
    valves = None if note.valves is None else json.dumps(note.valves)
    return tuple(valves if name == "valves" else getattr(note, name) for name in _NAMES)


def _note(row: sqlite3.Row) -> NoteRow:
    valves = None if row["valves"] is None else _valves(row["valves"])
    return NoteRow(**dict(row) | {"valves": valves})


@lru_cache(maxsize=64)
def _valves(text: str) -> tuple[str, ...]:
    return tuple(json.loads(text))
