"""A whole studio as one archive: the database, and readable copies of all that is in it.

The archive is a zip file. ``studio.db`` is the database without the recordings; these are files of
their own, listed in ``archive.json``. Everything else is there for people and other programs, and
isn't read again.
"""

import contextlib
import csv
import io
import json
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path, PurePosixPath
from typing import IO

from handslide import __version__
from handslide.edges.files.cells import plain_cell
from handslide.edges.files.safename import safe_name
from handslide.edges.store.connection import Connection, one_moment
from handslide.edges.store.copies import copy_rows, part_folder
from handslide.edges.store.database import now
from handslide.edges.store.exporting import (
    Rows,
    exercises_files,
    horn_files,
    note_rows,
    recording_blocks,
    score_files,
    stand_rows,
    student_names,
    student_rows,
    take_files,
)
from handslide.edges.store.folders import TABLES as OF_THIS_MACHINE
from handslide.edges.store.schema import newest_version
from handslide.ground.errors import HandslideError, StoreError
from handslide.ground.system import system_reason
from handslide.studio.care.backups import WITHOUT
from handslide.studio.studio import Studio
from handslide.words.archive import README
from handslide.words.speech import Speech

ARCHIVE_VERSION = 1
KIND = "handslide studio"
MANIFEST, DATABASE = "archive.json", "studio.db"
BLOCK_BYTES = 1 << 20
_SUFFIXES = {"audio/flac": ".flac", "audio/wav": ".wav", "audio/ogg": ".ogg", "audio/mpeg": ".mp3"}


def archive_name() -> str:
    """What an archive made today is called."""
    return f"studio-{date.today().isoformat()}.zip"


def archive_file(
    studio: Studio, say: Speech, *, with_recordings: bool = True
) -> tuple[IO[bytes], int]:
    """The archive as an open file without a name, gone when it is closed, and its size in bytes.

    Raises StoreError.
    """
    first, *others = _rooms(studio)
    try:
        return _archive_in(first, studio, say, with_recordings)
    except (StoreError, OSError):
        for room in others:
            with contextlib.suppress(StoreError, OSError):
                return _archive_in(room, studio, say, with_recordings)
        raise


def _archive_in(
    room: Path, studio: Studio, say: Speech, with_recordings: bool
) -> tuple[IO[bytes], int]:
    try:
        file = tempfile.TemporaryFile(dir=room)  # noqa: SIM115 (the caller closes it)
        try:
            export_archive(studio, file, say, with_recordings=with_recordings, room=room)
            size = file.tell()
            file.seek(0)
        except BaseException:
            file.close()
            raise
    except HandslideError:
        raise
    except OSError as error:
        reason = system_reason(error)
        raise StoreError("studio.archive_unwritten", reason=reason) from error
    return file, size


def export_archive(
    studio: Studio,
    file: IO[bytes],
    say: Speech,
    *,
    with_recordings: bool = True,
    room: Path | None = None,
) -> None:
    """Write the archive of the studio, as it is at this moment, into an open file.

    Its README speaks as ``say`` does. ``room`` is a folder to work in; by default the studio's.

    Raises StoreError.
    """
    with (
        part_folder(room or studio.folder) as work,
        studio.store.read() as db,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive,
        one_moment(db),
    ):  # the database and all that follows
        copy_rows(db, work / DATABASE, newest_version(), without=(*WITHOUT, *OF_THIS_MACHINE))
        archive.write(work / DATABASE, DATABASE)
        archive.writestr(
            "README.txt", say(README, version=__version__, day=date.today().isoformat())
        )
        archive.writestr("students.csv", _csv(student_rows(db)))
        for score in score_files(db):
            name = PurePosixPath(score.file_name)
            place = f"parts/{safe_name(name.stem)}-{score.id}{safe_suffix(name.suffix)}"
            archive.writestr(place, score.data)
        for number, title, text in exercises_files(db):
            archive.writestr(f"exercises/{safe_name(title)}-{number}.toml", text)
        recordings: list[dict[str, object]] = []
        for student_id, student in student_names(db):
            folder = f"students/{safe_name(student)}-{student_id}"
            _write_horns(archive, db, student_id, folder)
            archive.writestr(f"{folder}/stands.csv", _csv(stand_rows(db, student_id)))
            recordings += _write_takes(archive, db, student_id, folder, with_recordings)
        archive.writestr(MANIFEST, _manifest(recordings))


def _rooms(studio: Studio) -> tuple[Path, ...]:
    """Where an archive can be made: on a full disk the system may have another for such files."""
    other = Path(tempfile.gettempdir())
    if studio.store.full:
        return (other,)
    low = shutil.disk_usage(studio.folder).free < shutil.disk_usage(other).free
    return (studio.folder, other) if low else (studio.folder,)


def safe_suffix(suffix: str) -> str:
    """A file's ending if it is a plain one, else none."""
    return suffix if re.fullmatch(r"\.[A-Za-z0-9]{1,10}", suffix) else ""


def _write_horns(archive: zipfile.ZipFile, db: Connection, student_id: int, folder: str) -> None:
    for horn in horn_files(db, student_id):
        name = f"{safe_name(horn.title)}-{horn.horn_id}"
        place = f"{name}.toml" if horn.newest else f"history/{name}-v{horn.number}.toml"
        archive.writestr(f"{folder}/horns/{place}", horn.toml)


def _write_takes(
    archive: zipfile.ZipFile, db: Connection, student_id: int, folder: str, with_recordings: bool
) -> Iterator[dict[str, object]]:
    for take in take_files(db, student_id):
        day = safe_name(take.recorded_at[:10])
        name = f"{folder}/takes/{day} {safe_name(take.title)}-{take.id}"
        archive.writestr(f"{name}.json", take.report)
        archive.writestr(f"{name}.csv", _csv(note_rows(db, take.id)))
        if with_recordings and take.media_type is not None:
            file = name + _SUFFIXES.get(take.media_type, ".audio")
            yield {
                "take": take.id,
                "file": file,
                "media_type": take.media_type,
                "created_at": take.kept_at,
                "size": _write_recording(archive, db, take.id, file),
            }


def _write_recording(archive: zipfile.ZipFile, db: Connection, take_id: int, name: str) -> int:
    # Sound is packed already.
    size = 0
    with archive.open(zipfile.ZipInfo(name), "w", force_zip64=True) as entry:
        for block in recording_blocks(db, take_id, BLOCK_BYTES):
            size += entry.write(block)
    return size


def _manifest(recordings: list[dict[str, object]]) -> str:
    return json.dumps(
        {
            "what": KIND,
            "archive_form": ARCHIVE_VERSION,
            "database_form": newest_version(),
            "handslide": __version__,
            "made_at": now(),
            "recordings": recordings,
        },
        ensure_ascii=False,
        indent=1,
    )


def _csv(table: Rows) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(table.names)
    writer.writerows([plain_cell(value) for value in row] for row in table.rows)
    return text.getvalue()
