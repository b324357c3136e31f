"""The tables ``correction`` and ``correction_edit``: what is said of how a PDF reads."""

import json
from collections.abc import Sequence
from typing import TypeAlias

from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now

Key: TypeAlias = tuple[str, str]
"""Kind (``clef``, ``key``, ``note``, ``staff``; in an edit also ``sign``) and place."""
Edit: TypeAlias = tuple[str, str, str | None, str | None]
"""Kind and place, what was said there before and after; None: nothing."""


def select_corrections(db: Connection, score_id: int) -> dict[Key, str]:
    """All that is said of a score, by kind and place."""
    rows = db.execute(
        "SELECT kind, place, value FROM correction WHERE score_id = ? ORDER BY kind, place",
        (score_id,),
    )
    return {(row["kind"], row["place"]): row["value"] for row in rows}


def put_correction(db: Connection, score_id: int, key: Key, value: str | None) -> None:
    """Say something of a place of a score; None: nothing any more."""
    db.execute(
        "DELETE FROM correction WHERE score_id = ? AND kind = ? AND place = ?", (score_id, *key)
    )
    if value is not None:
        db.execute(
            "INSERT INTO correction (score_id, kind, place, value) VALUES (?, ?, ?, ?)",
            (score_id, *key, value),
        )


def insert_correction_edit(
    db: Connection, score_id: int, number: int, changes: Sequence[Edit]
) -> None:
    """Keep an edit as the ``number``-th of a score; those from there on, undone, go."""
    db.execute("DELETE FROM correction_edit WHERE score_id = ? AND number >= ?", (score_id, number))
    db.execute(
        "INSERT INTO correction_edit (score_id, number, changes, made_at) VALUES (?, ?, ?, ?)",
        (score_id, number, json.dumps(changes), now()),
    )


def find_correction_edit(db: Connection, score_id: int, number: int) -> tuple[Edit, ...] | None:
    """What an edit changed, None where there is none of that number."""
    row = db.execute(
        "SELECT changes FROM correction_edit WHERE score_id = ? AND number = ?",
        (score_id, number),
    ).fetchone()
    if row is None:
        return None
    return tuple((kind, place, old, new) for kind, place, old, new in json.loads(row["changes"]))


def number_of_corrections(db: Connection, score_id: int) -> tuple[int, int]:
    """How many edits of a score are in force, and how many are kept, the undone ones too."""
    row = db.execute(
        "SELECT corrections_done, (SELECT count(*) FROM correction_edit WHERE score_id = score.id) "
        "AS kept FROM score WHERE id = ?",
        (score_id,),
    ).fetchone()
    return (0, 0) if row is None else (int(row["corrections_done"]), int(row["kept"]))


def update_corrections_done(db: Connection, score_id: int, done: int) -> None:
    """Say how many edits of a score are in force."""
    db.execute("UPDATE score SET corrections_done = ? WHERE id = ?", (done, score_id))
