"""The day's backup while the studio runs: a teacher may not stop it for weeks."""

import logging
import threading

from handslide.studio.care.backups import try_daily_backup
from handslide.studio.studio import Studio

EVERY_S = 900.0
_log = logging.getLogger("handslide.studio")


class Daily:
    """Looks every quarter of an hour whether a backup is due; ``with`` begins and ends it."""

    def __init__(self, studio: Studio, every_s: float = EVERY_S) -> None:
        self._studio = studio
        self._every_s = every_s
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name="backups", daemon=True)

    def __enter__(self) -> "Daily":
        self._thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._end.set()
        self._thread.join(10.0)

    def _run(self) -> None:
        while not self._end.wait(self._every_s):
            try:
                try_daily_backup(self._studio)
            except Exception:
                # Tomorrow's must not depend on what went wrong today.
                _log.exception("the daily backup failed")
