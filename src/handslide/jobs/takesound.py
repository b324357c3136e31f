"""The sound of takes, for playing notes back: in memory for an hour, in the store by consent only.

Without a student's note of consent nothing of a recording is written to the studio's folder.
"""

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from handslide.edges.recordings import MEDIA_TYPE
from handslide.edges.store import now
from handslide.ground.errors import BadUsage, NotFound
from handslide.jobs.students import get_student
from handslide.jobs.studio import Studio

MOST_BYTES = 200 * 2**20
LONGEST_S = 3600.0


@dataclass(frozen=True, slots=True)
class Sound:
    """A recording: ``data`` of ``media_type``."""

    media_type: str
    data: bytes


class RecentSounds:
    """The sounds of the last takes by their id: bounded in bytes and in time, safe for threads."""

    def __init__(
        self,
        most_bytes: int = MOST_BYTES,
        longest_s: float = LONGEST_S,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._most_bytes, self._longest_s, self._clock = most_bytes, longest_s, clock
        self._held: OrderedDict[int, tuple[float, Sound]] = OrderedDict()
        self._bytes = 0
        self._guard = threading.Lock()

    def put(self, take_id: int, sound: Sound) -> None:
        """Hold a sound; the oldest make room. One larger than the room isn't held."""
        with self._guard:
            self._drop(take_id)
            if len(sound.data) > self._most_bytes:
                return
            self._held[take_id] = (self._clock(), sound)
            self._bytes += len(sound.data)
            self._tidy()

    def get(self, take_id: int) -> Sound | None:
        """The sound of a take, or None when it is gone."""
        with self._guard:
            self._tidy()
            found = self._held.get(take_id)
            return None if found is None else found[1]

    def forget(self, take_id: int) -> None:
        """Drop the sound of a take."""
        with self._guard:
            self._drop(take_id)

    def _drop(self, take_id: int) -> None:
        found = self._held.pop(take_id, None)
        if found is not None:
            self._bytes -= len(found[1].data)

    def _tidy(self) -> None:
        oldest = self._clock() - self._longest_s
        for take_id, (put_at, _) in list(self._held.items()):
            if put_at > oldest and self._bytes <= self._most_bytes:
                break
            self._drop(take_id)


_recent: WeakKeyDictionary[Studio, RecentSounds] = WeakKeyDictionary()
_recent_guard = threading.Lock()


def recent_sounds(studio: Studio) -> RecentSounds:
    """The sounds that this studio still has in memory."""
    with _recent_guard:
        return _recent.setdefault(studio, RecentSounds())


def sound_of(studio: Studio, take_id: int) -> Sound | None:
    """The sound of a take, from the store or from memory; None when it wasn't kept."""
    with studio.store.read() as db:
        row = db.execute(
            "SELECT media_type, data FROM recording WHERE take_id = ?", (take_id,)
        ).fetchone()
        known = db.execute("SELECT 1 FROM take WHERE id = ?", (take_id,)).fetchone()
    if row is not None:
        return Sound(row["media_type"], bytes(row["data"]))
    if known is None:
        recent_sounds(studio).forget(take_id)
        return None
    return recent_sounds(studio).get(take_id)


def may_keep(studio: Studio, student_id: int) -> bool:
    """Whether a student's recordings may be stored: there is a note of consent, and it is wished.

    Raises NotFound.
    """
    student = get_student(studio, student_id)
    return student.keep_recordings and bool((student.consent_note or "").strip())


def keep_recording(studio: Studio, take_id: int) -> None:
    """Store the sound of a take that is still in memory.

    Raises
    ------
    BadUsage
        Without the student's consent, or when the sound is gone.
    NotFound
        No such take.
    """
    with studio.store.read() as db:
        row = db.execute("SELECT student_id FROM take WHERE id = ?", (take_id,)).fetchone()
    if row is None:
        raise NotFound("this take isn't in the studio (any more)")
    if not may_keep(studio, row["student_id"]):
        raise BadUsage(
            "a recording is kept only with consent: write on the student's page who agreed, and "
            "choose there to keep recordings"
        )
    sound = recent_sounds(studio).get(take_id)
    with studio.store.write() as db:
        kept = db.execute("SELECT 1 FROM recording WHERE take_id = ?", (take_id,)).fetchone()
        if kept is not None:
            return
        if sound is None:
            raise BadUsage("the sound of this take is gone: only takes of the last hour have it")
        db.execute(
            "INSERT INTO recording (take_id, media_type, data, created_at) VALUES (?, ?, ?, ?)",
            (take_id, sound.media_type, sound.data, now()),
        )


def drop_recording(studio: Studio, take_id: int) -> None:
    """Delete the sound of a take, stored or in memory; the take stays."""
    recent_sounds(studio).forget(take_id)
    with studio.store.write() as db:
        db.execute("DELETE FROM recording WHERE take_id = ?", (take_id,))


def hold_sound(studio: Studio, take_id: int, flac: bytes) -> None:
    """Hold the sound of a new take in memory, and store it if the student's consent allows it."""
    recent_sounds(studio).put(take_id, Sound(MEDIA_TYPE, flac))
    with studio.store.read() as db:
        row = db.execute("SELECT student_id FROM take WHERE id = ?", (take_id,)).fetchone()
    if row is not None and may_keep(studio, row["student_id"]):
        keep_recording(studio, take_id)
