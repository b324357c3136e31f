"""The tables ``folder`` and ``folder_file``: where parts are taken in from, many at once."""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now
from handslide.edges.store.scores import stored_takes, takes_of

# What is of this machine alone, and has no place in an archive.
TABLES = ("folder", "folder_file")


@dataclass(frozen=True, slots=True)
class FolderRow:
    """A folder. ``path`` is absolute; of one that a browser ``sent``, its name among these."""

    id: int
    path: str
    title: str
    sent: bool
    created_at: str


@dataclass(frozen=True, slots=True)
class FileRow:
    """A file of a folder as it was last looked at.

    ``digest`` is the SHA-256 of its bytes (None: they couldn't be read), ``takes`` which of its
    parts are wanted (None: as names and clefs tell; empty: none), ``taken`` the digest that was
    taken in last. ``there``: the last look found it.
    """

    id: int
    folder_id: int
    path: str
    size: int
    mtime_ns: int
    digest: str | None
    takes: tuple[str, ...] | None
    taken: str | None
    there: bool


@dataclass(frozen=True, slots=True)
class Seen:
    """A file as a look finds it."""

    path: str
    size: int
    mtime_ns: int
    digest: str | None


def put_folder(db: Connection, path: str, title: str, *, sent: bool) -> int:
    """A folder; one that is known stays as it is. Gives its id."""
    db.execute(
        "INSERT INTO folder (path, title, sent, created_at) VALUES (?, ?, ?, ?) "
        "ON CONFLICT (path, sent) DO NOTHING",
        (path, title, int(sent), now()),
    )
    found = db.execute(
        "SELECT id FROM folder WHERE path = ? AND sent = ?", (path, int(sent))
    ).fetchone()
    return int(found["id"])


def find_folder(db: Connection, folder_id: int) -> FolderRow | None:
    """A folder, None where there is none of that number."""
    row = db.execute("SELECT * FROM folder WHERE id = ?", (folder_id,)).fetchone()
    return None if row is None else _folder(row)


def select_folders(db: Connection) -> tuple[FolderRow, ...]:
    """All folders, in the order in which they came."""
    return tuple(map(_folder, db.execute("SELECT * FROM folder ORDER BY id")))


def delete_folder(db: Connection, folder_id: int) -> None:
    """Forget a folder and its files; what was taken in stays."""
    db.execute("DELETE FROM folder WHERE id = ?", (folder_id,))


def select_files(db: Connection, folder_id: int) -> tuple[FileRow, ...]:
    """All files of a folder by path."""
    rows = db.execute("SELECT * FROM folder_file WHERE folder_id = ? ORDER BY path", (folder_id,))
    return tuple(map(_file, rows))


def find_file(db: Connection, file_id: int) -> FileRow | None:
    """A file of a folder, None where there is none of that number."""
    row = db.execute("SELECT * FROM folder_file WHERE id = ?", (file_id,)).fetchone()
    return None if row is None else _file(row)


def put_seen(db: Connection, folder_id: int, files: Iterable[Seen]) -> None:
    """These files are in a folder now, and no others. What was said of them stays."""
    db.execute("UPDATE folder_file SET there = 0 WHERE folder_id = ?", (folder_id,))
    db.executemany(
        "INSERT INTO folder_file (folder_id, path, size, mtime_ns, digest) VALUES (?, ?, ?, ?, ?) "
        "ON CONFLICT (folder_id, path) DO UPDATE SET size = excluded.size, "
        "mtime_ns = excluded.mtime_ns, digest = excluded.digest, there = 1",
        ((folder_id, file.path, file.size, file.mtime_ns, file.digest) for file in files),
    )


def update_file_takes(db: Connection, file_id: int, takes: Sequence[str] | None) -> None:
    """Say which parts of a file are wanted; where what was taken in is deleted, it is new again."""
    db.execute(
        "UPDATE folder_file SET takes = ?, taken = CASE WHEN EXISTS (SELECT 1 FROM score "
        "WHERE score.digest = folder_file.taken) THEN taken END WHERE id = ?",
        (stored_takes(takes), file_id),
    )


def update_taken(db: Connection, taken: Mapping[int, str]) -> None:
    """Files were taken in, by the digest of what they held."""
    db.executemany(
        "UPDATE folder_file SET taken = ? WHERE id = ?",
        ((digest, file_id) for file_id, digest in taken.items()),
    )


def take_what_is_here(db: Connection, folder_id: int) -> None:
    """Files whose very bytes are a part of the studio already are taken in."""
    db.execute(
        "UPDATE folder_file SET taken = digest WHERE folder_id = ? AND taken IS NULL "
        "AND EXISTS (SELECT 1 FROM score WHERE score.digest = folder_file.digest)",
        (folder_id,),
    )


def delete_gone(db: Connection, folder_id: int) -> None:
    """Forget the files of a folder that are gone."""
    db.execute("DELETE FROM folder_file WHERE folder_id = ? AND NOT there", (folder_id,))


def forget_folders(db: Connection) -> None:
    """Forget all folders."""
    db.execute("DELETE FROM folder")


def _folder(row: sqlite3.Row) -> FolderRow:
    return FolderRow(**dict(row) | {"sent": bool(row["sent"])})


def _file(row: sqlite3.Row) -> FileRow:
    return FileRow(**dict(row) | {"there": bool(row["there"]), "takes": takes_of(row["takes"])})
