"""Importing an archive: read with distrust, looked at by the teacher, then put in place or added.

Nothing of an archive is unpacked under a name of its own. Its rows are copied into a new database
whose tables are ours, and that one waits in the studio's folder until the teacher decides.
"""

import hashlib
import json
import lzma
import re
import secrets
import shutil
import sqlite3
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any, BinaryIO

from handslide.edges.store.copies import (
    PART,
    check_file,
    check_tables,
    connect_file,
    copy_rows,
    remove_database,
)
from handslide.edges.store.schema import bring_up, check_references, migrations
from handslide.ground.errors import HandslideError, NotFound, StoreError
from handslide.studio.care.archive import ARCHIVE_FORM, BLOCK_BYTES, DATABASE, KIND, MANIFEST
from handslide.studio.care.backups import CARE, make_backup, put_in_place
from handslide.studio.studio import Studio

MAX_BYTES = 2_000_000_000
MAX_UNPACKED_BYTES = 6 * 2**30
MAX_RECORDING_BYTES = 400 * 2**20
MAX_SCORE_BYTES = 20 * 2**20
_MAX_MANIFEST_BYTES = 32 * 2**20
_MAX_ENTRIES = 200_000
# A database of ours packs to a tenth; what unpacks to much more is a trap.
_MAX_GROWTH, _SMALL_BYTES = 100, 16 * 2**20
_TOKEN = re.compile(r"[0-9a-f]{32}")
_MEDIA = re.compile(r"audio/[a-z0-9.+\-]{1,40}")
_JSON = (
    ("student", "learned"), ("stand_lock", "valves"), ("stand_edit", "changes"),
    ("take", "report"), ("take_note", "valves"),
)  # fmt: skip
_OWN_SCORES = (
    "SELECT id FROM score WHERE example = 0 UNION SELECT score_id FROM stand JOIN student "
    "ON student.id = student_id WHERE student.example = 0 UNION SELECT score_id FROM take "
    "JOIN student ON student.id = student_id WHERE student.example = 0"
)


@dataclass(frozen=True, slots=True)
class Waiting:
    """An archive that was read and waits for the teacher's word. ``here``: students known here."""

    token: str
    students: tuple[str, ...]
    here: tuple[str, ...]
    scores: int
    takes: int
    recordings: int


@dataclass(frozen=True, slots=True)
class Came:
    """What was added: students and parts; ``here``: students left as they are, known already."""

    students: int
    scores: int
    here: int


def read_archive(studio: Studio, file: BinaryIO) -> Waiting:
    """Read an archive and let it wait in the studio's folder; an earlier one that waits goes.

    Raises
    ------
    StoreError
        Not an archive of ours, broken, too large, unsafe, of a newer handslide. Nothing stays.
    """
    with CARE:
        for old in studio.folder.glob(f".import-*{PART}"):
            shutil.rmtree(old, ignore_errors=True)
        token = secrets.token_hex(16)
        place = _place(studio, token)
        place.mkdir(mode=0o700)
        try:
            with _one_sentence():
                _read_into(file, place)
            return waiting(studio, token)
        except BaseException:
            shutil.rmtree(place, ignore_errors=True)
            raise


@contextmanager
def _one_sentence() -> Iterator[None]:
    """Say in a sentence what the libraries found in an archive."""
    try:
        yield
    except HandslideError:
        raise
    except sqlite3.Error as error:
        raise StoreError(f"the database in the archive can't be used: {error}") from error
    except OSError as error:
        reason = error.strerror or error
        raise StoreError(f"the archive can't be unpacked: {reason}; is the disk full?") from error
    except (
        zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error, EOFError, RuntimeError,
        ValueError,
    ) as error:  # fmt: skip
        raise StoreError(
            "the archive can't be read: it is broken or wasn't made by handslide; was it copied "
            "whole?"
        ) from error


def waiting(studio: Studio, token: str) -> Waiting:
    """The archive that waits under ``token``. Raises NotFound."""
    with closing(connect_file(_database(studio, token))) as db, studio.store.read() as here:
        known = {row["uid"] for row in here.execute("SELECT uid FROM student")}
        rows = db.execute("SELECT name, uid FROM student ORDER BY name COLLATE NOCASE").fetchall()
        scores, takes, recordings = (
            db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("score", "take", "recording")
        )
    names = tuple(row["name"] for row in rows)
    same = tuple(row["name"] for row in rows if row["uid"] in known)
    return Waiting(token, names, same, scores, takes, recordings)


def forget_archive(studio: Studio, token: str) -> None:
    """Drop an archive that waits, if it still does."""
    if _TOKEN.fullmatch(token):
        shutil.rmtree(_place(studio, token), ignore_errors=True)


def replace_all(studio: Studio, token: str) -> Path | None:
    """Put the archive in place of all that is in the studio, after a backup of that.

    Returns the backup. Raises NotFound, StoreError.
    """
    made = put_in_place(studio, _database(studio, token), "import")
    forget_archive(studio, token)
    return made


def add_students(studio: Studio, token: str) -> Came:
    """Add the archive's students with all they have, after a backup; nothing here is changed.

    A student who is here already (the same one, not only of the same name) is left as here, and so
    are the settings. Invented examples aren't added. Raises NotFound, StoreError.
    """
    path = _database(studio, token)
    with CARE:
        make_backup(studio, "import")
        with closing(connect_file(path)) as source, studio.store.write() as db:
            came = _Adding(source, db).run()
            check_references(db)
        forget_archive(studio, token)
        return came


class _Adding:
    """Copies rows of one studio into another under new numbers."""

    def __init__(self, source: sqlite3.Connection, target: sqlite3.Connection) -> None:
        self._source = source
        self._target = target
        self._numbers: dict[str, dict[int, int]] = {}
        self._wanted = {row[0] for row in source.execute(_OWN_SCORES)}
        self._here = 0
        self._scores = 0

    def run(self) -> Came:
        parents = {table: self._parents(table) for table in self._tables()}
        for table in TopologicalSorter(
            {table: {parent for parent, _ in found.values()} for table, found in parents.items()}
        ).static_order():
            self._numbers[table] = {}
            for row in self._source.execute(f'SELECT * FROM "{table}"'):
                self._add(table, dict(row), parents[table])
        return Came(len(self._numbers["student"]), self._scores, self._here)

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
                return int(found[0])
            self._scores += 1
        return None


def _place(studio: Studio, token: str) -> Path:
    return studio.folder / f".import-{token}{PART}"


def _database(studio: Studio, token: str) -> Path:
    path = _place(studio, token) / DATABASE
    if not _TOKEN.fullmatch(token) or not path.is_file():
        raise NotFound("this archive doesn't wait (any more): choose its file again")
    return path


def _read_into(file: BinaryIO, place: Path) -> None:
    with zipfile.ZipFile(file) as archive:
        entries = _Entries(archive)
        manifest = _read_manifest(entries)
        raw = place / "raw" / DATABASE
        raw.parent.mkdir()
        with raw.open("xb") as target:
            for block in entries.blocks(DATABASE, MAX_UNPACKED_BYTES):
                target.write(block)
        _rebuild(raw, place / DATABASE)
        remove_database(raw)
        with closing(connect_file(place / DATABASE)) as db:
            db.execute("BEGIN")
            for entry in manifest:
                _put_recording(entries, db, entry)
            db.execute("COMMIT")


class _Entries:
    """Entries of a zip file, bounded by what comes out of them, not by what they promise."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        infos = archive.infolist()
        if len(infos) > _MAX_ENTRIES:
            raise StoreError(f"the archive has more than {_MAX_ENTRIES} files in it: not ours")
        for info in infos:
            _check_name(info.filename)
            if info.flag_bits & 1:
                raise StoreError("the archive is locked by a password: ours never are")
        self._archive = archive
        self._names = {info.filename: info for info in infos}
        if len(self._names) < len(infos):
            raise StoreError("the archive has two files of one name: it wasn't made by handslide")
        packed = sum(info.compress_size for info in infos)
        self._left = min(MAX_UNPACKED_BYTES, _SMALL_BYTES + _MAX_GROWTH * packed)

    def promised_bytes(self, name: str) -> int:
        """How large an entry says it is. Raises StoreError when it is missing."""
        return self._find(name).file_size

    def blocks(self, name: str, most: int) -> Iterator[bytes]:
        """The content of an entry in blocks. Raises StoreError when it is missing or too large."""
        with self._archive.open(self._find(name)) as entry:
            while block := entry.read(BLOCK_BYTES):
                most -= len(block)
                self._left -= len(block)
                if most < 0 or self._left < 0:
                    raise StoreError("the archive unpacks to far more than a studio holds: a trap?")
                yield block

    def _find(self, name: str) -> zipfile.ZipInfo:
        info = self._names.get(name)
        if info is None:
            raise StoreError(f"the archive lacks {name}: it wasn't made by handslide, or not whole")
        return info


def _check_name(name: str) -> None:
    parts = name.replace("\\", "/").split("/")
    if name.startswith(("/", "\\")) or ".." in parts or ":" in parts[0] or "\0" in name:
        raise StoreError(
            "the archive has a file whose name leads out of its folder: it wasn't made by handslide"
        )


def _read_manifest(entries: _Entries) -> list[dict[str, Any]]:
    """The recordings that the archive lists."""
    text = b"".join(entries.blocks(MANIFEST, _MAX_MANIFEST_BYTES))
    manifest: Any = None
    with suppress(ValueError, RecursionError):
        manifest = json.loads(text)
    if not isinstance(manifest, dict) or manifest.get("what") != KIND:
        raise StoreError("the file is a zip archive, but not one of a studio of handslide")
    form = manifest.get("archive_form")
    if not isinstance(form, int) or form > ARCHIVE_FORM:
        raise StoreError(
            "the archive was made by a newer handslide: install the newer one and import it there"
        )
    found = manifest.get("recordings")
    if not isinstance(found, list) or not all(map(_is_recording, found)):
        raise StoreError(f"the archive's {MANIFEST} lists its recordings in no way that we know")
    return found


def _is_recording(entry: Any) -> bool:
    return (
        isinstance(entry, dict)
        and isinstance(entry.get("take"), int)
        and isinstance(entry.get("file"), str)
        and isinstance(entry.get("created_at"), str)
        and isinstance(entry.get("media_type"), str)
        and _MEDIA.fullmatch(entry["media_type"]) is not None
    )


def _rebuild(raw: Path, target: Path) -> None:
    """Copy the rows of a foreign database into one of ours, and check what its tables can't."""
    try:
        form = check_file(raw)
    except StoreError as error:
        raise StoreError(f"the archive can't be used: {error}") from error
    with closing(connect_file(raw)) as source:
        check_tables(source, form)
        copy_rows(source, target, form)
    with closing(connect_file(target)) as db:
        check_references(db)
        bring_up(db, migrations())
        for table, column in _JSON:
            bad = db.execute(
                f'SELECT 1 FROM "{table}" '
                f'WHERE "{column}" IS NOT NULL AND NOT json_valid("{column}")'
            ).fetchone()
            if bad is not None:
                raise StoreError(f"the archive has a '{table}' whose '{column}' can't be read")
        for row in db.execute("SELECT title, data, digest FROM score"):
            fits = len(row["data"]) <= MAX_SCORE_BYTES
            if not fits or hashlib.sha256(row["data"]).hexdigest() != row["digest"]:
                raise StoreError(f"the part '{row['title']}' in the archive isn't what was put in")


def _put_recording(entries: _Entries, db: sqlite3.Connection, entry: dict[str, Any]) -> None:
    take, size = entry["take"], entries.promised_bytes(entry["file"])
    if size > MAX_RECORDING_BYTES:
        raise StoreError(f"a recording in the archive has more than {MAX_RECORDING_BYTES} bytes")
    try:
        db.execute(
            "INSERT INTO recording (take_id, media_type, data, created_at) "
            "VALUES (?, ?, zeroblob(?), ?)",
            (take, entry["media_type"], size, entry["created_at"]),
        )
    except sqlite3.IntegrityError as error:
        raise StoreError("the archive has a recording that belongs to none of its takes") from error
    with db.blobopen("recording", "data", take) as blob:
        for block in entries.blocks(entry["file"], size):
            blob.write(block)
