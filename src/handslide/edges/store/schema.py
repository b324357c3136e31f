"""The form of a studio's database: numbered migrations, and how a file is brought up to date."""

import sqlite3
from collections.abc import Iterator, Sequence
from importlib import resources

from handslide.edges.store.connection import Connection, transaction
from handslide.ground.errors import StoreError

# "hs" and "st": another program's database isn't taken for ours.
APPLICATION_ID = 0x68737374


def migrations() -> list[str]:
    """The SQL of all migrations in their order; number N is the Nth from 1."""
    folder = resources.files("handslide") / "data" / "store"
    files = sorted(
        (file for file in folder.iterdir() if file.name.endswith(".sql")), key=lambda f: f.name
    )
    return [file.read_text(encoding="utf-8") for file in files]


def form_of(db: Connection, name: str, known: int) -> int:
    """The form of a database: how many migrations it has seen; 0 when it is empty.

    Raises StoreError when it isn't a studio's, or a newer handslide made it. ``name`` is for the
    sentence, ``known`` the newest form that this handslide knows.
    """
    form = int(db.execute("PRAGMA user_version").fetchone()[0])
    owner = db.execute("PRAGMA application_id").fetchone()[0]
    tables = db.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables and owner != APPLICATION_ID:
        raise StoreError(f"{name} is a database, but not a studio of handslide")
    if form > known:
        raise StoreError(
            f"{name} was made by a newer handslide (its form is {form}, this one knows {known}): "
            "install the newer one; nothing was changed"
        )
    return form


def bring_up(db: Connection, scripts: Sequence[str]) -> None:
    """Run the migrations that a database lacks, all in one transaction.

    Another process may have done it meanwhile: what is lacking is looked up inside. A script may
    rebuild tables; rows that refer to nothing at the end undo everything (StoreError).
    """
    db.execute("PRAGMA foreign_keys = OFF")  # has no effect inside a transaction
    try:
        with transaction(db):
            form = int(db.execute("PRAGMA user_version").fetchone()[0])
            for script in scripts[form:]:
                for statement in _statements(script):
                    db.execute(statement)
            check_references(db)
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            db.execute(f"PRAGMA user_version = {max(form, len(scripts))}")
    finally:
        db.execute("PRAGMA foreign_keys = ON")


def check_references(db: Connection) -> None:
    """Raise StoreError when a row refers to a row that isn't there."""
    wrong = db.execute("PRAGMA foreign_key_check").fetchone()
    if wrong is not None:
        raise StoreError(
            f"a row of '{wrong[0]}' belongs to something in '{wrong[2]}' that isn't there"
        )


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
