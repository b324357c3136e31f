"""The table ``score``: the files of parts as they came."""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now

_COLUMNS = "id, title, composer, file_name, digest, example, archived_at, created_at, pdf, takes"


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """A score as stored, without its data. ``digest`` is the SHA-256 of the file; ``pdf``: it is
    read from the pages of a PDF. ``takes`` are the ids of its parts for slide players, as the
    teacher says; None: as names and clefs tell."""

    id: int
    title: str
    composer: str
    file_name: str
    digest: str
    example: bool
    archived_at: str | None
    created_at: str
    pdf: bool
    takes: tuple[str, ...] | None = None


def insert_score(
    db: Connection,
    data: bytes,
    digest: str,
    *,
    title: str,
    composer: str,
    file_name: str,
    example: bool,
    pdf: bool = False,
) -> None:
    """A new score; nothing where the same file is there already."""
    db.execute(
        "INSERT INTO score (title, composer, file_name, data, digest, example, created_at, pdf) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (digest) DO NOTHING",
        (title, composer, file_name, data, digest, int(example), now(), int(pdf)),
    )


def find_score(db: Connection, score_id: int) -> ScoreRow | None:
    """A score, None where there is none of that number."""
    row = db.execute(f"SELECT {_COLUMNS} FROM score WHERE id = ?", (score_id,)).fetchone()
    return None if row is None else _score(row)


def find_score_by_digest(db: Connection, digest: str) -> ScoreRow | None:
    """The score with just this file, None where it isn't there."""
    row = db.execute(f"SELECT {_COLUMNS} FROM score WHERE digest = ?", (digest,)).fetchone()
    return None if row is None else _score(row)


def select_scores(db: Connection, *, archived: bool) -> tuple[ScoreRow, ...]:
    """All scores by title: those in use, or the archived ones."""
    rows = db.execute(
        f"SELECT {_COLUMNS} FROM score WHERE (archived_at IS NOT NULL) = ? "
        "ORDER BY title COLLATE NOCASE, id",
        (archived,),
    )
    return tuple(_score(row) for row in rows)


def select_digests(db: Connection) -> frozenset[str]:
    """The digests of all scores, the archived ones too."""
    return frozenset(row[0] for row in db.execute("SELECT digest FROM score"))


def is_in_use(db: Connection, score_id: int) -> bool:
    """Whether a score is on a stand, or a take was made of it."""
    found = db.execute(
        "SELECT EXISTS (SELECT 1 FROM stand WHERE score_id = ?1) "
        "OR EXISTS (SELECT 1 FROM take WHERE score_id = ?1)",
        (score_id,),
    )
    return bool(found.fetchone()[0])


def select_titles(db: Connection) -> tuple[tuple[int, str, str, str, str], ...]:
    """(id, title, composer, file_name, created_at) of all scores, the archived ones too."""
    rows = db.execute("SELECT id, title, composer, file_name, created_at FROM score ORDER BY id")
    return tuple(tuple(row) for row in rows)


def read_score_data(db: Connection, score_id: int) -> bytes | None:
    """The file of a score, None where there is none of that number."""
    row = db.execute("SELECT data FROM score WHERE id = ?", (score_id,)).fetchone()
    return None if row is None else bytes(row["data"])


def number_of_scores(db: Connection) -> int:
    """How many scores there are, the archived ones too."""
    return int(db.execute("SELECT count(*) FROM score").fetchone()[0])


def update_score(db: Connection, score_id: int, *, title: str, composer: str) -> None:
    """Give a score another title and composer."""
    db.execute("UPDATE score SET title = ?, composer = ? WHERE id = ?", (title, composer, score_id))


def update_takes(db: Connection, score_id: int, takes: Sequence[str] | None) -> None:
    """Say which parts of a score are a slide player's."""
    db.execute("UPDATE score SET takes = ? WHERE id = ?", (stored_takes(takes), score_id))


def update_score_archived(db: Connection, score_id: int, *, archived: bool) -> None:
    """Put a score away, or bring it back."""
    when = now() if archived else None
    db.execute("UPDATE score SET archived_at = ? WHERE id = ?", (when, score_id))


def delete_score_row(db: Connection, score_id: int) -> None:
    """Delete a score with all stands that it is on; takes stay."""
    db.execute("DELETE FROM score WHERE id = ?", (score_id,))


def _score(row: sqlite3.Row) -> ScoreRow:
    takes = takes_of(row["takes"])
    flags = {name: bool(row[name]) for name in ("example", "pdf")}
    return ScoreRow(**dict(row) | flags | {"takes": takes})


def takes_of(stored: str | None) -> tuple[str, ...] | None:
    """Ids of parts as they are stored."""
    return None if stored is None else tuple(json.loads(stored))


def stored_takes(takes: Sequence[str] | None) -> str | None:
    """Ids of parts for storing."""
    return None if takes is None else json.dumps(list(takes), ensure_ascii=False)
