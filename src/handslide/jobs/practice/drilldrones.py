"""The drones of a sheet: what is held below each exercise, and the exercise in tune with it."""

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from handslide.edges.audio.write import check_ending
from handslide.edges.files.outfile import check_free, write_result
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch
from handslide.jobs.practice.drill import DrillSheet
from handslide.jobs.practice.drone import drone_data
from handslide.jobs.practice.music import MarkedPiece
from handslide.jobs.practice.playalong import playalong_data
from handslide.jobs.practice.soundwishes import DroneWishes, HarmonyWishes, PlayWishes

LENGTH_S = 120.0
"""How long a drone's file holds it: twice the length of an exercise."""


class DroneFile(NamedTuple):
    """A sound of an exercise (``number``, counted from 1) over the drone ``note``; ``played``: with
    the exercise itself over it."""

    number: int
    note: Pitch
    played: bool
    stem: str


def drone_files(sheet: DrillSheet) -> list[DroneFile]:
    """What there is to hear of a sheet, exercise by exercise; nothing where it has no drones."""
    found = []
    for number, one in enumerate(sheet.pieces, 1):
        note = one.piece.drone
        if note is not None:
            stem = f"{sheet.kind}-{number}-{note.name.replace('#', 's')}"
            found.append(DroneFile(number, note, False, f"{stem}-drone"))
            found.append(DroneFile(number, note, True, f"{stem}-played"))
    return found


def held_wishes(note: Pitch, a4_hz: float, *, loop_s: float | None = None) -> DroneWishes:
    """The drone alone, for a file or as a loop."""
    length_s = LENGTH_S if loop_s is None else loop_s
    return DroneWishes((note.name,), length_s=length_s, loop=loop_s is not None, a4_hz=a4_hz)


def played_wishes(note: Pitch, a4_hz: float) -> PlayWishes:
    """The exercise over its drone, every note just above it."""
    drone = HarmonyWishes("chords", "root", low=note.name)
    return PlayWishes(drone=drone, clicks=False, a4_hz=a4_hz)


def exercise_of(sheet: DrillSheet, number: int) -> MarkedPiece:
    """An exercise with a drone by its number. Raises BadUsage."""
    known = tuple(dict.fromkeys(one.number for one in drone_files(sheet)))
    if number not in known:
        raise BadUsage("practice.no_drone_here", number=number, known=known)
    return sheet.pieces[number - 1]


def sound_data(sheet: DrillSheet, one: DroneFile, ending: str) -> bytes:
    """The bytes of a sound file."""
    a4_hz = sheet.setup.horn.a4_hz
    if not one.played:
        return drone_data(held_wishes(one.note, a4_hz), ending)[1]
    score = exercise_of(sheet, one.number).score
    return playalong_data(score, played_wishes(one.note, a4_hz), ending)[1]


def drone_paths(sheet: DrillSheet, folder: Path, form: str, *, force: bool = False) -> list[Path]:
    """Where the sounds of a sheet are written, one of TAKE_ALONG as their ``form``.

    Raises OutputError where one can't be; BadUsage for a sheet without drones.
    """
    files = drone_files(sheet)
    if not files:
        raise BadUsage("practice.no_drones", drill=sheet.kind)
    check_ending(f".{form}")
    paths = [folder / f"{one.stem}.{form}" for one in files]
    for path in paths:
        check_free(path, force=force)
    return paths


def write_drones(sheet: DrillSheet, paths: Sequence[Path], *, force: bool = False) -> None:
    """Write the sounds of a sheet to its `drone_paths`. Raises OutputError."""
    for one, path in zip(drone_files(sheet), paths):
        write_result(path, sound_data(sheet, one, path.suffix), force=force)
