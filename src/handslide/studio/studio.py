"""A teacher's studio: where it lies, and what the rooms of the studio share."""

from dataclasses import dataclass, field
from pathlib import Path

from handslide.edges.files.userfolder import user_folder
from handslide.edges.store.database import FILE_NAME, Store
from handslide.edges.store.settings import find_setting, put_setting
from handslide.ground.facts import Fact
from handslide.studio.cache import Caches


@dataclass(eq=False)
class Notices:
    """What pages must say until it is mended. ``backup_trouble``: why the last backup was not
    made.
    """

    backup_trouble: Fact | None = None


@dataclass(frozen=True, eq=False)
class Studio:
    """An open studio. ``folder`` holds the database, and the backups in ``backups``; ``caches`` are
    what is held of it in memory.
    """

    folder: Path
    store: Store = field(repr=False)
    caches: Caches = field(default_factory=Caches, repr=False)
    notices: Notices = field(default_factory=Notices, repr=False)

    def close(self) -> None:
        """Close the database, forget what is in memory."""
        self.store.close()
        self.caches.empty()


def open_studio(folder: Path | None = None) -> Studio:
    """Open the studio in ``folder``, or make it (None: ``studio`` in the user's data folder).

    Raises StoreError.
    """
    where = studio_folder(folder)
    return Studio(where, Store(where / FILE_NAME))


def studio_folder(folder: Path | None = None) -> Path:
    """Where a studio lies: ``folder``, or ``studio`` in the user's data folder."""
    return user_folder() / "studio" if folder is None else folder


def get_setting(studio: Studio, key: str, default: str) -> str:
    """A setting as text."""
    with studio.store.read() as db:
        found = find_setting(db, key)
    return default if found is None else found


def set_setting(studio: Studio, key: str, value: str) -> None:
    """Keep a setting."""
    with studio.store.write() as db:
        put_setting(db, key, value)
