"""Drones: a held note or chord to tune against, equal or just, as a sound or as a clean loop."""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handslide.edges.audio.write import LOSSY, audio_bytes, check_ending
from handslide.edges.files.outfile import check_free, write_result
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import DRONE_S, LOOP_S
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.ground.temperament import Tempered, chord_on, tempered
from handslide.ground.units import cents
from handslide.jobs.practice.soundwishes import (
    CALM_LUFS,
    LOUDEST_LUFS,
    SOFTEST_LUFS,
    DroneWishes,
)
from handslide.sound.loudness import HIGHEST_DBTP, Levelled, set_level
from handslide.sound.notes import check_a4
from handslide.sound.synth import RATE_HZ, fade, loop_count, sustained
from handslide.words.cautions import HEARING
from handslide.words.speech import Speech

SHORTEST_S = 1.0
MOST_TONES = 8
LOWEST_HZ, HIGHEST_HZ = 20.0, 3000.0
# A compressed file swings a little higher than what went in.
LOSSY_DBTP = -2.0
_LOOP_CENTS = 0.05
_ATTACK_S, _RELEASE_S = 0.4, 0.6
# As soft as can be and as loud as can be, in level; timbre goes with it.
_PP_LUFS, _FF_LUFS = -35.0, -11.0


@dataclass(frozen=True, slots=True, eq=False)
class Drone:
    """A drone as made: its tones, the frequencies that they really have, and the sound."""

    wishes: DroneWishes
    tones: tuple[Tempered, ...]
    hz: tuple[float, ...]
    sound: Levelled
    warnings: tuple[Fact, ...]

    def data(self, ending: str = ".wav", bits: int = 16) -> bytes:
        """The bytes of a file of this ending."""
        return audio_bytes(self.sound.samples, self.sound.rate_hz, ending, bits)


def make_drone(wishes: DroneWishes, most_dbtp: float = HIGHEST_DBTP) -> Drone:
    """Hold a note or a chord.

    Raises
    ------
    PitchError, BadUsage, BadData
        A note that can't be read, wishes that don't fit together or are out of range.
    """
    tones = _tones(wishes)
    length_s = wishes.length_s if wishes.length_s is not None else 10.0 if wishes.loop else 60.0
    longest_s = LOOP_S if wishes.loop else DRONE_S
    if not SHORTEST_S <= length_s <= longest_s:
        kind = "practice.loop_length" if wishes.loop else "practice.drone_length"
        raise BadUsage(kind, length_s=length_s, low=SHORTEST_S, high=longest_s)
    check_level(wishes.level_lufs)
    hz = tuple(tone.hz for tone in tones)
    count = round(length_s * RATE_HZ)
    if wishes.loop:
        count, hz = loop_count(hz, length_s, _LOOP_CENTS)
    mix = sustained(hz, dynamic_of(wishes.level_lufs), count)
    if not wishes.loop:
        fade(mix, _ATTACK_S, _RELEASE_S)
    sound = set_level(mix, RATE_HZ, wishes.level_lufs, most_dbtp)
    return Drone(wishes, tones, hz, sound, level_warnings(sound, wishes.level_lufs))


def drone_data(wishes: DroneWishes, ending: str = ".wav", bits: int = 16) -> tuple[Drone, bytes]:
    """A drone and the bytes of its file: for a page, which plays it without one.

    Raises BadUsage, too, for an ending that can't be written or holds no loop.
    """
    check_ending(ending, bits)
    if wishes.loop and ending.lower() in LOSSY:
        raise BadUsage("practice.no_lossy_loop")
    drone = make_drone(wishes, most_dbtp_of(ending))
    return drone, drone.data(ending, bits)


def write_drone(wishes: DroneWishes, path: Path, *, bits: int = 16, force: bool = False) -> Drone:
    """Make a drone and write it. Raises OutputError, too, where it can't be written."""
    check_ending(path.suffix, bits)
    check_free(path, force=force)
    drone, data = drone_data(wishes, path.suffix, bits)
    write_result(path, data, force=force)
    return drone


def default_path(wishes: DroneWishes) -> Path:
    """A name for the file, here."""
    names = [parse_pitch(note).name.replace("#", "s") for note in wishes.notes]
    words = ["drone", *names]
    words += [wishes.chord] if wishes.chord else []
    words += ["just"] if wishes.just else []
    words += ["loop"] if wishes.loop else []
    return Path("-".join(words) + ".wav")


def drone_json(drone: Drone, say: Speech) -> dict[str, Any]:
    """JSON of ``handslide drone``; ``ratio`` is null in equal temperament."""
    return {
        "a4_hz": drone.wishes.a4_hz,
        "temperament": "just" if drone.wishes.just else "equal",
        "root": _root(drone.wishes, drone.tones).name,
        "tones": [
            {
                "note": tone.pitch.name,
                "hz": round(hz, 6),
                "offset_cents": round(tone.offset_cents, 3),
                "ratio": None if tone.ratio is None else str(tone.ratio),
                "loop_shift_cents": round(cents(hz / tone.hz), 4),
            }
            for tone, hz in zip(drone.tones, drone.hz)
        ],
        "loop": drone.wishes.loop,
        **sound_json(drone.sound),
        "warnings": [say.fact(told) for told in drone.warnings],
        "caution": say(HEARING),
    }


def sound_json(sound: Levelled) -> dict[str, Any]:
    """Length and level of a sound, measured."""
    return {
        "length_s": round(sound.length_s, 6),
        "samples": sound.samples.shape[-1],
        "rate_hz": sound.rate_hz,
        "level_lufs": round(sound.lufs, 2),
        "true_peak_dbtp": round(sound.peak_dbtp, 2),
    }


def check_level(level_lufs: float) -> None:
    """Raise BadUsage for a level that is hardly heard or too loud to begin with."""
    if not SOFTEST_LUFS <= level_lufs <= LOUDEST_LUFS:
        raise BadUsage(
            "practice.level",
            level_lufs=level_lufs,
            low=SOFTEST_LUFS,
            high=LOUDEST_LUFS,
            calm=CALM_LUFS,
        )


def dynamic_of(level_lufs: float) -> float:
    """How loud a voice is played to sound at this level: louder is brighter."""
    return min(max((level_lufs - _PP_LUFS) / (_FF_LUFS - _PP_LUFS), 0.0), 1.0)


def most_dbtp_of(ending: str) -> float:
    """The highest true peak of what goes into a file of this ending."""
    return LOSSY_DBTP if ending.lower() in LOSSY else HIGHEST_DBTP


def level_warnings(sound: Levelled, wanted_lufs: float) -> tuple[Fact, ...]:
    """What to say where the peaks didn't allow the level."""
    if not sound.held_back:
        return ()
    return (fact("practice.held_back", level_lufs=float(sound.lufs), wanted_lufs=wanted_lufs),)


def _tones(wishes: DroneWishes) -> tuple[Tempered, ...]:
    check_a4(wishes.a4_hz)
    pitches: tuple[Pitch, ...] = tuple(parse_pitch(note) for note in wishes.notes)
    if not pitches:
        raise BadUsage("practice.no_note")
    if wishes.chord is not None:
        if len(pitches) > 1:
            raise BadUsage("practice.chord_of_many")
        pitches = chord_on(pitches[0], wishes.chord)
    if len(pitches) > MOST_TONES:
        raise BadUsage("practice.many_tones", tones=len(pitches), most=MOST_TONES)
    if len({pitch.midi for pitch in pitches}) < len(pitches):
        raise BadUsage("practice.note_twice")
    root = None if wishes.root is None else parse_pitch(wishes.root)
    tones = tempered(pitches, just=wishes.just, root=root, a4_hz=wishes.a4_hz)
    for tone in tones:
        if not LOWEST_HZ <= tone.hz <= HIGHEST_HZ or not math.isfinite(tone.hz):
            raise BadUsage(
                "practice.outside_drone",
                note=tone.pitch,
                hz=tone.hz,
                low=LOWEST_HZ,
                high=HIGHEST_HZ,
            )
    return tones


def _root(wishes: DroneWishes, tones: tuple[Tempered, ...]) -> Pitch:
    if wishes.root is not None:
        return parse_pitch(wishes.root)
    return min((tone.pitch for tone in tones), key=lambda pitch: pitch.midi)
