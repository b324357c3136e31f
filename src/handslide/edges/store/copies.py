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

from handslide.edges.store.schema import bring_up, form_of, migrations
from handslide.ground.errors import StoreError

BACKUPS = "backups"
PART = ".part"
_NAME = re.compile(r"(\d{4}-\d\d-\d\d)(?:-(\d{1,4}))?(?:-(before-[a-z]{1,20}))?\.db")
_DAMAGED = "studio-damaged-"
_SIDES = ("", "-wal", "-shm", "-journal")


@dataclass(frozen=True, slots=True)
class BackupName:
    """A backup by its name: its day, its number on that day, and what it was made before."""

    day: str
    number: int
    before: str
    path: Path

    @property
    def order(self) -> tuple[str, int]:
        """What sorts backups by age."""
        return self.day, self.number


def backups_in(folder: Path) -> list[BackupName]:
    """All backups of the studio in ``folder``, the newest first."""
    found = []
    with suppress(FileNotFoundError):
        for path in (folder / BACKUPS).iterdir():
            match = _NAME.fullmatch(path.name)
            if match and path.is_file() and not path.is_symlink():
                day, number, before = match.groups()
                found.append(BackupName(day, int(number or 1), before or "", path))
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
    """Move a finished copy among the backups under today's date and the next free number."""
    target_folder = folder / BACKUPS
    target_folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    _to_disk(copy)
    today = date.today().isoformat()
    number = 1 + max((b.number for b in backups_in(folder) if b.day == today), default=0)
    while True:
        name = today + (f"-{number}" if number > 1 else "") + (f"-{before}" if before else "")
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


def connect_file(path: Path) -> sqlite3.Connection:
    """A connection to a database file that isn't the studio in use: a backup, an import.

    Nothing in its schema is trusted to run anything.
    """
    db = sqlite3.connect(path, timeout=10, isolation_level=None, check_same_thread=False)
    db.row_factory = sqlite3.Row
    db.execute("PRAGMA trusted_schema = OFF")
    db.execute("PRAGMA cell_size_check = ON")
    db.execute("PRAGMA secure_delete = ON")
    db.execute("PRAGMA foreign_keys = ON")
    return db


def copy_whole(source: sqlite3.Connection, target: Path) -> None:
    """Copy a database as it is at one moment into one new file, without remains of deleted rows."""
    _make_private(target)
    source.execute("VACUUM INTO ?", (str(target),))
    with closing(connect_file(target)) as db:
        db.execute("PRAGMA journal_mode = DELETE")  # one file, without a log beside it


def copy_rows(
    source: sqlite3.Connection, target: Path, form: int, *, without: Sequence[str] = ()
) -> None:
    """Copy the rows of a database into a new file whose tables are ours, of the same form.

    The tables of ``without`` stay empty. Nothing of the source's schema is taken over, and no
    remains of deleted rows.

    Raises
    ------
    StoreError
        When the source lacks a table or column of its form, or a row breaks a rule.
    """
    _make_private(target)
    with closing(connect_file(target)) as made:
        bring_up(made, migrations()[:form])
        tables = _tables(made)
        columns = {table: _columns(made, table) for table in tables}
        made.execute("PRAGMA foreign_keys = OFF")
        made.execute("PRAGMA synchronous = OFF")  # `publish_backup` brings it to the disk
        made.execute("BEGIN")
        own = not source.in_transaction
        if own:
            source.execute("BEGIN")  # all tables as they are at one moment
        try:
            for table in tables:
                if table not in without:
                    _copy_table(source, made, table, columns[table])
            made.execute("COMMIT")
        finally:
            if own:
                source.execute("ROLLBACK")


def damage_of(path: Path) -> str | None:
    """What is wrong with a database file, in a few words; None when it is whole."""
    if not path.is_file() or path.stat().st_size == 0:
        return "it is empty or gone"
    try:
        with closing(connect_file(path)) as db:
            found = str(db.execute("PRAGMA quick_check(1)").fetchone()[0])
    except sqlite3.OperationalError as error:
        # The disk, the rights, another program: no word on the file itself.
        raise StoreError(f"can't look into {path.name}: {error}") from error
    except sqlite3.Error as error:
        return str(error)
    return None if found == "ok" else found.splitlines()[-1]


def check_file(path: Path) -> int:
    """The form of a database file that is a studio, whole and not newer than this handslide.

    Raises StoreError otherwise.
    """
    damage = damage_of(path)
    if damage is not None:
        raise StoreError(f"{path.name} isn't a studio, or it is damaged: {damage}")
    with closing(connect_file(path)) as db:
        form = form_of(db, path.name, len(migrations()))
    if form == 0:
        raise StoreError(f"{path.name} is a database, but not a studio of handslide")
    return form


def check_tables(db: sqlite3.Connection, form: int) -> None:
    """Raise StoreError unless a database has exactly the tables and columns of its form."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as ours:
        bring_up(ours, migrations()[:form])
        want = {table: _columns(ours, table) for table in _tables(ours)}
    kinds = db.execute("SELECT name, type FROM pragma_table_list WHERE schema = 'main'").fetchall()
    odd = [n for n, kind in kinds if (n not in want and n != "sqlite_schema") or kind != "table"]
    others = db.execute("SELECT name FROM sqlite_schema WHERE type IN ('trigger', 'view')")
    odd += [row[0] for row in others]
    for table, columns in want.items():
        if table not in {n for n, _ in kinds} or _columns(db, table) != columns:
            odd.append(table)
    if odd:
        raise StoreError(f"the database isn't a studio of ours: look at its table '{odd[0]}'")


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


def _copy_table(
    source: sqlite3.Connection, made: sqlite3.Connection, table: str, columns: list[str]
) -> None:
    names = ", ".join(f'"{column}"' for column in columns)
    places = ", ".join("?" * len(columns))
    rows = source.execute(f'SELECT {names} FROM "{table}"')
    try:
        made.executemany(f'INSERT INTO "{table}" ({names}) VALUES ({places})', rows)
    except sqlite3.IntegrityError as error:
        raise StoreError(f"a row of '{table}' breaks a rule of the studio: {error}") from error


def _tables(db: sqlite3.Connection) -> list[str]:
    rows = db.execute(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' "
        "ORDER BY rowid"
    )
    return [row[0] for row in rows]


def _columns(db: sqlite3.Connection, table: str) -> list[str]:
    rows = db.execute("SELECT name, hidden FROM pragma_table_xinfo(?)", (table,)).fetchall()
    if any(hidden for _, hidden in rows):
        raise StoreError(f"the database isn't a studio of ours: look at its table '{table}'")
    return [name for name, _ in rows]


def _make_private(path: Path) -> None:
    """A new empty file that only its owner may read."""
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))


def _to_disk(path: Path) -> None:
    with suppress(OSError):  # some systems can't do this with a folder
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
