"""Importing an archive: read with distrust, looked at by the teacher, then put in place or added.

Nothing of an archive is unpacked under a name of its own. Its rows are copied into a new database
whose tables are ours, and that one waits in the studio's folder until the teacher decides.
"""

import re
import secrets
import shutil
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from handslide.edges.files.factjson import fact_of_json
from handslide.edges.files.safezip import ManyEntries, OtherMethod, open_zip
from handslide.edges.store.checks import check_content, check_file, check_tables, stored_facts
from handslide.edges.store.connection import Connection, connect_file, transaction
from handslide.edges.store.copies import PART, copy_rows, remove_database
from handslide.edges.store.database import telling_sqlite
from handslide.edges.store.folders import forget_folders
from handslide.edges.store.merging import ImportResult, merge_students
from handslide.edges.store.recordings import insert_recording_blocks, number_of_recordings
from handslide.edges.store.rowforms import RecordingEntry, check_rows, read_about, read_recordings
from handslide.edges.store.schema import check_references, migrate, migrations
from handslide.edges.store.scores import number_of_scores
from handslide.edges.store.students import has_student, select_student_uids
from handslide.edges.store.takes import number_of_takes
from handslide.ground.errors import BadData, HandslideError, NotFound, StoreError
from handslide.ground.limits import (
    ARCHIVE_DATABASE_BYTES,
    ARCHIVE_DIRECTORY_BYTES,
    ARCHIVE_ENTRIES,
    ARCHIVE_GROWTH,
    ARCHIVE_MANIFEST_BYTES,
    ARCHIVE_RECORDING_BYTES,
    ARCHIVE_SMALL_BYTES,
    MB,
    SPARE_BYTES,
    STORED_SCORE_BYTES,
)
from handslide.ground.system import system_reason
from handslide.jobs.hear.report import report_from
from handslide.studio.care.archive import ARCHIVE_VERSION, BLOCK_BYTES, DATABASE, KIND, MANIFEST
from handslide.studio.care.backups import CARE, make_backup, put_in_place
from handslide.studio.studio import Studio
from handslide.words.speech import speech

_TOKEN = re.compile(r"[0-9a-f]{32}")
# What stays free on the disk while an archive waits: backups and lessons go on.


@dataclass(frozen=True, slots=True)
class Waiting:
    """An archive that was read and waits for the teacher's word. ``here``: students known here."""

    token: str
    students: tuple[str, ...]
    here: tuple[str, ...]
    scores: int
    takes: int
    recordings: int


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
        with telling_sqlite("studio.archive_database"):
            yield
    except HandslideError:
        raise
    except ManyEntries as error:
        raise StoreError("studio.archive_many_files", most=ARCHIVE_ENTRIES) from error
    except OtherMethod as error:
        raise StoreError("studio.archive_other_packing") from error
    except OSError as error:
        reason = system_reason(error)
        raise StoreError("studio.archive_not_unpacked", reason=reason) from error
    except (
        zipfile.BadZipFile, zlib.error, struct.error, EOFError, RuntimeError, ValueError,
        # What a migration meets in rows that handslide never wrote.
        LookupError, TypeError, AttributeError, ArithmeticError,
    ) as error:  # fmt: skip
        raise StoreError("studio.archive_broken") from error


def waiting(studio: Studio, token: str) -> Waiting:
    """The archive that waits under ``token``. Raises NotFound."""
    with closing(connect_file(_database(studio, token))) as db, studio.store.read() as here:
        found = select_student_uids(db)
        same = tuple(name for name, uid in found if has_student(here, uid))
        scores, takes = number_of_scores(db), number_of_takes(db)
        recordings = number_of_recordings(db)
    names = tuple(name for name, _ in found)
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


def add_students(studio: Studio, token: str) -> ImportResult:
    """Add the archive's students with all they have, after a backup; nothing here is changed.

    A student who is here already (the same one, not only of the same name) is left as here, and so
    are the settings. Invented examples aren't added. Raises NotFound, StoreError.
    """
    path = _database(studio, token)
    with CARE:
        make_backup(studio, "import")
        with closing(connect_file(path)) as source, studio.store.write() as db:
            result = merge_students(source, db)
            check_references(db)
        forget_archive(studio, token)
        return result


def _place(studio: Studio, token: str) -> Path:
    return studio.folder / f".import-{token}{PART}"


def _database(studio: Studio, token: str) -> Path:
    path = _place(studio, token) / DATABASE
    if not _TOKEN.fullmatch(token) or not path.is_file():
        raise NotFound("studio.archive_gone")
    return path


def _read_into(file: BinaryIO, place: Path) -> None:
    with open_zip(file, ARCHIVE_ENTRIES, ARCHIVE_DIRECTORY_BYTES) as archive:
        entries = _Entries(archive)
        _check_room(archive, place)
        manifest = _read_manifest(entries)
        raw = place / "raw" / DATABASE
        raw.parent.mkdir()
        with raw.open("xb") as target:
            for block in entries.blocks(DATABASE, ARCHIVE_DATABASE_BYTES):
                target.write(block)
        _rebuild(raw, place / DATABASE)
        remove_database(raw)
        with closing(connect_file(place / DATABASE)) as db, transaction(db):
            for entry in manifest:
                _put_recording(entries, db, entry)


def _check_room(archive: zipfile.ZipFile, place: Path) -> None:
    """Raise StoreError when the disk has no room for what an archive says it holds."""
    promised = sum(info.file_size for info in archive.infolist())
    if promised + SPARE_BYTES > shutil.disk_usage(place).free:
        raise StoreError("studio.archive_no_room", size_mb=promised / MB)


class _Entries:
    """Entries of a zip file, bounded by what comes out of them, not by what they promise."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        infos = archive.infolist()
        for info in infos:
            _check_name(info.filename)
            if info.flag_bits & 1:
                raise StoreError("studio.archive_locked")
        self._archive = archive
        self._names = {info.filename: info for info in infos}
        if len(self._names) < len(infos):
            raise StoreError("studio.archive_doubled")
        packed = sum(info.compress_size for info in infos)
        self._left = ARCHIVE_SMALL_BYTES + ARCHIVE_GROWTH * packed

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
                    raise StoreError("studio.archive_trap")
                yield block

    def _find(self, name: str) -> zipfile.ZipInfo:
        info = self._names.get(name)
        if info is None:
            raise StoreError("studio.archive_lacks", file=name)
        return info


def _check_name(name: str) -> None:
    parts = name.replace("\\", "/").split("/")
    if name.startswith(("/", "\\")) or ".." in parts or ":" in parts[0] or "\0" in name:
        raise StoreError("studio.archive_leads_out")


def _read_manifest(entries: _Entries) -> list[RecordingEntry]:
    """The recordings that the archive lists."""
    text = b"".join(entries.blocks(MANIFEST, ARCHIVE_MANIFEST_BYTES))
    try:
        about = read_about(text)
    except ValueError:
        raise StoreError("studio.archive_not_ours") from None
    if about.what != KIND:
        raise StoreError("studio.archive_not_ours")
    if about.archive_form is None or about.archive_form > ARCHIVE_VERSION:
        raise StoreError("studio.archive_newer")
    try:
        return read_recordings(text)
    except ValueError:
        raise StoreError("studio.archive_list", file=MANIFEST) from None


def _rebuild(raw: Path, target: Path) -> None:
    """Copy the rows of a foreign database into one of ours, and check what its tables can't."""
    try:
        version = check_file(raw)
    except StoreError as error:
        raise StoreError("studio.archive_unusable", why=error.fact) from error
    with closing(connect_file(raw)) as source:
        check_tables(source, version)
        copy_rows(source, target, version)
    with closing(connect_file(target)) as db:
        check_references(db)
        migrate(db, migrations())
        check_content(db, STORED_SCORE_BYTES)
        check_rows(db)
        # A folder that somebody else names must not be looked into.
        forget_folders(db)
        for table, column, value in stored_facts(db):
            found = [value] if column == "told" else _facts_in(value)
            if not all(map(_is_told, found)) or (column == "report" and not _is_report(value)):
                raise StoreError("store.unreadable_column", table=table, column=column)


def _facts_in(value: Any) -> Iterator[Any]:
    """What looks like a fact in a JSON value; no facts in facts."""
    if isinstance(value, dict) and "kind" in value and value.keys() <= {"kind", "values"}:
        yield value
    elif isinstance(value, dict | list):
        for held in value.values() if isinstance(value, dict) else value:
            yield from _facts_in(held)


def _is_told(value: Any) -> bool:
    """Whether there are words for a fact, and its values are such as they need."""
    try:
        speech().fact(fact_of_json(value))
    except (BadData, LookupError, TypeError, ValueError, AttributeError, ArithmeticError):
        return False
    return True


def _is_report(value: Any) -> bool:
    try:
        report_from(value)
    except BadData:
        return False
    return True


def _put_recording(entries: _Entries, db: Connection, entry: RecordingEntry) -> None:
    size = entries.promised_bytes(entry.file)
    if size > ARCHIVE_RECORDING_BYTES:
        raise StoreError("studio.archive_large_recording", most=ARCHIVE_RECORDING_BYTES)
    insert_recording_blocks(
        db,
        entry.take,
        entry.media_type,
        entries.blocks(entry.file, size),
        size_bytes=size,
        created_at=entry.created_at,
    )
