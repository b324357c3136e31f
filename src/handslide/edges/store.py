"""The studio's store: one SQLite file in WAL mode, with numbered migrations.

What a ``with store.write()`` block did is on the disk when the block ends, or not at all.
"""

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

from handslide.ground.errors import StoreError

FILE_NAME = "studio.db"
_BUSY_S = 10.0
# "hs" and "st": another program's database isn't taken for ours.
APPLICATION_ID = 0x68737374


def now() -> str:
    """The time as it is stored: ISO 8601, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Store:
    """A studio's database. Safe for threads: each has its own connection."""

    def __init__(self, path: Path) -> None:
        """Open or make the database at ``path`` and bring it up to date.

        Raises
        ------
        StoreError
            When it can't be opened, is damaged, isn't a studio's, or a newer handslide made it.
        """
        self.path = path
        self._local = threading.local()
        self._all: list[sqlite3.Connection] = []
        self._writing = threading.RLock()
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._migrate()
        except (sqlite3.Error, OSError) as error:
            self.close()
            raise StoreError(f"can't open the studio {path}: {error}") from error
        except StoreError:
            self.close()
            raise

    @contextmanager
    def read(self) -> Iterator[sqlite3.Connection]:
        """A connection for reading; rows are `sqlite3.Row`."""
        yield self._connection()

    @contextmanager
    def write(self) -> Iterator[sqlite3.Connection]:
        """A connection in a transaction that is kept when the block ends, undone if it raises.

        Blocks of one thread may be nested: the outermost is the transaction.
        """
        connection = self._connection()
        if connection.in_transaction:
            yield connection
            return
        with self._writing:
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")

    def close(self) -> None:
        """Close all connections."""
        while self._all:
            self._all.pop().close()
        self._local = threading.local()

    def _connection(self) -> sqlite3.Connection:
        found: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if found is None:
            found = self._local.connection = self._connect()
            self._all.append(found)
        return found

    def _connect(self) -> sqlite3.Connection:
        connection = sqlite3.connect(
            self.path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False
        )
        connection.row_factory = sqlite3.Row
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        # A deleted student's data is overwritten, not only unlinked.
        connection.execute("PRAGMA secure_delete = ON")
        return connection

    def _migrate(self) -> None:
        connection = self._connection()
        have = connection.execute("PRAGMA user_version").fetchone()[0]
        owner = connection.execute("PRAGMA application_id").fetchone()[0]
        tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
        if tables and owner != APPLICATION_ID:
            raise StoreError(f"{self.path} is a database, but not a studio of handslide")
        scripts = migrations()
        if have > len(scripts):
            raise StoreError(
                f"{self.path} was made by a newer handslide (its form is {have}, this one knows "
                f"{len(scripts)}): install the newer one; nothing was changed"
            )
        for number, script in enumerate(scripts[have:], have + 1):
            with self._writing:
                connection.executescript(
                    f"BEGIN IMMEDIATE;\n{script}\nPRAGMA application_id = {APPLICATION_ID};\n"
                    f"PRAGMA user_version = {number};\nCOMMIT;"
                )


def migrations() -> list[str]:
    """The SQL of all migrations in their order; number N is the Nth from 1."""
    folder = resources.files("handslide") / "data" / "store"
    files = sorted(
        (file for file in folder.iterdir() if file.name.endswith(".sql")), key=lambda f: f.name
    )
    return [file.read_text(encoding="utf-8") for file in files]
