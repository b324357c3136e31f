"""A whole studio as one archive: the database, and readable copies of all that is in it.

The archive is a zip file. ``studio.db`` is the database without the recordings; these are files of
their own, listed in ``archive.json``. Everything else is there for people and other programs, and
isn't read again.
"""

import csv
import io
import json
import re
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import PurePosixPath
from typing import IO

from handslide import __version__
from handslide.edges.store.copies import copy_rows, part_folder
from handslide.edges.store.database import now
from handslide.edges.store.schema import migrations
from handslide.ground.errors import HandslideError, StoreError
from handslide.studio.care.backups import WITHOUT
from handslide.studio.studio import Studio

ARCHIVE_FORM = 1
KIND = "handslide studio"
MANIFEST, DATABASE = "archive.json", "studio.db"
BLOCK_BYTES = 1 << 20
_SUFFIXES = {"audio/flac": ".flac", "audio/wav": ".wav", "audio/ogg": ".ogg", "audio/mpeg": ".mp3"}
# Names that some systems keep for devices.
_DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")
_README = """\
A studio of handslide {version}, exported on {day}.

To bring it into a studio: on its page Data choose this file under Import.

studio.db        everything but the recordings, as handslide keeps it (an SQLite database)
archive.json     which recording belongs to which take
students.csv     the students
students/        a folder for each student:
  horns/         their horns as horn files, which handslide's commands read; earlier versions
                 are in the folder history
  stands.csv     the parts that stand open, with the number of chosen places
  takes/         each take: its notes (.csv), its report (.json), its recording if one is kept
parts/           the parts as they were put in

Only studio.db, archive.json and the recordings are read at an import. The other files are
copies to look at; changing them changes nothing.

This archive holds what is known of real people, maybe of children. Keep it as your local
rules say. Who is deleted from the studio later is still in here.
"""


def archive_name() -> str:
    """What an archive made today is called."""
    return f"studio-{date.today().isoformat()}.zip"


def archive_file(studio: Studio, *, with_recordings: bool = True) -> tuple[IO[bytes], int]:
    """The archive as an open file without a name, gone when it is closed, and its size in bytes.

    Raises StoreError.
    """
    try:
        file = tempfile.TemporaryFile(dir=studio.folder)  # noqa: SIM115 (the caller closes it)
        try:
            export_archive(studio, file, with_recordings=with_recordings)
            size = file.tell()
            file.seek(0)
        except BaseException:
            file.close()
            raise
    except HandslideError:
        raise
    except OSError as error:
        reason = error.strerror or error
        raise StoreError(f"the archive can't be written: {reason}; is the disk full?") from error
    return file, size


def export_archive(studio: Studio, file: IO[bytes], *, with_recordings: bool = True) -> None:
    """Write the archive of the studio, as it is at this moment, into an open file.

    Raises StoreError.
    """
    with (
        part_folder(studio.folder) as work,
        studio.store.read() as db,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive,
    ):
        db.execute("BEGIN")  # one moment for the database and all that follows
        try:
            copy_rows(db, work / DATABASE, len(migrations()), without=WITHOUT)
            archive.write(work / DATABASE, DATABASE)
            archive.writestr("README.txt", _README.format(version=__version__, day=date.today()))
            archive.writestr("students.csv", _csv(db.execute(_STUDENTS)))
            for row in db.execute("SELECT id, file_name, data FROM score ORDER BY id"):
                name = PurePosixPath(row["file_name"])
                place = f"parts/{safe_name(name.stem)}-{row['id']}{safe_suffix(name.suffix)}"
                archive.writestr(place, row["data"])
            recordings = []
            for student in db.execute("SELECT id, name FROM student ORDER BY id"):
                folder = f"students/{safe_name(student['name'])}-{student['id']}"
                _write_horns(archive, db, student["id"], folder)
                archive.writestr(
                    f"{folder}/stands.csv", _csv(db.execute(_STANDS, (student["id"],)))
                )
                takes = _write_takes(archive, db, student["id"], folder, with_recordings)
                recordings += list(takes)
            archive.writestr(MANIFEST, _manifest(recordings))
        finally:
            db.execute("ROLLBACK")


def safe_name(text: str) -> str:
    """``text`` as a file name for every system: letters, digits, spaces, ``-`` and ``_``."""
    name = re.sub(r"[^\w \-]", "_", text)[:60].strip(" _") or "x"
    return f"_{name}" if _DEVICES.fullmatch(name) else name


def safe_suffix(suffix: str) -> str:
    """A file's ending if it is a plain one, else none."""
    return suffix if re.fullmatch(r"\.[A-Za-z0-9]{1,10}", suffix) else ""


_STUDENTS = (
    "SELECT id, name, about, reach, learned, clef, names, marks, profile, show, consent_note, "
    "consent_on, keep_recordings, example, archived_at, created_at FROM student ORDER BY id"
)
_STANDS = (
    "SELECT score.title AS part_title, score.file_name, horn.title AS horn, stand.part, "
    "stand.voice, stand.tempo_qpm, stand.opened_at, (SELECT count(*) FROM stand_lock "
    "WHERE stand_id = stand.id) AS chosen_places FROM stand JOIN score ON score.id = score_id "
    "JOIN horn ON horn.id = horn_id WHERE stand.student_id = ? ORDER BY stand.id"
)


def _write_horns(
    archive: zipfile.ZipFile, db: sqlite3.Connection, student_id: int, folder: str
) -> None:
    rows = db.execute(
        "SELECT horn.id, horn.title, number, toml, "
        "number = (SELECT max(number) FROM horn_version WHERE horn_id = horn.id) AS newest "
        "FROM horn_version JOIN horn ON horn.id = horn_id WHERE student_id = ? "
        "ORDER BY horn.id, number",
        (student_id,),
    )
    for row in rows:
        name = f"{safe_name(row['title'])}-{row['id']}"
        place = f"{name}.toml" if row["newest"] else f"history/{name}-v{row['number']}.toml"
        archive.writestr(f"{folder}/horns/{place}", row["toml"])


def _write_takes(
    archive: zipfile.ZipFile,
    db: sqlite3.Connection,
    student_id: int,
    folder: str,
    with_recordings: bool,
) -> Iterator[dict[str, object]]:
    takes = db.execute(
        "SELECT take.id, title, report, recorded_at, media_type, recording.created_at FROM take "
        "LEFT JOIN recording ON take_id = take.id WHERE student_id = ? ORDER BY take.id",
        (student_id,),
    )
    for take in takes:
        day = safe_name(take["recorded_at"][:10])
        name = f"{folder}/takes/{day} {safe_name(take['title'])}-{take['id']}"
        archive.writestr(f"{name}.json", take["report"])
        notes = db.execute("SELECT * FROM take_note WHERE take_id = ? ORDER BY number", take[:1])
        archive.writestr(f"{name}.csv", _csv(notes, without=("take_id",)))
        if with_recordings and take["media_type"] is not None:
            file = name + _SUFFIXES.get(take["media_type"], ".audio")
            size = _write_recording(archive, db, take["id"], file)
            yield {
                "take": take["id"],
                "file": file,
                "media_type": take["media_type"],
                "created_at": take["created_at"],
                "size": size,
            }


def _write_recording(
    archive: zipfile.ZipFile, db: sqlite3.Connection, take_id: int, name: str
) -> int:
    # Sound is packed already.
    info = zipfile.ZipInfo(name)
    with (
        db.blobopen("recording", "data", take_id, readonly=True) as blob,
        archive.open(info, "w", force_zip64=True) as entry,
    ):
        size = len(blob)
        while block := blob.read(BLOCK_BYTES):
            entry.write(block)
    return size


def _manifest(recordings: list[dict[str, object]]) -> str:
    return json.dumps(
        {
            "what": KIND,
            "archive_form": ARCHIVE_FORM,
            "database_form": len(migrations()),
            "handslide": __version__,
            "made_at": now(),
            "recordings": recordings,
        },
        ensure_ascii=False,
        indent=1,
    )


def _csv(rows: sqlite3.Cursor, without: Iterable[str] = ()) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    names = [column[0] for column in rows.description]
    shown = [k for k, name in enumerate(names) if name not in set(without)]
    writer.writerow([names[k] for k in shown])
    writer.writerows([_cell(row[k]) for k in shown] for row in rows)
    return text.getvalue()


def _cell(value: object) -> object:
    # A spreadsheet would run a text that begins like a formula.
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{value}"
    return value
