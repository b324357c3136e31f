"""The tables ``stand``, ``stand_lock`` and ``stand_edit``: parts on stands, and their choices."""

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal, TypeAlias

from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now

Wish: TypeAlias = tuple[tuple[str, ...], int]
"""A place as it is kept: valves and partial. With the pitch they name one place of a horn."""
Change: TypeAlias = tuple[int, Wish | None, Wish | None]
"""A written note, its lock before and after."""


@dataclass(frozen=True, slots=True)
class Aside:
    """Of an edit: the note up to which the teacher has looked, or the id of what was learnt that
    the part is marked with, before and after.
    """

    what: Literal["seen_to", "learnt"]
    before: int | None
    after: int | None


@dataclass(frozen=True, slots=True)
class Stand:
    """A part on a student's stand, as stored. ``edits_done`` edits are in force.

    ``sounds``: how it sounds where its file states no transposition, as `Score.read_part` takes it.
    ``seen_to`` is the written note up to which the teacher has looked at all places; ``learnt_id``
    what was learnt when it was put there (None: the student's profile as it is). ``part`` None is
    the one that is read unasked; ``part_name`` is what the score calls it, empty where it wasn't
    looked up.
    """

    id: int
    student_id: int
    horn_id: int
    score_id: int
    part: str | None
    part_name: str
    voice: str | None
    tempo_qpm: float
    small_notes: bool
    edits_done: int
    created_at: str
    opened_at: str
    sounds: str | None
    seen_to: int | None
    learnt_id: int | None


@dataclass(frozen=True, slots=True)
class StandRow:
    """A stand in a list, with the names that it needs there."""

    id: int
    student_id: int
    student: str
    horn_id: int
    horn: str
    score_id: int
    title: str
    composer: str
    locks: int
    opened_at: str
    part: str | None
    part_name: str


def insert_stand(
    db: Connection,
    student_id: int,
    horn_id: int,
    score_id: int,
    part: str | None,
    part_name: str,
    voice: str | None,
    learnt_id: int | None = None,
) -> int:
    """Put a part of a score, which isn't there for this horn, on a stand; the stand's id."""
    moment = now()
    done = db.execute(
        "INSERT INTO stand (student_id, horn_id, score_id, part, part_name, voice, learnt_id, "
        "created_at, opened_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (student_id, horn_id, score_id, part, part_name, voice, learnt_id, moment, moment),
    )
    return int(done.lastrowid or 0)


def open_now(db: Connection, stand_id: int) -> None:
    """A stand was opened now."""
    db.execute("UPDATE stand SET opened_at = ? WHERE id = ?", (now(), stand_id))


def parts_on_stand(
    db: Connection, student_id: int, horn_id: int, score_id: int
) -> dict[int, str | None]:
    """The parts of a score that a student has on the stand for a horn, by the stands' ids."""
    rows = db.execute(
        "SELECT id, part FROM stand WHERE student_id = ? AND horn_id = ? AND score_id = ? "
        "ORDER BY id",
        (student_id, horn_id, score_id),
    )
    return {row["id"]: row["part"] for row in rows}


def select_parts(db: Connection) -> tuple[tuple[int, int, int, str | None, str], ...]:
    """(id, student_id, score_id, part, part_name) of all stands, the archived ones too."""
    rows = db.execute("SELECT id, student_id, score_id, part, part_name FROM stand ORDER BY id")
    return tuple(tuple(row) for row in rows)


def find_stand(db: Connection, stand_id: int) -> Stand | None:
    """A stand, None where there is none of that number."""
    row = db.execute("SELECT * FROM stand WHERE id = ?", (stand_id,)).fetchone()
    return None if row is None else _stand(row)


def select_stands(
    db: Connection, student_id: int | None, score_id: int | None
) -> tuple[StandRow, ...]:
    """Stands, the last opened first; of one student, of one score, or (None) all.

    What belongs to something archived is left out.
    """
    rows = db.execute(
        "SELECT stand.id, stand.student_id, student.name AS student, stand.horn_id, "
        "horn.title AS horn, stand.score_id, score.title, score.composer, "
        "(SELECT count(*) FROM stand_lock WHERE stand_id = stand.id) AS locks, "
        "stand.opened_at, stand.part, stand.part_name FROM stand "
        "JOIN student ON student.id = stand.student_id "
        "JOIN horn ON horn.id = stand.horn_id JOIN score ON score.id = stand.score_id "
        "WHERE (?1 IS NULL OR stand.student_id = ?1) AND (?2 IS NULL OR stand.score_id = ?2) "
        "AND student.archived_at IS NULL AND horn.archived_at IS NULL "
        "AND score.archived_at IS NULL ORDER BY stand.opened_at DESC, stand.id DESC",
        (student_id, score_id),
    )
    return tuple(StandRow(**dict(row)) for row in rows)


def stands_of_score(db: Connection, score_id: int) -> tuple[Stand, ...]:
    """All stands that a score is on, the archived ones too."""
    rows = db.execute("SELECT * FROM stand WHERE score_id = ? ORDER BY id", (score_id,))
    return tuple(_stand(row) for row in rows)


def number_of_stands(db: Connection, student_id: int) -> int:
    """How many parts a student has on stands, the archived ones too."""
    found = db.execute("SELECT count(*) FROM stand WHERE student_id = ?", (student_id,))
    return int(found.fetchone()[0])


def update_stand(
    db: Connection,
    stand_id: int,
    *,
    part: str | None,
    part_name: str,
    voice: str | None,
    tempo_qpm: float,
    small_notes: bool,
    sounds: str | None,
) -> None:
    """Change what is read of the score, and its tempo where the score states none."""
    db.execute(
        "UPDATE stand SET part = ?, part_name = ?, voice = ?, tempo_qpm = ?, small_notes = ?, "
        "sounds = ? WHERE id = ?",
        (part, part_name, voice, tempo_qpm, int(small_notes), sounds, stand_id),
    )


def delete_stand(db: Connection, stand_id: int) -> None:
    """Take a part off the stand, with its locks and history."""
    db.execute("DELETE FROM stand WHERE id = ?", (stand_id,))


# Locks and their history.


def select_locks(db: Connection, stand_id: int) -> dict[int, Wish]:
    """The locks of a stand as they are kept, by written note."""
    rows = db.execute(
        "SELECT note, valves, partial FROM stand_lock WHERE stand_id = ?", (stand_id,)
    )
    return {row["note"]: (tuple(json.loads(row["valves"])), row["partial"]) for row in rows}


def put_locks(db: Connection, stand_id: int, locks: Mapping[int, Wish | None]) -> None:
    """Give notes of a stand their locks; None: no lock any more."""
    for note, wish in locks.items():
        db.execute("DELETE FROM stand_lock WHERE stand_id = ? AND note = ?", (stand_id, note))
        if wish is not None:
            db.execute(
                "INSERT INTO stand_lock (stand_id, note, valves, partial) VALUES (?, ?, ?, ?)",
                (stand_id, note, json.dumps(wish[0]), wish[1]),
            )


def delete_choices(db: Connection, stand_id: int) -> None:
    """Forget all locks of a stand, how they came, and all that names its notes."""
    for table in ("stand_lock", "stand_edit", "stand_unlearnt", "answer"):
        db.execute(f"DELETE FROM {table} WHERE stand_id = ?", (stand_id,))
    db.execute("UPDATE stand SET edits_done = 0, seen_to = NULL WHERE id = ?", (stand_id,))


def put_seen_to(db: Connection, stand_id: int, note: int | None) -> None:
    """Say up to which written note the teacher has looked at a stand's part; None: not."""
    db.execute("UPDATE stand SET seen_to = ? WHERE id = ?", (note, stand_id))


def see_no_more(db: Connection, student_id: int) -> None:
    """The parts of a student are other than the teacher has looked at."""
    db.execute("UPDATE stand SET seen_to = NULL WHERE student_id = ?", (student_id,))


def insert_edit(
    db: Connection, stand_id: int, number: int, changes: Sequence[Change | Aside]
) -> None:
    """Keep an edit as the ``number``-th of a stand; those from there on, undone, go."""
    db.execute("DELETE FROM stand_edit WHERE stand_id = ? AND number >= ?", (stand_id, number))
    db.execute(
        "INSERT INTO stand_edit (stand_id, number, changes, made_at) VALUES (?, ?, ?, ?)",
        (stand_id, number, json.dumps([_stored(change) for change in changes]), now()),
    )


def find_edit(db: Connection, stand_id: int, number: int) -> tuple[Change | Aside, ...] | None:
    """What an edit changed, None where there is none of that number."""
    row = db.execute(
        "SELECT changes FROM stand_edit WHERE stand_id = ? AND number = ?", (stand_id, number)
    ).fetchone()
    if row is None:
        return None
    return tuple(
        Aside(**change)
        if isinstance(change, dict)
        else (change[0], _wish(change[1]), _wish(change[2]))
        for change in json.loads(row["changes"])
    )


def number_of_edits(db: Connection, stand_id: int) -> int:
    """How many edits are kept, the undone ones too."""
    found = db.execute("SELECT count(*) FROM stand_edit WHERE stand_id = ?", (stand_id,))
    return int(found.fetchone()[0])


def update_edits_done(db: Connection, stand_id: int, done: int) -> None:
    """Say how many edits are in force; the stand was opened now."""
    db.execute(
        "UPDATE stand SET edits_done = ?, opened_at = ? WHERE id = ?", (done, now(), stand_id)
    )


def _stand(row: sqlite3.Row) -> Stand:
    return Stand(**dict(row) | {"small_notes": bool(row["small_notes"])})


def _stored(change: Change | Aside) -> object:
    return asdict(change) if isinstance(change, Aside) else change


def _wish(stored: Sequence[object] | None) -> Wish | None:
    if stored is None:
        return None
    valves, partial = stored
    return tuple(valves), partial  # type: ignore[return-value, arg-type]
