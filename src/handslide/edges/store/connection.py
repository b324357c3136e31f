"""Connections to database files."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeAlias

Connection: TypeAlias = sqlite3.Connection


def connect_file(path: Path) -> Connection:
    """A connection to a database file that isn't the studio in use: a backup, an import.

    Nothing in its schema is trusted to run anything.
    """
    db = sqlite3.connect(path, timeout=10, isolation_level=None, check_same_thread=False)
    db.row_factory = sqlite3.Row
    db.execute("PRAGMA trusted_schema = OFF")
    db.execute("PRAGMA cell_size_check = ON")
    db.execute("PRAGMA secure_delete = ON")
    db.execute("PRAGMA foreign_keys = ON")
    return db


@contextmanager
def one_moment(db: Connection) -> Iterator[None]:
    """All that is read in the block is as it was at one moment."""
    if db.in_transaction:
        yield
        return
    db.execute("BEGIN")
    try:
        yield
    finally:
        db.execute("ROLLBACK")


@contextmanager
def transaction(db: Connection) -> Iterator[None]:
    """What the block does is kept when it ends, or not at all."""
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        # After a full disk SQLite may have undone it already.
        if db.in_transaction:
            with suppress(sqlite3.Error):
                db.execute("ROLLBACK")
        raise
