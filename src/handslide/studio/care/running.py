"""Starting a studio, and knowing whether one runs already on the same folder."""

import json
import secrets
from dataclasses import asdict, dataclass
from pathlib import Path

from handslide.edges.files.outfile import write_result
from handslide.ground.facts import Fact, fact
from handslide.studio.care.backups import clear_unfinished, recover, try_daily_backup
from handslide.studio.care.example import welcome
from handslide.studio.studio import Studio, open_studio, studio_folder

FILE_NAME = "running.json"


@dataclass(frozen=True)
class Running:
    """A server that shows a studio: its ``url``, and the ``key`` by which it is known again."""

    url: str
    key: str


def start_studio(folder: Path | None = None) -> tuple[Studio, list[Fact]]:
    """Open a studio, make the day's backup, put the example into a new one.

    On a full disk it is opened for looking and exporting only.

    Returns the studio and what failed without need to stop.
    Raises StoreError.
    """
    studio = open_studio(folder)
    if studio.store.full:
        return studio, [fact("studio.disk_full")]
    clear_unfinished(studio)
    trouble = try_daily_backup(studio)
    welcome(studio)
    return studio, [] if trouble is None else [fact("studio.no_daily_backup", trouble=trouble)]


def recover_studio(folder: Path | None = None) -> Fact:
    """Put the newest good backup in place of a damaged studio; what was done.

    The damaged file is kept beside. A studio that is whole is left as it is.
    """
    aside, backup = recover(studio_folder(folder))
    if aside is None and backup is None:
        return fact("studio.whole")
    kept = "" if aside is None else aside.name
    if backup is None:
        return fact("studio.begins_empty", kept=kept)
    return fact("studio.recovered", backup=backup, kept=kept)


def note_running(studio: Studio, url: str) -> Running:
    """Write into the studio's folder that a server shows it at ``url``. Raises OutputError."""
    running = Running(url, secrets.token_urlsafe(16))
    path = studio.folder / FILE_NAME
    write_result(path, json.dumps(asdict(running)).encode(), force=True)
    return running


def forget_running(studio: Studio, running: Running) -> None:
    """Take the note away again, if it is still this server's."""
    if noted(studio.folder) == running:
        (studio.folder / FILE_NAME).unlink(missing_ok=True)


def noted(folder: Path) -> Running | None:
    """What the note in ``folder`` says; its server may have been killed since."""
    try:
        found = json.loads((folder / FILE_NAME).read_text(encoding="utf-8"))
        return Running(str(found["url"]), str(found["key"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
