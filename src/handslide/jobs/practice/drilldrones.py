"""The drones of a sheet: what is held below each exercise, and the exercise in tune with it."""

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple, Protocol

from handslide.edges.audio.write import check_ending
from handslide.edges.files.outfile import check_free, write_result
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch
from handslide.jobs.practice.drone import drone_data
from handslide.jobs.practice.music import MarkedPiece
from handslide.jobs.practice.playalong import playalong_data
from handslide.jobs.practice.soundwishes import (
    TAKE_ALONG,
    DroneWishes,
    HarmonyWishes,
    PlayWishes,
)
from handslide.jobs.setup import Setup

LENGTH_S = 120.0
"""How long a drone's file holds it: twice the length of an exercise."""


NONE = "none"
"""What stands for no sounds beside a sheet."""


class Numbered(Protocol):
    """A sheet of exercises with the numbers that they have on it."""

    @property
    def setup(self) -> Setup:
        """Who plays it on what."""
        ...

    @property
    def numbered(self) -> Sequence[tuple[int, MarkedPiece]]:
        """Its exercises."""
        ...


class DroneFile(NamedTuple):
    """A sound of an exercise by its number over the drone ``note``; ``played``: with the exercise
    itself over it."""

    number: int
    note: Pitch
    played: bool
    stem: str


def drone_files(sheet: Numbered, stem: str) -> list[DroneFile]:
    """What there is to hear of a sheet, exercise by exercise; nothing where it has no drones.

    The files' names begin with ``stem``.
    """
    found = []
    for number, one in sheet.numbered:
        note = one.piece.drone
        if note is not None:
            name = f"{stem}-{number}-{note.name.replace('#', 's')}"
            found.append(DroneFile(number, note, False, f"{name}-drone"))
            found.append(DroneFile(number, note, True, f"{name}-played"))
    return found


def held_wishes(note: Pitch, a4_hz: float, *, loop_s: float | None = None) -> DroneWishes:
    """The drone alone, for a file or as a loop."""
    length_s = LENGTH_S if loop_s is None else loop_s
    return DroneWishes((note.name,), length_s=length_s, loop=loop_s is not None, a4_hz=a4_hz)


def played_wishes(note: Pitch, a4_hz: float) -> PlayWishes:
    """The exercise over its drone, every note just above it."""
    drone = HarmonyWishes("chords", "root", low=note.name)
    return PlayWishes(drone=drone, clicks=False, a4_hz=a4_hz)


def exercise_of(sheet: Numbered, number: int) -> MarkedPiece:
    """An exercise with a drone by its number. Raises BadUsage."""
    known = {at: one for at, one in sheet.numbered if one.piece.drone is not None}
    if number not in known:
        raise BadUsage("practice.no_drone_here", number=number, known=tuple(known))
    return known[number]


def sound_data(sheet: Numbered, one: DroneFile, ending: str) -> bytes:
    """The bytes of a sound file."""
    a4_hz = sheet.setup.horn.a4_hz
    if not one.played:
        return drone_data(held_wishes(one.note, a4_hz), ending)[1]
    score = exercise_of(sheet, one.number).score
    return playalong_data(score, played_wishes(one.note, a4_hz), ending)[1]


def drone_paths(
    sheet: Numbered, stem: str, folder: Path, form: str | None, *, force: bool = False
) -> list[Path]:
    """Where the sounds of a sheet are written, one of TAKE_ALONG as their ``form``, or NONE.

    None: the usual form, and no sounds for a sheet without drones. Raises OutputError where one
    can't be written; BadUsage for a form where there are no drones.
    """
    files = drone_files(sheet, stem)
    if form == NONE or (form is None and not files):
        return []
    if not files:
        raise BadUsage("practice.no_drones")
    ending = f".{form or TAKE_ALONG[0]}"
    check_ending(ending)
    paths = [folder / f"{one.stem}{ending}" for one in files]
    for path in paths:
        check_free(path, force=force)
    return paths


def write_drones(sheet: Numbered, stem: str, paths: Sequence[Path], *, force: bool = False) -> None:
    """Write the sounds of a sheet to its `drone_paths`. Raises OutputError."""
    for one, path in zip(drone_files(sheet, stem), paths):
        write_result(path, sound_data(sheet, one, path.suffix), force=force)
