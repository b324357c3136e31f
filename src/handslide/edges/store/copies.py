"""Files of a studio beside its database: dated backups, copies, and what was put aside.

A copy is written as a hidden ``.part`` and renamed when it is whole. What a killed program leaves
of such a part is cleared at the next start.
"""

import os
import re
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from handslide.edges.store.checks import check_file, columns_of, tables_of
from handslide.edges.store.connection import Connection, connect_file, one_moment
from handslide.edges.store.schema import migrate, migrations
from handslide.ground.errors import StoreError

BACKUPS = "backups"
PART = ".part"
# Older studios counted within a day (up to four digits); now all are counted.
_NAME = re.compile(r"(\d{4}-\d\d-\d\d)(?:-(\d{6,15})|-(\d{1,4}))?(?:-(before-[a-z]{1,20}))?\.db")
_DAMAGED = "studio-damaged-"
_SIDES = ("", "-wal", "-shm", "-journal")


@dataclass(frozen=True, slots=True)
class BackupName:
    """A backup by its name: the day that the clock said, its place in the order in which they
    were made, and what it was made before.

    ``sequence`` is 0 for those of older studios, which ``number`` counts within a day.
    """

    day: str
    sequence: int
    number: int
    before: str
    path: Path

    @property
    def order(self) -> tuple[int, str, int]:
        """What sorts backups by age: a clock can be wrong, their order can't."""
        return self.sequence, self.day, self.number


def backups_in(folder: Path) -> list[BackupName]:
    """All backups of the studio in ``folder``, the newest first."""
    found = []
    with suppress(FileNotFoundError):
        for path in (folder / BACKUPS).iterdir():
            match = _NAME.fullmatch(path.name)
            if match and path.is_file() and not path.is_symlink():
                day, sequence, number, before = match.groups()
                place = int(sequence or 0)
                found.append(BackupName(day, place, int(number or 1), before or "", path))
    return sorted(found, key=lambda name: name.order, reverse=True)


def damaged_in(folder: Path) -> list[Path]:
    """Damaged databases that were put aside."""
    return sorted(
        path for path in folder.glob(f"{_DAMAGED}*") if path.is_file() and path.suffix == ".db"
    )


@contextmanager
def part_folder(folder: Path) -> Iterator[Path]:
    """A hidden folder for work in progress, gone when the block ends."""
    folder.mkdir(parents=True, exist_ok=True)
    path = Path(tempfile.mkdtemp(prefix=".work-", suffix=PART, dir=folder))
    try:
        yield path
    finally:
        shutil.rmtree(path, ignore_errors=True)


def clear_parts(folder: Path) -> None:
    """Remove what killed programs left unfinished."""
    for where in (folder, folder / BACKUPS):
        for path in where.glob(f".*{PART}"):
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)


def publish_backup(copy: Path, folder: Path, before: str = "") -> Path:
    """Move a finished copy among the backups under today's date and the next number of all."""
    target_folder = folder / BACKUPS
    target_folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    _to_disk(copy)
    today = date.today().isoformat()
    number = 1 + max((backup.sequence for backup in backups_in(folder)), default=0)
    while True:
        name = f"{today}-{number:06d}" + (f"-{before}" if before else "")
        target = target_folder / f"{name}.db"
        try:
            os.link(copy, target)  # fails when another process took the name meanwhile
            copy.unlink()
        except FileExistsError:
            number += 1
            continue
        except OSError:  # not every file system has links
            copy.replace(target)
        _to_disk(target_folder)
        return target


def copy_whole(source: Connection, target: Path) -> None:
    """Copy a database as it is at one moment into one new file, without remains of deleted rows."""
    _make_private(target)
    source.execute("VACUUM INTO ?", (str(target),))
    with closing(connect_file(target)) as db:
        db.execute("PRAGMA journal_mode = DELETE")  # one file, without a log beside it


def copy_rows(
    source: Connection, target: Path, version: int, *, without: Sequence[str] = ()
) -> None:
    """Copy the rows of a database into a new file whose tables are ours, of the same schema
    version.

    The tables of ``without`` stay empty. Nothing of the source's schema is taken over, and no
    remains of deleted rows.

    Raises
    ------
    StoreError
        When the source lacks a table or column of its version, or a row breaks a rule.
    """
    _make_private(target)
    with closing(connect_file(target)) as made:
        migrate(made, migrations()[:version])
        tables = tables_of(made)
        columns = {table: columns_of(made, table) for table in tables}
        made.execute("PRAGMA foreign_keys = OFF")
        made.execute("PRAGMA synchronous = OFF")  # `publish_backup` brings it to the disk
        made.execute("BEGIN")
        with one_moment(source):
            for table in tables:
                if table not in without:
                    _copy_table(source, made, table, columns[table])
            made.execute("COMMIT")


def newest_good_backup(folder: Path) -> BackupName | None:
    """The newest backup that is whole."""
    for backup in backups_in(folder):
        with suppress(StoreError):
            check_file(backup.path)
            return backup
    return None


def put_aside(path: Path) -> Path:
    """Rename a damaged database and its log, so that they are kept beside the new one."""
    number = 1
    while True:
        name = f"{_DAMAGED}{date.today().isoformat()}" + (f"-{number}" if number > 1 else "")
        target = path.with_name(f"{name}.db")
        if not target.exists():
            break
        number += 1
    for side in _SIDES:
        with suppress(FileNotFoundError):
            path.with_name(path.name + side).rename(target.with_name(target.name + side))
    return target


def remove_database(path: Path) -> None:
    """Remove a database file with everything beside it."""
    for side in _SIDES:
        path.with_name(path.name + side).unlink(missing_ok=True)


def _copy_table(source: Connection, made: Connection, table: str, columns: list[str]) -> None:
    names = ", ".join(f'"{column}"' for column in columns)
    places = ", ".join("?" * len(columns))
    rows = source.execute(f'SELECT {names} FROM "{table}"')
    try:
        made.executemany(f'INSERT INTO "{table}" ({names}) VALUES ({places})', rows)
    except sqlite3.IntegrityError as error:
        raise StoreError("store.bad_row", table=table, reason=str(error)) from error


def _make_private(path: Path) -> None:
    """A new empty file that only its owner may read."""
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))


def _to_disk(path: Path) -> None:
    with suppress(OSError):  # some systems can't do this with a folder
        # Windows writes out only what was opened for writing.
        handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
