"""On which day of the week a student usually comes, told from the days of the takes."""

from collections import Counter
from collections.abc import Iterable
from datetime import date, datetime

_LAST_DAYS = 4
_LEAST = 2


def usual_weekday(days: Iterable[date]) -> int | None:
    """The weekday (0: Monday) of most of the last four days that there are takes of.

    None where fewer than two of them, or not more than half, fell on the same one.
    """
    last = sorted(set(days))[-_LAST_DAYS:]
    if not last:
        return None
    weekday, count = Counter(day.weekday() for day in last).most_common(1)[0]
    return weekday if count >= _LEAST and 2 * count > len(last) else None


def local_day(moment: str) -> date:
    """The day here of a stored time."""
    return datetime.fromisoformat(moment).astimezone().date()
