"""The manifest of a library: sources by their content, tasks by what they depend on, targets.

A *task* is work on some bytes, known by a key of everything that its result depends on; a *target*
is where the result of a task is to stand. Several targets may want one task. Only one process
writes, and each block of writes is whole or not at all.
"""

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from handslide.edges.files.factjson import fact_of_json, to_json
from handslide.edges.manifest.schema import open_copy, open_manifest, open_to_read
from handslide.edges.store.connection import transaction
from handslide.edges.store.database import telling_sqlite
from handslide.ground.facts import Fact
from handslide.ground.limits import LIBRARY_TRIES

FILE_NAME = "library.db"
Kind = Literal["read", "mark"]
_FIGURES = (
    "notes", "unplayable", "low", "high", "position", "speed_m_s", "valves", "effort",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SourceRow:
    """A file of the library: its path in it, what it was when last looked at, and the key of
    reading it."""

    path: str
    size: int
    mtime_ns: int
    hash: str
    key: str


@dataclass(frozen=True, slots=True)
class TargetRow:
    """Where a marked part is to stand: ``path`` is without the ending of its files.

    ``part_id`` and ``part`` are the part's id and name; ``player`` the label of whom it is for.
    ``ours``: its files were written by us, so that they may be replaced.
    """

    path: str
    key: str
    source: str
    part_id: str
    part: str
    player: str
    ours: bool = False
    placed: bool = False
    error: Fact | None = None


@dataclass(frozen=True, slots=True)
class MarkedRow:
    """A target with what its task found (None while it isn't done), or why there is nothing."""

    target: TargetRow
    state: str
    result: Any
    error: Fact | None


@dataclass(frozen=True, slots=True)
class Wish:
    """What a search asks for; None: anything. ``low`` and ``high`` are MIDI notes within which all
    notes lie; ``valves``: False for parts without any."""

    player: str | None = None
    speed_m_s: float | None = None
    position: float | None = None
    low: int | None = None
    high: int | None = None
    valves: bool | None = None
    unplayable: bool = False


class Manifest:
    """An open manifest. Raises StoreError for what its disk does."""

    def __init__(self, path: Path, db: sqlite3.Connection) -> None:
        self.path = path
        self._db = db

    @classmethod
    def open(cls, path: Path) -> "Manifest":
        """To be written, by who holds the lock of its folder; what another run left running is to
        do again."""
        manifest = cls(path, open_manifest(path))
        with manifest._writing() as db:
            # The run died, not the part: its try isn't counted.
            db.execute(
                "UPDATE task SET state = 'to_do', tries = max(0, tries - 1) WHERE state = 'running'"
            )
        return manifest

    @classmethod
    def beside(cls, path: Path) -> "Manifest":
        """To be written by another thread of the program that works on it; made where there is
        none."""
        return cls(path, open_manifest(path))

    @classmethod
    def rehearse(cls, path: Path) -> "Manifest":
        """A copy in memory, to see what would be done."""
        return cls(path, open_copy(path))

    @classmethod
    def read(cls, path: Path) -> "Manifest":
        """To be read."""
        return cls(path, open_to_read(path))

    def close(self) -> None:
        """Close it; its log goes into the file."""
        self._db.close()

    @contextmanager
    def _telling(self) -> Iterator[sqlite3.Connection]:
        with telling_sqlite("library.manifest", file=str(self.path)):
            yield self._db

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._telling() as db, transaction(db):
            yield db

    # Sources.

    def sources(self) -> dict[str, SourceRow]:
        """All files that were ever looked at, by path."""
        with self._telling() as db:
            rows = db.execute("SELECT path, size, mtime_ns, hash, key FROM source")
            return {row["path"]: SourceRow(*row) for row in rows}

    def keep_sources(self, rows: Iterable[SourceRow]) -> None:
        """These files are there now, and no others."""
        with self._writing() as db:
            db.execute("UPDATE source SET there = 0")
            db.executemany(
                "INSERT OR REPLACE INTO source VALUES (?, ?, ?, ?, ?, 1)",
                ((row.path, row.size, row.mtime_ns, row.hash, row.key) for row in rows),
            )

    # Tasks.

    def add_tasks(self, kind: Kind, keys: Iterable[str]) -> None:
        """Tasks that are to do, unless they are known; passing errors are tried again."""
        with self._writing() as db:
            db.executemany(
                "INSERT INTO task (key, kind, state) VALUES (?, ?, 'to_do') "
                "ON CONFLICT (key) DO UPDATE SET state = 'to_do', tries = 0, passing = 0, "
                "error = NULL WHERE passing",
                ((key, kind) for key in keys),
            )

    def retry_errors(self) -> None:
        """All that failed is to do again."""
        with self._writing() as db:
            db.execute(
                "UPDATE task SET state = 'to_do', tries = 0, passing = 0, error = NULL "
                "WHERE state = 'error'"
            )

    def result(self, key: str) -> Any:
        """The result of a task that is done; None of others."""
        with self._telling() as db:
            row = db.execute(
                "SELECT result FROM task WHERE key = ? AND state = 'done'", (key,)
            ).fetchone()
        return None if row is None else json.loads(row["result"])

    def error(self, key: str) -> Fact | None:
        """Why a task failed; None of others."""
        with self._telling() as db:
            row = db.execute(
                "SELECT error FROM task WHERE key = ? AND state = 'error'", (key,)
            ).fetchone()
        return None if row is None else _fact(row["error"])

    def reads_to_do(self) -> list[SourceRow]:
        """Of each content that is to be read, one file that is there."""
        with self._telling() as db:
            rows = db.execute(
                "SELECT min(path) AS path, size, mtime_ns, hash, source.key AS key FROM source "
                "JOIN task ON task.key = source.key "
                "WHERE there AND state = 'to_do' GROUP BY source.key ORDER BY path"
            ).fetchall()
        return [SourceRow(*row) for row in rows]

    def marks_to_do(self) -> list[str]:
        """The keys of the parts to be marked that somebody wants, in the order of the files."""
        with self._telling() as db:
            rows = db.execute(
                "SELECT task.key, min(path) AS path FROM task JOIN target ON target.key = task.key "
                "WHERE kind = 'mark' AND state = 'to_do' AND wanted AND NOT placed "
                "AND target.error IS NULL GROUP BY task.key ORDER BY path"
            ).fetchall()
        return [row["key"] for row in rows]

    def start(self, key: str) -> int:
        """A task begins; its files are ours from now on. Gives which try it is."""
        with self._writing() as db:
            db.execute("UPDATE task SET state = 'running', tries = tries + 1 WHERE key = ?", (key,))
            row = db.execute("SELECT tries FROM task WHERE key = ?", (key,)).fetchone()
        return int(row["tries"])

    def finish(self, key: str, result: Any, figures: Mapping[str, Any] | None = None) -> None:
        """A task is done; ``figures`` are what can be sought."""
        values = [None if figures is None else figures[name] for name in _FIGURES]
        columns = ", ".join(f"{name} = ?" for name in _FIGURES)
        text = json.dumps(result, ensure_ascii=False, separators=(",", ":"))
        with self._writing() as db:
            db.execute(
                f"UPDATE task SET state = 'done', error = NULL, passing = 0, result = ?, {columns} "
                "WHERE key = ?",
                (text, *values, key),
            )

    def fail(self, key: str, why: Fact, *, passing: bool = False) -> None:
        """A task can't be done; ``passing``: the next run tries it again."""
        with self._writing() as db:
            db.execute(
                "UPDATE task SET state = 'error', error = ?, passing = ? WHERE key = ?",
                (json.dumps(to_json(why)), int(passing), key),
            )

    def put_back(self, key: str, why: Fact | None = None) -> bool:
        """A task is to do again; where ``why`` costs its last try, it failed. Gives whether it is
        to do."""
        with self._writing() as db:
            row = db.execute("SELECT tries FROM task WHERE key = ?", (key,)).fetchone()
            if why is not None and row["tries"] >= LIBRARY_TRIES:
                db.execute(
                    "UPDATE task SET state = 'error', error = ?, passing = 0 WHERE key = ?",
                    (json.dumps(to_json(why)), key),
                )
                return False
            back = 0 if why is not None else 1
            db.execute(
                "UPDATE task SET state = 'to_do', tries = max(0, tries - ?) WHERE key = ?",
                (back, key),
            )
        return True

    # Targets.

    def plan(self, targets: Iterable[TargetRow], players: Mapping[str, Any]) -> None:
        """These targets are wanted, and no others; what stands there of another key is old.

        ``players`` say for each label whom it means, as JSON.
        """
        with self._writing() as db:
            db.execute("UPDATE target SET wanted = 0, error = NULL")
            db.execute("DELETE FROM player")
            db.executemany(
                "INSERT INTO player VALUES (?, ?)",
                ((label, json.dumps(about)) for label, about in players.items()),
            )
            db.executemany(
                "INSERT INTO target (path, key, source, part_id, part, player, wanted) "
                "VALUES (?, ?, ?, ?, ?, ?, 1) ON CONFLICT (path) DO UPDATE SET wanted = 1, "
                "placed = placed AND key = excluded.key, key = excluded.key, "
                "source = excluded.source, part_id = excluded.part_id, part = excluded.part, "
                "player = excluded.player",
                ((t.path, t.key, t.source, t.part_id, t.part, t.player) for t in targets),
            )
            db.execute(
                "INSERT INTO task (key, kind, state) SELECT DISTINCT key, 'mark', 'to_do' "
                "FROM target WHERE wanted ON CONFLICT (key) DO UPDATE "
                "SET state = 'to_do', tries = 0, passing = 0, error = NULL WHERE passing"
            )

    def drop_old(self) -> None:
        """Forget targets that aren't wanted, and the parts that nobody asks for any more."""
        with self._writing() as db:
            db.execute("DELETE FROM target WHERE NOT wanted")
            db.execute(
                "DELETE FROM task WHERE kind = 'mark' AND state <> 'running' "
                "AND key NOT IN (SELECT key FROM target)"
            )

    def targets(
        self, key: str | None = None, *, wanted: bool | None = None, placed: bool | None = None
    ) -> list[TargetRow]:
        """Targets by path: of one task, wanted or not, placed or not."""
        asked, values = ["1"], list[Any]()
        if key is not None:
            asked.append("key = ?")
            values.append(key)
        for name, value in (("wanted", wanted), ("placed", placed)):
            if value is not None:
                asked.append(f"{name} = ?")
                values.append(int(value))
        with self._telling() as db:
            rows = db.execute(
                "SELECT path, key, source, part_id, part, player, ours, placed, error FROM target "
                f"WHERE {' AND '.join(asked)} ORDER BY path",
                values,
            ).fetchall()
        return [_target(row) for row in rows]

    def claim(self, paths: Iterable[str]) -> None:
        """The files of these targets are about to be written by us."""
        with self._writing() as db:
            db.executemany("UPDATE target SET ours = 1 WHERE path = ?", ((p,) for p in paths))

    def place(self, paths: Iterable[str], *, placed: bool = True) -> None:
        """The files of these targets are in their places, or no longer."""
        with self._writing() as db:
            db.executemany(
                "UPDATE target SET placed = ?, ours = max(ours, ?), error = NULL WHERE path = ?",
                ((int(placed), int(placed), path) for path in paths),
            )

    def refuse(self, path: str, why: Fact) -> None:
        """The files of a target can't be put into their places; the next run tries again."""
        with self._writing() as db:
            db.execute(
                "UPDATE target SET error = ? WHERE path = ?", (json.dumps(to_json(why)), path)
            )

    def undo(self, keys: Iterable[str]) -> None:
        """Tasks that were done are to do again: their files are gone."""
        with self._writing() as db:
            db.executemany(
                "UPDATE task SET state = 'to_do', tries = 0 WHERE key = ? AND state = 'done'",
                ((key,) for key in keys),
            )

    # What came of it.

    def players(self) -> dict[str, Any]:
        """Whom each label means, as it was planned."""
        with self._telling() as db:
            rows = db.execute("SELECT label, about FROM player ORDER BY label").fetchall()
        return {row["label"]: json.loads(row["about"]) for row in rows}

    def counts(self) -> dict[str, int]:
        """Of the targets that are wanted, how many are in each state."""
        with self._telling() as db:
            rows = db.execute(
                f"SELECT {_STATE} AS state, count(*) AS count FROM target "
                "JOIN task ON task.key = target.key WHERE wanted GROUP BY 1"
            ).fetchall()
        found = {row["state"]: row["count"] for row in rows}
        return {state: found.get(state, 0) for state in ("done", "to_do", "error")}

    def marked(self, wish: Wish | None = None) -> Iterator[MarkedRow]:
        """All that is wanted, or what fits a wish: the hardest first, and what failed at the end.

        Harder is what has a larger share of notes that can't be played, then what costs more
        effort a note.
        """
        asked, values = ["wanted"], list[Any]()
        if wish is not None:
            asked.append("state = 'done'")
            if not wish.unplayable:
                asked.append("unplayable = 0")
            if wish.valves is not None:
                asked.append("valves > 0" if wish.valves else "valves = 0")
            for condition, value in (
                ("player = ?", wish.player), ("speed_m_s <= ?", wish.speed_m_s),
                ("position <= ?", wish.position), ("low >= ?", wish.low), ("high <= ?", wish.high),
            ):  # fmt: skip
                if value is not None:
                    asked.append(condition)
                    values.append(value)
        with self._telling() as db:
            rows = db.execute(
                f"SELECT path, target.key AS key, source, part_id, part, player, ours, placed, "
                f"target.error AS error, {_STATE} AS state, result, task.error AS why FROM target "
                f"JOIN task ON task.key = target.key WHERE {' AND '.join(asked)} "
                "ORDER BY state <> 'done', 1.0 * unplayable / notes DESC, effort DESC, path",
                values,
            )
            for row in rows:
                target = _target(row)
                result = None if row["result"] is None else json.loads(row["result"])
                yield MarkedRow(target, row["state"], result, target.error or _fact(row["why"]))

    def unreadable(self) -> list[tuple[str, Fact]]:
        """The files that are there and couldn't be read, and why."""
        with self._telling() as db:
            rows = db.execute(
                "SELECT path, error FROM source JOIN task ON task.key = source.key "
                "WHERE there AND state = 'error' ORDER BY path"
            ).fetchall()
        return [(row["path"], fact_of_json(json.loads(row["error"]))) for row in rows]


_STATE = (
    "CASE WHEN target.error IS NOT NULL OR state = 'error' THEN 'error' "
    "WHEN placed THEN 'done' ELSE 'to_do' END"
)


def _fact(text: str | None) -> Fact | None:
    return None if text is None else fact_of_json(json.loads(text))


def _target(row: sqlite3.Row) -> TargetRow:
    names = "path", "key", "source", "part_id", "part", "player"
    return TargetRow(
        **{name: row[name] for name in names},
        ours=bool(row["ours"]), placed=bool(row["placed"]), error=_fact(row["error"]),
    )  # fmt: skip
