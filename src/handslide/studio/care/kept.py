"""Which daily backups are kept: of each of the last days, weeks and months the newest.

Age is the order in which they were made, never what the clock said: a clock may have been wrong
when one was made, or now. A day's name only says which of them belong together.
"""

from collections.abc import Hashable, Sequence
from datetime import date

from handslide.edges.store.copies import BackupName
from handslide.ground.limits import BACKUP_MONTHS, BACKUP_WEEKS, BACKUPS_OF_TODAY


def kept_of(backups: Sequence[BackupName], days: int) -> list[BackupName]:
    """The daily backups to keep, out of all of them, the newest first.

    Kept are some of the newest day, the newest of each of ``days`` days, and of weeks and months
    before these. The newest of all is always among them.
    """
    if not backups:
        return []
    newest = [backup for backup in backups if backup.day == backups[0].day][:BACKUPS_OF_TODAY]
    found = {backup.path: backup for backup in newest}
    for period, most in ((_day, days), (_week, BACKUP_WEEKS), (_month, BACKUP_MONTHS)):
        # A week of which a day is kept has its backup, and so has a month.
        seen = set() if period is _day else {period(backup.day) for backup in found.values()}
        for backup in backups:
            if most > 0 and period(backup.day) not in seen:
                seen.add(period(backup.day))
                found[backup.path] = backup
                most -= 1
    return [backup for backup in backups if backup.path in found]


def _day(day: str) -> str:
    return day


def _week(day: str) -> Hashable:
    try:
        return date.fromisoformat(day).isocalendar()[:2]
    except ValueError:  # a name of digits that is no day
        return day


def _month(day: str) -> str:
    return day[:7]
