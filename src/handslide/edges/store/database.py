"""The studio's store: one SQLite file in WAL mode, with numbered migrations.

What a ``with store.write()`` block did is on the disk when the block ends, or not at all.
"""

import errno
import os
import shutil
import sqlite3
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from handslide.edges.store.checks import damage_of
from handslide.edges.store.connection import Connection, transaction
from handslide.edges.store.copies import (
    backups_in,
    copy_whole,
    newest_good_backup,
    part_folder,
    publish_backup,
)
from handslide.edges.store.schema import Migration, migrate, migrations, schema_version
from handslide.ground.errors import HandslideError, StoreError
from handslide.ground.facts import Fact, fact
from handslide.ground.system import system_reason

FILE_NAME = "studio.db"
_BUSY_S = 10.0
_AGAIN_S = 0.01
_LITTLE_BYTES = 1_000_000
_IDLE = 8  # connections that are kept open for the next block
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_TROUBLES = {
    sqlite3.SQLITE_FULL: "store.disk_full",
    sqlite3.SQLITE_READONLY: "store.read_only",
    sqlite3.SQLITE_CANTOPEN: "store.unopened",
    sqlite3.SQLITE_PERM: "store.unopened",
    sqlite3.SQLITE_BUSY: "store.busy",
    sqlite3.SQLITE_IOERR: "store.disk_refuses",
    sqlite3.SQLITE_CORRUPT: "store.file_damaged",
    sqlite3.SQLITE_NOTADB: "store.file_damaged",
}


def now() -> str:
    """The time as it is stored: ISO 8601, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Store:
    """A studio's database. Safe for threads; no thread may wait for another inside a block."""

    def __init__(self, path: Path, *, steps: Sequence[Migration] | None = None) -> None:
        """Open or make the database at ``path`` and bring it up to date.

        An existing file is checked first, and copied among the backups before a migration.
        ``steps`` are the migrations (None: ours). On a full disk it is opened for reading only:
        see `full`.

        Raises
        ------
        StoreError
            When it can't be opened, is damaged, isn't a studio's, or a newer handslide made it.
        """
        self.path = path
        self._mine = threading.local()
        self._idle: list[Connection] = []
        self._guard = threading.Lock()
        self._writing = threading.RLock()
        self._open = True
        self._full = False
        self._steps = steps = migrations() if steps is None else steps
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._begin_or_read(steps)
        except sqlite3.Error as error:
            self.close()
            if _code(error) in _DAMAGE:
                raise _damaged(path, fact("store.sqlite_says", reason=str(error))) from error
            trouble = trouble_of(error)
            raise StoreError("store.cannot_open", path=str(path), trouble=trouble) from error
        except OSError as error:
            self.close()
            reason = system_reason(error)
            raise StoreError("store.cannot_use_folder", path=str(path), reason=reason) from error
        except StoreError:
            self.close()
            raise

    @property
    def full(self) -> bool:
        """The disk was full when the store was opened: it can be read only.

        Each block that would write looks first whether there is room again.
        """
        return self._full

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A connection for reading; rows are `sqlite3.Row`.

        It is this thread's until the outermost block ends; don't keep it longer, and don't await
        inside. Raises StoreError for what the disk does.
        """
        held: Connection | None = getattr(self._mine, "connection", None)
        if held is not None:
            yield held
            return
        connection = None
        try:
            connection = self._mine.connection = self._take()
            yield connection
        except sqlite3.Error as error:
            if _code(error) not in _TROUBLES:
                raise
            raise StoreError("store.not_done", trouble=trouble_of(error)) from error
        finally:
            self._mine.connection = None
            if connection is not None:
                self._give_back(connection)

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """A connection in a transaction that is kept when the block ends, undone if it raises.

        Blocks of one thread may be nested: the outermost is the transaction, and an inner one that
        raises is undone by itself.
        """
        if self._full:
            self._look_for_room()
        with self.read() as connection:
            if connection.in_transaction:
                with _undone_alone(connection):
                    yield connection
                return
            with self._writing, transaction(connection):
                yield connection

    @contextmanager
    def held(self) -> Iterator[None]:
        """No other thread of this program writes while the block runs."""
        with self._writing:
            yield

    def replace_with(self, source: Connection) -> None:
        """Put the content of another database in place of all that is here, or leave all as is.

        ``source`` must be of the newest schema version. Other connections see the new content at
        once.
        """
        # One of its own: SQLite refuses a connection on which something is still being read.
        with self._writing, closing(self._connect()) as connection:
            source.backup(connection)

    def tidy(self) -> bool:
        """Rewrite the file without the remains of what was deleted, and empty its log.

        False when another reader kept the log from being emptied within ten seconds.
        """
        with self._writing, closing(self._connect()) as connection:
            connection.execute("VACUUM")
            busy = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        return not busy

    def close(self) -> None:
        """Close all connections; those in use when their block ends."""
        with self._guard:
            self._open = False
        self._drop_idle()

    def _take(self) -> Connection:
        with self._guard:
            if not self._open:
                raise StoreError("store.closed", path=str(self.path))
            if self._idle:
                return self._idle.pop()
        return self._connect()

    def _give_back(self, connection: Connection) -> None:
        # Threads of a pool come and go: a connection belongs to a block, not to a thread.
        with self._guard:
            usable = isinstance(connection, _ReadOnly) == self._full
            room = self._open and len(self._idle) < _IDLE
            if usable and room and not connection.in_transaction:
                self._idle.append(connection)
                return
        connection.close()

    def _connect(self) -> Connection:
        if self._full:
            return self._connect_to_read()
        connection = sqlite3.connect(
            self.path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False
        )
        connection.row_factory = sqlite3.Row
        try:
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            # A deleted student's data is overwritten, not only unlinked.
            connection.execute("PRAGMA secure_delete = ON")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    def _connect_to_read(self) -> Connection:
        log = self.path.with_name(f"{self.path.name}-wal")
        way = "mode=ro"
        if not log.exists() or log.stat().st_size == 0:
            way += "&immutable=1"  # without a log nothing need be written beside the file
        connection = sqlite3.connect(
            f"{self.path.absolute().as_uri()}?{way}", timeout=_BUSY_S, isolation_level=None,
            check_same_thread=False, factory=_ReadOnly, uri=True,
        )  # fmt: skip
        connection.row_factory = sqlite3.Row
        return connection

    def _begin_or_read(self, steps: Sequence[Migration]) -> None:
        try:
            self._begin(steps)
        except (sqlite3.Error, OSError) as error:
            if not self._is_for_want_of_room(error):
                raise
            self._drop_idle()
            self._full = True
            with self.read() as db:
                if schema_version(db, str(self.path), len(steps)) < len(steps):
                    raise  # what must be brought up to date first can't be read

    def _is_for_want_of_room(self, error: Exception) -> bool:
        if not self.path.is_file() or self.path.stat().st_size == 0:
            return False
        if isinstance(error, OSError):
            return error.errno in (errno.ENOSPC, errno.EDQUOT)
        assert isinstance(error, sqlite3.Error)
        if _code(error) in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
            return True
        free = shutil.disk_usage(self.path.parent).free
        return _code(error) == sqlite3.SQLITE_CANTOPEN and free < _LITTLE_BYTES

    def _look_for_room(self) -> None:
        """Begin anew if the disk has room again. Raises StoreError if it hasn't."""
        with self._writing:
            if not self._full:
                return
            self._full = False
            self._drop_idle()
            try:
                self._begin(self._steps)
            except (sqlite3.Error, OSError) as error:
                self._drop_idle()
                self._full = True
                raise StoreError("store.not_done", trouble=fact("store.disk_full")) from error

    def _drop_idle(self) -> None:
        with self._guard:
            idle, self._idle = self._idle, []
        for connection in idle:
            connection.close()

    def _begin(self, steps: Sequence[Migration]) -> None:
        folder = self.path.parent
        lost = not self.path.exists() or self.path.stat().st_size == 0
        if lost and backups_in(folder):
            raise _damaged(self.path, fact("store.empty_or_gone"))
        # Only the owner may read what is known of students; the log inherits it.
        os.close(os.open(self.path, os.O_CREAT | os.O_RDWR, 0o600))
        db = self._take()
        try:
            version = schema_version(db, str(self.path), len(steps))
            damage = damage_of(self.path) if version else None
            if damage is not None:
                raise _damaged(self.path, damage)
            _keep_a_log(db)
            # Remains of what was deleted may be in the log of a program that was killed.
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            if version < len(steps):
                if version:
                    self._copy_before_migration(db)
                migrate(db, steps)
        finally:
            self._give_back(db)

    def _copy_before_migration(self, db: Connection) -> None:
        with part_folder(self.path.parent) as work:
            copy_whole(db, work / "copy.db")
            publish_backup(work / "copy.db", self.path.parent, "before-migration")


def _keep_a_log(db: Connection) -> None:
    """Put the database in WAL mode, for which SQLite itself doesn't wait while another begins."""
    until = time.monotonic() + _BUSY_S
    while True:
        try:
            db.execute("PRAGMA journal_mode = WAL").fetchone()
            return
        except sqlite3.Error as error:
            if _code(error) != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
        time.sleep(_AGAIN_S)


class _ReadOnly(sqlite3.Connection):
    """A connection that was opened for want of room."""


@contextmanager
def telling_sqlite(kind: str, **values: Any) -> Iterator[None]:
    """Raise what SQLite finds in a file as a StoreError of this kind, with its ``trouble``."""
    try:
        yield
    except sqlite3.Error as error:
        raise StoreError(kind, trouble=trouble_of(error), **values) from error


@contextmanager
def telling(kind: str, **values: Any) -> Iterator[None]:
    """Raise what a file of the studio does as a StoreError of this kind, with its ``trouble``."""
    try:
        with telling_sqlite(kind, **values):
            yield
    except HandslideError:
        raise
    except OSError as error:
        trouble = fact("store.system_says", reason=system_reason(error))
        raise StoreError(kind, trouble=trouble, **values) from error


@contextmanager
def _undone_alone(connection: Connection) -> Iterator[None]:
    connection.execute("SAVEPOINT inner")
    try:
        yield
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK TO inner")
            connection.execute("RELEASE inner")
        raise
    connection.execute("RELEASE inner")


def _code(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def trouble_of(error: sqlite3.Error) -> Fact:
    """What an error of SQLite means, and what can be done about it."""
    kind = _TROUBLES.get(_code(error))
    return fact("store.sqlite_says", reason=str(error)) if kind is None else fact(kind)


def _damaged(path: Path, found: Fact) -> StoreError:
    good = newest_good_backup(path.parent)
    if good is None:
        return StoreError("store.damaged", path=str(path), found=found)
    return StoreError(
        "store.damaged_with_backup", path=str(path), found=found, backup=good.path.name
    )
