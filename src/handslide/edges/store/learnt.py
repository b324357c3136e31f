"""The tables ``learnt``, ``stand_unlearnt`` and ``answer``: what is learnt from, and what was."""

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Literal, TypeAlias

import msgspec
from msgspec import Meta

from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now
from handslide.edges.store.stands import Wish
from handslide.ground.limits import LEARNT_VERSIONS

_Kind: TypeAlias = Annotated[str, Meta(pattern=r"^[A-G][b#]?(-?[0-9])?\+[0-9]$")]
_Count: TypeAlias = Annotated[int, Meta(ge=0, le=10_000_000)]
Picked: TypeAlias = Literal[0, 1, 2]
"""The first way, the second, or (0) neither."""
FactorTable: TypeAlias = Mapping[str, Mapping[str, float]]
"""By what weights change: by kind of horn; the empty name is for all horns."""


@dataclass(frozen=True, slots=True)
class AgreementRow:
    """Of ``notes`` choices on a kind of horns, each left out in turn: how many the profile that it
    began from makes alike, and how many what was learnt does. ``taken``: that holds for this kind.
    """

    kind: _Kind
    notes: _Count
    base: _Count
    learnt: _Count
    taken: bool


@dataclass(frozen=True, slots=True)
class Told:
    """From how much something was learnt, in how many parts, and how well it does."""

    changed: _Count
    kept: _Count
    answers: _Count
    parts: _Count
    agreement: tuple[AgreementRow, ...] = ()


@dataclass(frozen=True, slots=True)
class LearntRow:
    """A learnt profile as stored. ``number`` is its place in what can be undone, None: in none."""

    id: int
    number: int | None
    factors: FactorTable
    told: Told
    made_at: str


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """Two ways to play some notes of a stand's part; ``picked`` is 1, 2 or 0 for neither."""

    stand_id: int
    notes: tuple[int, ...]
    first: tuple[Wish, ...]
    second: tuple[Wish, ...]
    picked: Picked


@dataclass(frozen=True, slots=True)
class ChoiceCount:
    """How much of a stand is learnt from: notes ``changed`` and let stand (``kept``), answers."""

    stand_id: int
    student_id: int
    score_id: int
    changed: int
    kept: int
    answers: int


def insert_learnt(db: Connection, number: int, factors: FactorTable, told: Told) -> int:
    """Keep a learnt profile under a number; those of that number and later are left behind."""
    leave_behind(db, number - 1)
    db.execute("UPDATE learnt SET number = NULL WHERE number <= ?", (number - LEARNT_VERSIONS,))
    delete_unused_learnt(db)
    done = db.execute(
        "INSERT INTO learnt (number, factors, told, made_at) VALUES (?, ?, ?, ?)",
        (number, json.dumps(factors), msgspec.json.encode(told).decode(), now()),
    )
    return int(done.lastrowid or 0)


def leave_behind(db: Connection, last: int) -> None:
    """Take what was learnt after the number ``last`` out of what can be done again."""
    db.execute("UPDATE learnt SET number = NULL WHERE number > ?", (last,))


def delete_unused_learnt(db: Connection) -> None:
    """Delete what was left behind and is on no stand."""
    db.execute(
        "DELETE FROM learnt WHERE number IS NULL AND id NOT IN "
        "(SELECT learnt_id FROM stand WHERE learnt_id IS NOT NULL)"
    )


def find_learnt(db: Connection, learnt_id: int) -> LearntRow | None:
    """A learnt profile, None where there is none of that id."""
    row = db.execute("SELECT * FROM learnt WHERE id = ?", (learnt_id,)).fetchone()
    return None if row is None else _learnt(row)


def find_learnt_numbered(db: Connection, number: int) -> LearntRow | None:
    """The learnt profile of a number, None where there is none."""
    row = db.execute("SELECT * FROM learnt WHERE number = ?", (number,)).fetchone()
    return None if row is None else _learnt(row)


def span_of_learnt(db: Connection) -> tuple[int, int]:
    """The lowest and highest number of what was learnt; (1, 0) where there is nothing."""
    row = db.execute("SELECT min(number), max(number) FROM learnt").fetchone()
    return (1, 0) if row[0] is None else (int(row[0]), int(row[1]))


def put_learnt(db: Connection, stand_id: int, learnt_id: int | None) -> None:
    """Let a stand's part be marked with something learnt; nothing where that is gone."""
    db.execute(
        "UPDATE stand SET learnt_id = (SELECT id FROM learnt WHERE id = ?) WHERE id = ?",
        (learnt_id, stand_id),
    )


# What isn't learnt from.


def select_unlearnt(db: Connection, stand_id: int) -> frozenset[int]:
    """The written notes of a stand that nothing is learnt from."""
    rows = db.execute("SELECT note FROM stand_unlearnt WHERE stand_id = ?", (stand_id,))
    return frozenset(row["note"] for row in rows)


def insert_unlearnt(db: Connection, stand_id: int, notes: Iterable[int]) -> None:
    """Learn nothing from these notes."""
    db.executemany(
        "INSERT INTO stand_unlearnt (stand_id, note) VALUES (?, ?) ON CONFLICT DO NOTHING",
        [(stand_id, note) for note in notes],
    )


def delete_unlearnt(db: Connection, stand_id: int, notes: Iterable[int]) -> None:
    """Learn from these notes again."""
    db.executemany(
        "DELETE FROM stand_unlearnt WHERE stand_id = ? AND note = ?",
        [(stand_id, note) for note in notes],
    )


def unlearn_locks(db: Connection, *, examples_only: bool = False) -> None:
    """Learn nothing from any place that is locked now, or from those of invented students."""
    db.execute(
        "INSERT INTO stand_unlearnt (stand_id, note) SELECT stand_id, note FROM stand_lock "
        "JOIN stand ON stand.id = stand_id JOIN student ON student.id = student_id "
        "WHERE student.example = 1 OR NOT ? ON CONFLICT DO NOTHING",
        (examples_only,),
    )


def learn_all_locks(db: Connection) -> None:
    """Learn from every place that is locked, but those of invented students."""
    db.execute("DELETE FROM stand_unlearnt")
    unlearn_locks(db, examples_only=True)


def number_of_unlearnt(db: Connection) -> int:
    """How many locked places of real students nothing is learnt from."""
    found = db.execute(
        "SELECT count(*) FROM stand_unlearnt JOIN stand_lock USING (stand_id, note) "
        "JOIN stand ON stand.id = stand_id JOIN student ON student.id = student_id "
        "WHERE student.example = 0"
    )
    return int(found.fetchone()[0])


def number_of_locks(db: Connection) -> int:
    """How many places of real students are locked."""
    found = db.execute(
        "SELECT count(*) FROM stand_lock JOIN stand ON stand.id = stand_id "
        "JOIN student ON student.id = student_id WHERE student.example = 0"
    )
    return int(found.fetchone()[0])


def forget_stand(db: Connection, stand_id: int) -> None:
    """Learn nothing more from what was chosen on a stand up to now."""
    db.execute("UPDATE stand SET seen_to = NULL WHERE id = ?", (stand_id,))
    db.execute("DELETE FROM answer WHERE stand_id = ?", (stand_id,))
    db.execute(
        "INSERT INTO stand_unlearnt (stand_id, note) SELECT stand_id, note FROM stand_lock "
        "WHERE stand_id = ? ON CONFLICT DO NOTHING",
        (stand_id,),
    )


def select_choice_counts(db: Connection) -> tuple[ChoiceCount, ...]:
    """All stands that something is learnt from, in the order in which they were made."""
    rows = db.execute(
        "WITH counted AS (SELECT stand_id, note FROM stand_lock EXCEPT "
        " SELECT stand_id, note FROM stand_unlearnt), "
        "told AS (SELECT stand_id, note FROM stand_lock UNION "
        " SELECT stand_id, note FROM stand_unlearnt) "
        "SELECT stand.id AS stand_id, student_id, score_id, "
        "(SELECT count(*) FROM counted WHERE stand_id = stand.id) AS changed, "
        "coalesce(seen_to + 1 - (SELECT count(*) FROM told WHERE stand_id = stand.id "
        " AND note <= seen_to), 0) AS kept, "
        "(SELECT count(*) FROM answer WHERE stand_id = stand.id) AS answers "
        "FROM stand WHERE changed OR kept OR answers ORDER BY stand.id"
    )
    return tuple(ChoiceCount(**dict(row)) for row in rows)


# Answers.


def insert_answer(db: Connection, answer: AnswerRow) -> None:
    """Keep an answer."""
    db.execute(
        "INSERT INTO answer (stand_id, notes, first, second, picked, made_at) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        (
            answer.stand_id,
            json.dumps(answer.notes),
            json.dumps(answer.first),
            json.dumps(answer.second),
            answer.picked,
            now(),
        ),
    )


def delete_last_answer(db: Connection) -> None:
    """Forget the answer that was given last."""
    db.execute("DELETE FROM answer WHERE id = (SELECT max(id) FROM answer)")


def select_answers(db: Connection) -> tuple[AnswerRow, ...]:
    """All answers in the order in which they were given."""
    rows = db.execute("SELECT stand_id, notes, first, second, picked FROM answer ORDER BY id")
    return tuple(
        AnswerRow(
            row["stand_id"],
            tuple(json.loads(row["notes"])),
            _wishes(json.loads(row["first"])),
            _wishes(json.loads(row["second"])),
            row["picked"],
        )
        for row in rows
    )


def _wishes(stored: Sequence[tuple[Sequence[str], int]]) -> tuple[Wish, ...]:
    return tuple((tuple(valves), partial) for valves, partial in stored)


def _learnt(row: sqlite3.Row) -> LearntRow:
    told = msgspec.json.decode(row["told"], type=Told)
    return LearntRow(row["id"], row["number"], json.loads(row["factors"]), told, row["made_at"])
