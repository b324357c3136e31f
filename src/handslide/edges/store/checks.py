"""Whether a database file is a studio, whole, and holds what its tables promise."""

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any

from handslide.edges.store.connection import Connection, connect_file
from handslide.edges.store.schema import migrate, migrations, newest_version, schema_version
from handslide.ground.errors import StoreError
from handslide.ground.facts import Fact, fact

_JSON = (
    ("student", "learned"), ("horn_version", "told"), ("stand_lock", "valves"),
    ("stand_edit", "changes"), ("correction_edit", "changes"), ("take", "report"),
    ("take_note", "valves"), ("learnt", "factors"), ("learnt", "told"), ("answer", "notes"),
    ("answer", "first"), ("answer", "second"), ("score", "takes"), ("folder_file", "takes"),
)  # fmt: skip


def damage_of(path: Path) -> Fact | None:
    """What is wrong with a database file; None when it is whole."""
    if not path.is_file() or path.stat().st_size == 0:
        return fact("store.empty_or_gone")
    try:
        with closing(connect_file(path)) as db:
            found = str(db.execute("PRAGMA quick_check(1)").fetchone()[0])
    except sqlite3.OperationalError as error:
        # The disk, the rights, another program: no word on the file itself.
        raise StoreError("store.cannot_look", file=path.name, reason=str(error)) from error
    except sqlite3.Error as error:
        return fact("store.sqlite_says", reason=str(error))
    return None if found == "ok" else fact("store.sqlite_says", reason=found.splitlines()[-1])


def check_file(path: Path) -> int:
    """The schema version of a file that is a studio, whole and not newer than this handslide.

    Raises StoreError otherwise.
    """
    damage = damage_of(path)
    if damage is not None:
        raise StoreError("store.no_studio", file=path.name, damage=damage)
    with closing(connect_file(path)) as db:
        version = schema_version(db, path.name, newest_version())
    if version == 0:
        raise StoreError("store.not_ours", file=path.name)
    return version


def check_tables(db: Connection, version: int) -> None:
    """Raise StoreError unless a database has exactly the tables and columns of its version."""
    want = _columns_at(version)
    kinds = db.execute("SELECT name, type FROM pragma_table_list WHERE schema = 'main'").fetchall()
    odd = [n for n, kind in kinds if (n not in want and n != "sqlite_schema") or kind != "table"]
    others = db.execute("SELECT name FROM sqlite_schema WHERE type IN ('trigger', 'view')")
    odd += [row[0] for row in others]
    for table, columns in want.items():
        if table not in {n for n, _ in kinds} or columns_of(db, table) != columns:
            odd.append(table)
    if odd:
        raise StoreError("store.odd_table", table=odd[0])


@cache
def _columns_at(version: int) -> dict[str, list[str]]:
    """The columns of each table of a schema version."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as ours:
        migrate(ours, migrations()[:version])
        return {table: columns_of(ours, table) for table in tables_of(ours)}


def tables_of(db: Connection) -> list[str]:
    """The tables of a database, in the order in which they were made."""
    rows = db.execute(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' "
        "ORDER BY rowid"
    )
    return [row[0] for row in rows]


def columns_of(db: Connection, table: str) -> list[str]:
    """The columns of a table. Raises StoreError for one that isn't stored as it is read."""
    rows = db.execute("SELECT name, hidden FROM pragma_table_xinfo(?)", (table,)).fetchall()
    if any(hidden for _, hidden in rows):
        raise StoreError("store.odd_table", table=table)
    return [name for name, _ in rows]


def stored_facts(db: Connection) -> Iterator[tuple[str, str, Any]]:
    """(table, column, JSON) of all that is told by facts."""
    for table, column in (("horn_version", "told"), ("take", "report")):
        for row in db.execute(f'SELECT "{column}" FROM "{table}" WHERE "{column}" IS NOT NULL'):
            yield table, column, json.loads(row[0])


def check_content(db: Connection, most_score_bytes: int) -> None:
    """Raise StoreError unless what tables can't check holds: JSON is JSON, parts are as put in."""
    for table, column in _JSON:
        bad = db.execute(
            f'SELECT 1 FROM "{table}" WHERE "{column}" IS NOT NULL AND NOT json_valid("{column}")'
        ).fetchone()
        if bad is not None:
            raise StoreError("store.unreadable_column", table=table, column=column)
    for row in db.execute("SELECT title, data, digest FROM score"):
        fits = len(row["data"]) <= most_score_bytes
        if not fits or hashlib.sha256(row["data"]).hexdigest() != row["digest"]:
            raise StoreError("store.changed_score", title=row["title"])
