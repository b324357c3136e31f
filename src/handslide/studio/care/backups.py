"""Backups of a studio: numbered files in ``backups``, made by themselves and before big steps.

Daily ones hold everything but the recordings. Those made before a backup is restored, an archive
put in place or a migration hold the recordings too, since these steps can take them away.
"""

import filecmp
import threading
from collections import Counter
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from handslide.edges.store.checks import check_file, damage_of
from handslide.edges.store.connection import connect_file
from handslide.edges.store.copies import (
    BACKUPS,
    BackupName,
    backups_in,
    clear_parts,
    copy_rows,
    copy_whole,
    newest_good_backup,
    part_folder,
    publish_backup,
    put_aside,
    remove_database,
)
from handslide.edges.store.database import FILE_NAME, telling
from handslide.edges.store.examples import has_own_rows
from handslide.edges.store.recordings import carry_recordings, number_of_recordings
from handslide.edges.store.schema import migrate, migrations, newest_version
from handslide.edges.store.students import number_of_students
from handslide.ground.errors import BadData, HandslideError, NotFound, StoreError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import BACKUP_DAYS, BACKUPS_BEFORE, MOST_BACKUP_DAYS
from handslide.ground.system import system_reason
from handslide.ground.wholenumber import whole_number
from handslide.studio.cache import CacheKind
from handslide.studio.care.kept import kept_of
from handslide.studio.studio import Studio, get_setting, set_setting

WITHOUT = ("recording",)
# By name, time of the last change and size of a file.
_COUNTS: CacheKind[tuple[str, int, int], tuple[int | None, int | None]] = CacheKind(512)
# Steps that read or change whole files come one after the other.
CARE = threading.RLock()


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup file, the ``number``-th of its day. ``before``: the step that it was made before,
    empty for a daily one.

    ``students`` and ``recordings`` are what is in it, None when the file is damaged.
    """

    name: str
    day: str
    number: int
    before: str
    size_bytes: int
    students: int | None
    recordings: int | None


def list_backups(studio: Studio) -> tuple[Backup, ...]:
    """All backups, the newest first."""
    found = backups_in(studio.folder)
    seen: Counter[str] = Counter()
    numbers = {}
    for backup in reversed(found):
        seen[backup.day] += 1
        numbers[backup.path] = seen[backup.day]
    return tuple(_looked_at(studio, backup, numbers[backup.path]) for backup in found)


def look_at_backup(studio: Studio, name: str) -> Backup:
    """One backup of the list. Raises NotFound."""
    for backup in list_backups(studio):
        if backup.name == name:
            return backup
    raise NotFound("studio.backup_gone")


def backup_path(studio: Studio, name: str) -> Path:
    """The file of a backup. Raises NotFound for a name that isn't in the list."""
    return studio.folder / BACKUPS / look_at_backup(studio, name).name


def backups_kept(studio: Studio) -> int:
    """How many days' backups are kept."""
    number = whole_number(get_setting(studio, "backups_kept", ""))
    return number if number is not None and 1 <= number <= MOST_BACKUP_DAYS else BACKUP_DAYS


def keep_backups(studio: Studio, number: int) -> None:
    """Say how many days' backups are kept; what is beyond goes now. Raises BadData."""
    if not 1 <= number <= MOST_BACKUP_DAYS:
        raise BadData("studio.backups_to_keep", most=MOST_BACKUP_DAYS, number=number)
    set_setting(studio, "backups_kept", str(number))
    with CARE:
        _drop_oldest(studio)


def clear_unfinished(studio: Studio) -> None:
    """Remove what programs that were killed left half done."""
    with CARE:
        clear_parts(studio.folder)


def daily_backup(studio: Studio) -> Path | None:
    """Make the day's backup, unless the newest is of this day.

    Returns it; None also when nothing changed since, or nothing is in the studio yet.
    Raises StoreError.
    """
    with CARE:
        with studio.store.read() as db:
            own = has_own_rows(db)
        daily = [found for found in backups_in(studio.folder) if not found.before]
        # A newest one of a later day is of a wrong clock, then or now: no reason to make none.
        if (daily and daily[0].day == date.today().isoformat()) or not own:
            return None
        return make_backup(studio)


def try_daily_backup(studio: Studio) -> Fact | None:
    """Make the day's backup if it is due; what kept it from being made, which pages say too."""
    trouble: Fact | None = None
    try:
        daily_backup(studio)
    except HandslideError as error:
        trouble = error.fact
    except OSError as error:
        trouble = fact("store.system_says", reason=system_reason(error))
    studio.notices.backup_trouble = trouble
    return trouble


def make_backup(studio: Studio, before: str = "", *, recordings: bool = False) -> Path | None:
    """Make a backup now; ``before`` is the step that it is made before (``import``, ...).

    A daily one that would equal the newest isn't kept: None. Raises StoreError.
    """
    with telling("studio.no_backup"), CARE, part_folder(studio.folder) as work:
        copy = work / "copy.db"
        copy_studio(studio, copy, recordings=recordings)
        daily = [found.path for found in backups_in(studio.folder) if not found.before]
        if not before and daily and filecmp.cmp(copy, daily[0], shallow=False):
            return None
        made = publish_backup(copy, studio.folder, f"before-{before}" if before else "")
        studio.notices.backup_trouble = None
        _drop_oldest(studio)
        return made


def copy_studio(studio: Studio, target: Path, *, recordings: bool) -> None:
    """Write a copy of the database as it is at this moment into a new file."""
    # A connection of its own: none of the studio's may be reading while it is copied whole.
    with closing(connect_file(studio.store.path)) as db:
        if recordings:
            copy_whole(db, target)
        else:
            copy_rows(db, target, newest_version(), without=WITHOUT)


def restore_backup(studio: Studio, name: str) -> Path | None:
    """Put a backup in place of what is in the studio, after a backup of that.

    Recordings that are here now stay where the backup has their take. Returns the backup of what
    was here.

    Raises
    ------
    NotFound, StoreError
        An unknown backup; one that is damaged. Nothing is changed.
    """
    path = backup_path(studio, name)
    with telling("studio.not_put_in_place"), CARE, part_folder(studio.folder) as work:
        copy = work / "copy.db"
        check_file(path)
        with closing(connect_file(path)) as source:
            copy_whole(source, copy)
        return put_in_place(studio, copy, "restore", keep_recordings=True)


def put_in_place(
    studio: Studio, path: Path, before: str, *, keep_recordings: bool = False
) -> Path | None:
    """Put a checked database of ours in place of the studio's, after a backup with recordings."""
    with (
        telling("studio.not_put_in_place"),
        CARE,
        studio.store.held(),
        closing(connect_file(path)) as source,
    ):
        migrate(source, migrations())
        if keep_recordings:
            with studio.store.read() as here, closing(connect_file(path)) as there:
                carry_recordings(here, there)
        made = make_backup(studio, before, recordings=True)
        studio.store.replace_with(source)
        studio.caches.empty()
    return made


def recover(folder: Path) -> tuple[Path | None, str | None]:
    """Put a damaged studio aside and the newest good backup in its place.

    Returns where the damaged file is kept, and the name of the backup that is now in place (None:
    there was none, the studio will begin empty). Does nothing (None, None) to a studio that is
    whole. Raises StoreError.
    """
    path = folder / FILE_NAME
    with telling("studio.not_recovered", path=str(path)), CARE:
        if damage_of(path) is None or not (path.exists() or backups_in(folder)):
            return None, None
        good = newest_good_backup(folder)
        with part_folder(folder) as work:
            copy = work / "copy.db"
            if good is not None:
                with closing(connect_file(good.path)) as source:
                    copy_whole(source, copy)
            aside = put_aside(path) if path.exists() else None
            if good is not None:
                copy.replace(path)
        return aside, None if good is None else good.path.name


def _looked_at(studio: Studio, found: BackupName, number: int) -> Backup:
    facts = found.path.stat()
    size = facts.st_size
    key = found.path.name, facts.st_mtime_ns, size
    students, recordings = studio.caches.of(_COUNTS).get(key, lambda: _counts(found.path))
    return Backup(found.path.name, found.day, number, found.before, size, students, recordings)


def _counts(path: Path) -> tuple[int | None, int | None]:
    """Students and recordings in a file; None, None for a damaged one."""
    try:
        check_file(path)
    except StoreError:
        return None, None
    with closing(connect_file(path)) as db:
        return number_of_students(db), number_of_recordings(db)


def _drop_oldest(studio: Studio) -> None:
    found = backups_in(studio.folder)
    daily = [backup for backup in found if not backup.before]
    before = [backup for backup in found if backup.before]
    kept = kept_of(daily, backups_kept(studio)) + before[:BACKUPS_BEFORE]
    for backup in found:
        if backup not in kept:
            remove_database(backup.path)
