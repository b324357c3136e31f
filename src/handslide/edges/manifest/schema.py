"""The tables of a manifest, and how its file is opened."""

import sqlite3
from contextlib import closing
from pathlib import Path

from handslide.edges.store.connection import Connection, transaction
from handslide.edges.store.database import telling_sqlite
from handslide.ground.errors import StoreError

# "hs" and "lm".
APPLICATION_ID = 0x68736C6D
FORM = 1
_BUSY_S = 10.0

_TABLES = """
CREATE TABLE source (
    path TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
    hash TEXT NOT NULL, key TEXT NOT NULL, there INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE task (
    key TEXT PRIMARY KEY, kind TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('to_do', 'running', 'done', 'error')),
    tries INTEGER NOT NULL DEFAULT 0, passing INTEGER NOT NULL DEFAULT 0,
    result TEXT, error TEXT,
    notes INTEGER, unplayable INTEGER, low INTEGER, high INTEGER,
    position REAL, speed_m_s REAL, valves INTEGER, effort REAL
) WITHOUT ROWID;
CREATE INDEX task_state ON task(kind, state);
CREATE TABLE target (
    path TEXT PRIMARY KEY, key TEXT NOT NULL, source TEXT NOT NULL,
    part_id TEXT NOT NULL, part TEXT NOT NULL, player TEXT NOT NULL,
    wanted INTEGER NOT NULL, ours INTEGER NOT NULL DEFAULT 0, placed INTEGER NOT NULL DEFAULT 0,
    error TEXT
) WITHOUT ROWID;
CREATE INDEX target_key ON target(key);
CREATE TABLE player (label TEXT PRIMARY KEY, about TEXT NOT NULL) WITHOUT ROWID;
"""


def open_manifest(path: Path) -> Connection:
    """A connection to the manifest at ``path``, made where there is none.

    Raises StoreError when it can't be opened, is another program's, or a newer handslide made it.
    """
    with telling_sqlite("library.manifest", file=str(path)):
        db = sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None)
        try:
            db.row_factory = sqlite3.Row
            db.execute("PRAGMA journal_mode = WAL").fetchone()
            # A power cut may take the last rows, never the file: what they said is made again.
            db.execute("PRAGMA synchronous = NORMAL")
            prepare(db, str(path))
        except BaseException:
            db.close()
            raise
    return db


def open_copy(path: Path) -> Connection:
    """A copy of the manifest at ``path`` in memory; an empty one where there is none."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    db.row_factory = sqlite3.Row
    if path.exists():
        with (
            closing(open_to_read(path)) as source,
            telling_sqlite("library.manifest", file=str(path)),
        ):
            source.backup(db)
    prepare(db, str(path))
    return db


def open_to_read(path: Path) -> Connection:
    """A connection that changes nothing. Raises StoreError."""
    if not path.is_file():
        raise StoreError("library.no_manifest", folder=str(path.parent))
    with telling_sqlite("library.manifest", file=str(path)):
        log = path.with_name(f"{path.name}-wal")
        # Without a log nobody writes, and nothing need be made beside the file.
        way = "mode=ro" if log.exists() else "mode=ro&immutable=1"
        db = sqlite3.connect(
            f"{path.absolute().as_uri()}?{way}", timeout=_BUSY_S, isolation_level=None, uri=True
        )
        db.row_factory = sqlite3.Row
        try:
            _form(db, str(path))
        except BaseException:
            db.close()
            raise
    return db


def prepare(db: Connection, name: str) -> None:
    """Make the tables where there are none."""
    if _form(db, name):
        return
    with transaction(db):
        for statement in _TABLES.split(";\n"):
            if statement.strip():
                db.execute(statement)
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute(f"PRAGMA user_version = {FORM}")


def _form(db: Connection, name: str) -> int:
    form = int(db.execute("PRAGMA user_version").fetchone()[0])
    owner = db.execute("PRAGMA application_id").fetchone()[0]
    tables = db.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables and owner != APPLICATION_ID:
        raise StoreError("library.not_ours", file=name)
    if form > FORM:
        raise StoreError("library.newer", file=name)
    return form
