"""Takes that are being heard in the background, so that nobody waits before a blank page."""

import logging
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import BinaryIO

from handslide.ground.errors import BadData, HandslideError, NotFound
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import TAKES_WAITING
from handslide.ground.progress import ProgressCallback
from handslide.studio.people.students import get_student
from handslide.studio.studio import Studio
from handslide.studio.takes.takes import hear_take

# Hearing keeps a core busy; a page must stay quick meanwhile.
_AT_ONCE = 2
_REMEMBERED_S = 3600.0
_BROKEN = fact("takes.broken")


@dataclass(frozen=True, slots=True)
class Hearing:
    """A take that is being heard for a student.

    ``share`` of the work is done, 0 to 1. At the end either ``take_id`` or ``error``, what to
    tell the user, is there.
    """

    key: str
    student_id: int
    stand_id: int | None
    title: str
    share: float = 0.0
    take_id: int | None = None
    error: Fact | None = None
    ended_at: float | None = None

    @property
    def done(self) -> bool:
        """Whether it has ended, well or not."""
        return self.ended_at is not None


class _Desk:
    """All takes of a studio that are being heard, or were lately."""

    def __init__(self) -> None:
        self.guard = threading.Lock()
        self.rows: dict[str, Hearing] = {}
        self.ended: dict[str, threading.Event] = {}
        self.room = threading.Semaphore(_AT_ONCE)

    def add(self, row: Hearing) -> None:
        with self.guard:
            self.tidy()
            if sum(not one.done for one in self.rows.values()) >= TAKES_WAITING:
                raise BadData("takes.too_many_waiting", count=TAKES_WAITING)
            self.rows[row.key] = row
            self.ended[row.key] = threading.Event()

    def change(self, key: str, **values: object) -> None:
        with self.guard:
            self.rows[key] = replace(self.rows[key], **values)  # type: ignore[arg-type]

    def forget_student(self, student_id: int) -> None:
        """Forget a student's takes that were heard; those that are being heard lose their title."""
        with self.guard:
            for key, row in list(self.rows.items()):
                if row.student_id == student_id and row.done:
                    del self.rows[key], self.ended[key]
                elif row.student_id == student_id:
                    self.rows[key] = replace(row, title="")

    def tidy(self) -> None:
        oldest = time.monotonic() - _REMEMBERED_S
        for key, row in list(self.rows.items()):
            if row.ended_at is not None and row.ended_at < oldest:
                del self.rows[key], self.ended[key]


def _desk(studio: Studio) -> _Desk:
    return studio.caches.one(_Desk)


def start_hearing(
    studio: Studio,
    student_id: int,
    audio: BinaryIO,
    *,
    name: str,
    title: str = "",
    source: str = "file",
    stand_id: int | None = None,
) -> str:
    """Begin to hear a take; arguments as for `hear_take`. ``audio`` is closed at the end.

    Returns a key to ask for it by. Raises BadData when too many are waiting, NotFound.
    """
    try:
        get_student(studio, student_id)
        desk, key = _desk(studio), secrets.token_urlsafe(12)
        desk.add(Hearing(key, student_id, stand_id, title or name))
    except HandslideError:
        audio.close()
        raise

    def hear(progress: ProgressCallback) -> int:
        with audio:
            return hear_take(
                studio, student_id, audio, title=title, source=source, stand_id=stand_id,
                name=name, progress=progress,
            )  # fmt: skip

    # A daemon: closing the studio doesn't wait for an hour of music.
    threading.Thread(target=_hear, args=(desk, key, hear), name="hearing", daemon=True).start()
    return key


def hearing(studio: Studio, key: str, wait_s: float = 0.0) -> Hearing:
    """How far a take is heard, after waiting up to ``wait_s`` for its end. Raises NotFound."""
    desk = _desk(studio)
    ended = desk.ended.get(key)
    if ended is not None and wait_s > 0.0:
        ended.wait(wait_s)
    with desk.guard:
        found = desk.rows.get(key)
    if found is None:
        raise NotFound("takes.not_waiting")
    return found


def _hear(desk: _Desk, key: str, hear: Callable[[ProgressCallback], int]) -> None:
    take_id = said = None
    try:
        with desk.room:
            take_id = hear(partial(_tell, desk, key))
    except HandslideError as error:
        said = error.fact
    except Exception:
        logging.getLogger(__name__).exception("a take couldn't be heard")
        said = _BROKEN
    finally:
        share = 1.0 if take_id is not None else desk.rows[key].share
        desk.change(key, share=share, take_id=take_id, error=said, ended_at=time.monotonic())
        desk.ended[key].set()


def _tell(desk: _Desk, key: str, stage: str, done: int, total: int) -> None:
    """Reading is taken for half of the work, measuring for the other half."""
    part = min(done / total, 1.0) if total else 0.0
    share = 0.5 * part if stage == "hearing" else 0.5 + 0.5 * part
    if share - desk.rows[key].share >= 0.01:
        desk.change(key, share=share)
