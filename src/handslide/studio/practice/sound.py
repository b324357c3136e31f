"""Sound to practise with in a studio: drones in a student's tuning, play-alongs of a stand."""

from dataclasses import dataclass, replace

from handslide.edges.audio.write import LOSSY, MEDIA_TYPES, check_ending
from handslide.ground.errors import BadUsage
from handslide.jobs.practice.drone import Drone, make_drone, most_dbtp_of
from handslide.jobs.practice.playalong import playalong_data
from handslide.jobs.practice.soundwishes import DroneWishes, PlayWishes
from handslide.studio.cache import CacheKind
from handslide.studio.parts.files import file_name, plain_name
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.parts.scores import open_stored
from handslide.studio.studio import Studio

LOOP_S = 30.0
# A browser asks for a sound in pieces; half an hour has 170 MB.
_SOUNDS: CacheKind[tuple[object, ...], "SoundFile"] = CacheKind(2)


@dataclass(frozen=True, slots=True, eq=False)
class SoundFile:
    """A sound as a file: its bytes, its name, its media type."""

    data: bytes
    name: str
    media_type: str


def drone_file(studio: Studio, wishes: DroneWishes, ending: str = ".wav") -> SoundFile:
    """A drone as a file. Raises BadUsage or PitchError as `make_drone`; a loop is WAV or FLAC."""
    check_ending(ending)
    if wishes.loop and ending in LOSSY:
        raise BadUsage("practice.no_lossy_loop")

    def make() -> SoundFile:
        drone = make_drone(wishes, most_dbtp_of(ending))
        return SoundFile(drone.data(ending), drone_stem(wishes) + ending, MEDIA_TYPES[ending])

    return studio.caches.of(_SOUNDS).get((wishes, ending), make)


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
        _, data = playalong_data(open_stored(studio, part.score), wishes, ending)
        return SoundFile(data, name, MEDIA_TYPES[ending])

    key = part.key.digest, name, wishes, ending
    return studio.caches.of(_SOUNDS).get(key, make)
