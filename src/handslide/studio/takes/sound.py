"""The sound of takes, for playing notes back: in memory for an hour, in the store by consent only.

Without a student's note of consent nothing of a recording is written to the studio's folder.
"""

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

from handslide.edges.audio.recordings import MEDIA_TYPE
from handslide.edges.store.recordings import find_recording, insert_recording, read_recording
from handslide.edges.store.takes import TakeKey, find_take_key, select_take_owners
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.limits import KEPT_SOUND_BYTES, KEPT_SOUND_S
from handslide.studio.people.students import get_student
from handslide.studio.studio import Studio


@dataclass(frozen=True, slots=True)
class Sound:
    """A recording: ``data`` of ``media_type``."""

    media_type: str
    data: bytes


Key = tuple[int, str]
"""A take's id and when it was made: after a deletion or a restored backup another take may have
the same id."""


class RecentSounds:
    """The sounds of the last takes: bounded in bytes and in time, safe for threads."""

    def __init__(
        self,
        most_bytes: int = KEPT_SOUND_BYTES,
        longest_s: float = KEPT_SOUND_S,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._most_bytes, self._longest_s, self._clock = most_bytes, longest_s, clock
        self._held: OrderedDict[Key, tuple[float, Sound, int]] = OrderedDict()
        self._bytes = 0
        self._guard = threading.Lock()

    def put(self, key: Key, sound: Sound, student_id: int) -> None:
        """Hold a sound of a student; the oldest make room. One larger than the room isn't held."""
        with self._guard:
            self._drop(key)
            if len(sound.data) > self._most_bytes:
                return
            self._held[key] = (self._clock(), sound, student_id)
            self._bytes += len(sound.data)
            self._tidy()

    def get(self, key: Key) -> Sound | None:
        """The sound of a take, or None when it is gone."""
        with self._guard:
            self._tidy()
            found = self._held.get(key)
            return None if found is None else found[1]

    def forget(self, key: Key) -> None:
        """Drop the sound of a take."""
        with self._guard:
            self._drop(key)

    def forget_student(self, student_id: int) -> None:
        """Drop all sounds of a student."""
        with self._guard:
            for key, (_, _, owner) in list(self._held.items()):
                if owner == student_id:
                    self._drop(key)

    def held(self) -> tuple[Key, ...]:
        """The takes whose sound is held."""
        with self._guard:
            self._tidy()
            return tuple(self._held)

    def _drop(self, key: Key) -> None:
        found = self._held.pop(key, None)
        if found is not None:
            self._bytes -= len(found[1].data)

    def _tidy(self) -> None:
        oldest = self._clock() - self._longest_s
        for key, (put_at, _, _) in list(self._held.items()):
            if put_at > oldest and self._bytes <= self._most_bytes:
                break
            self._drop(key)


def recent_sounds(studio: Studio) -> RecentSounds:
    """The sounds that this studio still has in memory."""
    return studio.caches.one(RecentSounds)


@dataclass(frozen=True, slots=True)
class SoundFacts:
    """The sound of a take: its kind, size in bytes, and whether it is ``kept`` in the store."""

    media_type: str
    size: int
    kept: bool


def sound_facts(studio: Studio, take_id: int) -> SoundFacts | None:
    """What there is to hear of a take; None when its sound wasn't kept or is gone.

    Raises NotFound.
    """
    key = _key(studio, take_id)
    with studio.store.read() as db:
        kept = find_recording(db, take_id)
    if kept is not None:
        return SoundFacts(*kept, True)
    held = recent_sounds(studio).get(key)
    return None if held is None else SoundFacts(held.media_type, len(held.data), False)


def sound_bytes(studio: Studio, take_id: int, first: int, count: int) -> bytes:
    """``count`` bytes of a take's sound from ``first`` on. Raises NotFound when it is gone."""
    key = _key(studio, take_id)
    with studio.store.read() as db:
        piece = read_recording(db, take_id, first, count)
    if piece is not None:
        return piece
    held = recent_sounds(studio).get(key)
    if held is None:
        raise NotFound("takes.sound_gone")
    return held.data[first : first + count]


def _key(studio: Studio, take_id: int) -> Key:
    return take_id, _known(studio, take_id).created_at


def _known(studio: Studio, take_id: int) -> TakeKey:
    with studio.store.read() as db:
        found = find_take_key(db, take_id)
    if found is None:
        raise NotFound("takes.gone")
    return found


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
    known = _known(studio, take_id)
    if not may_keep(studio, known.student_id):
        raise BadUsage("takes.no_consent")
    sound = recent_sounds(studio).get((take_id, known.created_at))
    with studio.store.write() as db:
        if find_recording(db, take_id) is not None:
            return
        if sound is None:
            raise BadUsage("takes.sound_gone")
        insert_recording(db, take_id, sound.media_type, sound.data)


def hold_sound(studio: Studio, take_id: int, flac: bytes) -> None:
    """Hold the sound of a new take in memory, and store it if the student's consent allows it.

    Raises NotFound.
    """
    known = _known(studio, take_id)
    sound = Sound(MEDIA_TYPE, flac)
    recent_sounds(studio).put((take_id, known.created_at), sound, known.student_id)
    if may_keep(studio, known.student_id):
        keep_recording(studio, take_id)


def forget_sound(studio: Studio, take_id: int) -> None:
    """Drop the sound of a take from memory. Raises NotFound."""
    recent_sounds(studio).forget(_key(studio, take_id))


def forget_sounds(
    studio: Studio, *, all_of_them: bool = False, student_id: int | None = None
) -> None:
    """Drop from memory the sounds of takes that are gone; a student's, or all, if asked for."""
    with studio.store.read() as db:
        owners = select_take_owners(db)
    stay = {key for key, owner in owners.items() if owner != student_id}
    recent = recent_sounds(studio)
    for key in recent.held():
        if all_of_them or key not in stay:
            recent.forget(key)
