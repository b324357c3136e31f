"""Students of one studio added to another, with all that they have, under new numbers.

The teacher's own exercises come with them.
"""

import json
from dataclasses import dataclass
from graphlib import TopologicalSorter
from typing import Any

from handslide.edges.store.connection import Connection
from handslide.edges.store.folders import TABLES as OF_THIS_MACHINE
from handslide.edges.store.learnt import forget_stand

_OWN_SCORES = (
    "SELECT id FROM score WHERE example = 0 UNION SELECT score_id FROM stand JOIN student "
    "ON student.id = student_id WHERE student.example = 0 UNION SELECT score_id FROM take "
    "JOIN student ON student.id = student_id WHERE student.example = 0"
)
_OF_SCORES = ("correction", "correction_edit")
# What was learnt elsewhere, and from what: the places come, but aren't this teacher's choices.
_LEARNING = ("learnt", "stand_unlearnt", "answer")


@dataclass(frozen=True, slots=True)
class ImportResult:
    """What was added: students and parts; ``here``: students left as they are, known already."""

    students: int
    scores: int
    here: int


def merge_students(source: Connection, target: Connection) -> ImportResult:
    """Add the students of ``source``, in the transaction of ``target``; nothing there is changed.

    A student who is there already is left as there. Invented examples aren't added.
    """
    return _Merging(source, target).run()


class _Merging:
    """Copies rows of one studio into another under new numbers."""

    def __init__(self, source: Connection, target: Connection) -> None:
        self._source = source
        self._target = target
        self._numbers: dict[str, dict[int, int]] = {}
        self._wanted = {row[0] for row in source.execute(_OWN_SCORES)}
        self._here = 0
        self._scores_here: set[int | None] = set()
        self._scores = 0

    def run(self) -> ImportResult:
        parents = {table: self._parents(table) for table in self._tables()}
        for table in TopologicalSorter(
            {table: {parent for parent, _ in found.values()} for table, found in parents.items()}
        ).static_order():
            self._numbers[table] = {}
            for row in self._source.execute(f'SELECT * FROM "{table}"'):
                self._add(table, dict(row), parents[table])
        for stand_id in self._numbers["stand"].values():
            forget_stand(self._target, stand_id)
        return ImportResult(len(self._numbers["student"]), self._scores, self._here)

    def _tables(self) -> list[str]:
        rows = self._source.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name != 'setting'"
        )
        return [row[0] for row in rows]

    def _parents(self, table: str) -> dict[str, tuple[str, bool]]:
        """The columns of a table that refer to others: the table, and whether it may be lost."""
        rows = self._source.execute("SELECT * FROM pragma_foreign_key_list(?)", (table,))
        return {row["from"]: (row["table"], row["on_delete"] == "SET NULL") for row in rows}

    def _add(self, table: str, row: dict[str, Any], parents: dict[str, tuple[str, bool]]) -> None:
        old = row.pop("id", None)
        if table == "stand_edit":
            row["changes"] = _without_learnt(row["changes"])
        known = self._known(table, old, row)
        if known is not None:
            if known:
                self._numbers[table][old] = known
            return
        for column, (parent, may_be_lost) in parents.items():
            if row[column] is None:
                continue
            new = self._numbers[parent].get(row[column])
            if new is None and not may_be_lost:
                return  # belongs to something that isn't taken over
            row[column] = new
        names = ", ".join(f'"{name}"' for name in row)
        done = self._target.execute(
            f'INSERT INTO "{table}" ({names}) VALUES ({", ".join("?" * len(row))})',
            tuple(row.values()),
        )
        if old is not None and done.lastrowid is not None:
            self._numbers[table][old] = done.lastrowid

    def _known(self, table: str, old: int | None, row: dict[str, Any]) -> int | None:
        """The number of a row that is here already; 0: to be left out; None: to be added."""
        if table in _LEARNING or table in OF_THIS_MACHINE:
            return 0
        if table == "student":
            if row["example"]:
                return 0
            here = self._target.execute("SELECT 1 FROM student WHERE uid = ?", (row["uid"],))
            if here.fetchone() is not None:
                self._here += 1
                return 0
        if table == "score":
            if old not in self._wanted:
                return 0
            row["example"] = 0
            found = self._target.execute(
                "SELECT id FROM score WHERE digest = ?", (row["digest"],)
            ).fetchone()
            if found is not None:
                self._scores_here.add(old)
                return int(found[0])
            self._scores += 1
        if table == "exercises":
            found = self._target.execute(
                "SELECT id FROM exercises WHERE text = ?", (row["text"],)
            ).fetchone()
            return None if found is None else int(found[0])
        if table in _OF_SCORES and row["score_id"] in self._scores_here:
            return 0  # what is said of it here stays
        return None


def _without_learnt(changes: str) -> str:
    """An edit without what it says of something learnt: it has no such number here."""
    return json.dumps([change for change in json.loads(changes) if isinstance(change, list)])
