"""Sound to practise with in a studio: drones in a student's tuning, play-alongs of a stand."""

from dataclasses import dataclass, replace

from handslide.edges.audio.write import LOSSY, MEDIA_TYPES, check_ending
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact
from handslide.jobs.practice.drill import DrillSheet
from handslide.jobs.practice.drilldrones import (
    drone_files,
    exercise_of,
    held_wishes,
    sound_data,
)
from handslide.jobs.practice.drone import Drone, make_drone, most_dbtp_of
from handslide.jobs.practice.harmony import PlayedChord, harmony_warnings
from handslide.jobs.practice.playalong import playalong_data
from handslide.jobs.practice.soundwishes import DroneWishes, PlayWishes
from handslide.studio.cache import CacheKind
from handslide.studio.parts.files import file_name, plain_name
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.parts.scores import open_stored
from handslide.studio.practice.sheets import RenderedSheet
from handslide.studio.studio import Studio

LOOP_S = 30.0
# A browser asks for a sound in pieces; half an hour has 170 MB.
_SOUNDS: CacheKind[tuple[object, ...], "SoundFile"] = CacheKind(2)


@dataclass(frozen=True, slots=True, eq=False)
class SoundFile:
    """A sound as a file: its bytes, its name, its media type; and the chords of its first pass
    where a drone follows them, with what to say of those that it doesn't hold."""

    data: bytes
    name: str
    media_type: str
    chords: tuple[PlayedChord, ...] = ()
    silent: tuple[Fact, ...] = ()


def drone_file(studio: Studio, wishes: DroneWishes, ending: str = ".wav") -> SoundFile:
    """A drone as a file. Raises BadUsage or PitchError as `make_drone`; a loop is WAV or FLAC."""
    check_ending(ending)
    if wishes.loop and ending in LOSSY:
        raise BadUsage("practice.no_lossy_loop")

    def make() -> SoundFile:
        drone = make_drone(wishes, most_dbtp_of(ending))
        return SoundFile(drone.data(ending), drone_stem(wishes) + ending, MEDIA_TYPES[ending])

    return studio.caches.of(_SOUNDS).get((wishes, ending), make)


def exercise_sound(
    studio: Studio, made: RenderedSheet, number: int, ending: str, *, played: bool, loop: bool
) -> SoundFile:
    """The drone of an exercise of a sheet (counted from 1), held or as a ``loop``, or the exercise
    ``played`` over it, pure.

    Raises BadUsage for an exercise without one, or an ending that can't be.
    """
    check_ending(ending)
    assert isinstance(made.sheet, DrillSheet)
    sheet = made.sheet
    note = exercise_of(sheet, number).piece.drone
    assert note is not None
    if not played:
        a4_hz = sheet.setup.horn.a4_hz
        return drone_file(studio, held_wishes(note, a4_hz, loop_s=LOOP_S if loop else None), ending)
    one = next(row for row in drone_files(sheet, sheet.kind) if row.number == number and row.played)

    def make() -> SoundFile:
        return SoundFile(sound_data(sheet, one, ending), one.stem + ending, MEDIA_TYPES[ending])

    return studio.caches.of(_SOUNDS).get((made, number, ending), make)


def drone_stem(wishes: DroneWishes) -> str:
    """What the file of a drone is called, without its ending."""
    words = ["drone", *(note.replace("#", "s") for note in wishes.notes), wishes.chord or ""]
    return plain_name(" ".join([*words, "just" if wishes.just else ""]))


def heard_tones(wishes: DroneWishes) -> Drone:
    """The tones of a drone, from its shortest sound. Raises as :func:`make_drone`."""
    return make_drone(replace(wishes, length_s=1.0, loop=False))


def own_wishes(part: OpenPart, wishes: PlayWishes) -> PlayWishes:
    """The wishes for a stand: its part and voice, its tempo where the score states none."""
    tempo_qpm = wishes.tempo_qpm
    if tempo_qpm is None and not wishes.tempos_qpm and part.marked.part.tempo_assumed:
        tempo_qpm = part.stand.tempo_qpm
    return replace(
        wishes,
        part=part.stand.part,
        voice=part.stand.voice,
        small_notes=part.stand.small_notes,
        sounds=part.stand.sounds,
        tempo_qpm=tempo_qpm,
        a4_hz=part.horn.a4_hz,
    )


def playalong_file(
    studio: Studio, stand_id: int, wishes: PlayWishes, ending: str = ".wav"
) -> SoundFile:
    """A play-along of the part on a stand, at the pitch of its horn.

    Raises
    ------
    BadUsage, ScoreError, NotFound
        As :func:`make_playalong`; no such stand.
    """
    check_ending(ending)
    part = open_part(studio, stand_id)
    wishes = own_wishes(part, wishes)
    name = file_name(studio, part, f"-play-along{ending}")

    def make() -> SoundFile:
        made, data = playalong_data(open_stored(studio, part.score), wishes, ending)
        silent = () if made.harmony is None else harmony_warnings(made.chords, made.harmony.source)
        return SoundFile(data, name, MEDIA_TYPES[ending], made.chords, silent)

    key = part.key.digest, name, wishes, ending
    return studio.caches.of(_SOUNDS).get(key, make)
