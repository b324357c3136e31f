"""The schema of a studio's database: its versions, and how a file comes to the newest one."""

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from functools import cache
from importlib import resources
from typing import TypeAlias

from handslide.edges.store.connection import Connection, transaction
from handslide.edges.store.version2 import migrate_to_2
from handslide.ground.errors import StoreError

# "hs" and "st": another program's database isn't taken for ours.
APPLICATION_ID = 0x68737374
Migration: TypeAlias = str | Callable[[Connection], None]
"""The step to the next schema version: SQL, or a function that is run inside the transaction."""


@cache
def migrations() -> tuple[Migration, ...]:
    """All migrations in their order; number N, counted from 1, makes schema version N."""
    return (
        _script("0001.sql"),
        migrate_to_2,
        *(_script(f"000{number}.sql") for number in range(3, 10)),
    )


def _script(name: str) -> str:
    file = resources.files("handslide") / "data" / "store" / name
    return file.read_text(encoding="utf-8")


def newest_version() -> int:
    """The schema version that this handslide writes."""
    return len(migrations())


def schema_version(db: Connection, name: str, newest: int) -> int:
    """The schema version of a database: how many migrations it has seen; 0 when it is empty.

    Raises StoreError when it isn't a studio's, or a newer handslide made it. ``name`` is what the
    file is called, ``newest`` the newest version that this handslide knows.
    """
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    owner = db.execute("PRAGMA application_id").fetchone()[0]
    tables = db.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables and owner != APPLICATION_ID:
        raise StoreError("store.not_ours", file=name)
    if version > newest:
        raise StoreError("store.newer", file=name, version=version, newest=newest)
    return version


def migrate(db: Connection, steps: Sequence[Migration]) -> None:
    """Run the migrations that a database lacks, all in one transaction.

    Another process may have done it meanwhile: what is lacking is looked up inside. A step may
    rebuild tables; rows that refer to nothing at the end undo everything (StoreError). An empty
    database gets at once the tables that our steps lead to.
    """
    db.execute("PRAGMA foreign_keys = OFF")  # has no effect inside a transaction
    try:
        with transaction(db):
            version = int(db.execute("PRAGMA user_version").fetchone()[0])
            if not version and db.execute("SELECT 1 FROM sqlite_schema").fetchone() is None:
                version = _ours_among(steps)
                for statement in _tables_at(version):
                    db.execute(statement)
            for step in steps[version:]:
                _run(db, step)
            check_references(db)
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            db.execute(f"PRAGMA user_version = {max(version, len(steps))}")
    finally:
        db.execute("PRAGMA foreign_keys = ON")


def check_references(db: Connection) -> None:
    """Raise StoreError when a row refers to a row that isn't there."""
    wrong = db.execute("PRAGMA foreign_key_check").fetchone()
    if wrong is not None:
        raise StoreError("store.lost_row", table=wrong[0], parent=wrong[2])


def _ours_among(steps: Sequence[Migration]) -> int:
    """How many steps from the first on are ours."""
    ours = migrations()
    pairs = zip(steps, ours, strict=False)
    return next(
        (k for k, (step, own) in enumerate(pairs) if step != own), min(len(steps), len(ours))
    )


@cache
def _tables_at(version: int) -> tuple[str, ...]:
    """The statements that make the tables and indexes of a schema version, which has no rows."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        for step in migrations()[:version]:
            _run(db, step)
        found = db.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY rowid")
        return tuple(row[0] for row in found)


def _run(db: Connection, step: Migration) -> None:
    if not isinstance(step, str):
        step(db)
        return
    for statement in _statements(step):
        db.execute(statement)


def _statements(script: str) -> Iterator[str]:
    # `executescript` would end the transaction that it runs in.
    text = ""
    for line in script.splitlines(keepends=True):
        text += line
        if sqlite3.complete_statement(text):
            yield text
            text = ""
    if text.strip():
        yield text
