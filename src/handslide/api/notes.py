"""Notes as they come in: names, MIDI numbers or frequencies."""

import math
from collections.abc import Sequence
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from handslide.api.arrays import Floats, finite
from handslide.ground.errors import BadData, BadUsage, PitchError
from handslide.ground.pitch import Pitch, from_midi, parse_pitch
from handslide.ground.units import A4_MIDI

Unit: TypeAlias = Literal["midi", "hz"]
Notes: TypeAlias = Sequence[str] | ArrayLike
_UNITS = ("midi", "hz")
_MIDI = 127.0


def read_note(note: str | float, unit: Unit, a4_hz: float) -> tuple[float, Pitch]:
    """One note as a MIDI number, with a fraction where it has one, and the nearest name."""
    if isinstance(note, str):
        pitch = parse_pitch(note)
        return float(pitch.midi), pitch
    midi = _midi(_numbers("note", note), "note", unit, a4_hz)
    if midi.ndim:
        raise BadData("api.shape", name="note", shape=str(midi.shape), wanted="()")
    return float(midi), _named(float(midi))


def read_notes(notes: Notes, unit: Unit, a4_hz: float) -> list[Pitch]:
    """Notes as pitches: names as they are spelled, numbers by the nearest semitone.

    Raises BadData: none at all, a wrong name, NaN, a number that can't be a note.
    """
    try:
        rows: Any = notes if isinstance(notes, np.ndarray) else list(notes)  # type: ignore[arg-type]
    except TypeError:
        raise BadData("api.not_notes", name="notes") from None
    if not np.size(rows):
        raise BadData("api.no_notes")
    if all(isinstance(row, str) for row in rows):
        return [_parsed(row, number) for number, row in enumerate(rows)]
    midi = _midi(_numbers("notes", rows), "notes", unit, a4_hz)
    if midi.ndim != 1:
        raise BadData("api.shape", name="notes", shape=str(midi.shape), wanted="(N,)")
    return [_named(number) for number in midi.tolist()]


def _parsed(name: str, number: int) -> Pitch:
    try:
        return parse_pitch(name)
    except PitchError as error:
        raise PitchError("api.at", where=f"notes[{number}]", cause=error.fact) from error


def _numbers(name: str, values: Any) -> Floats:
    try:
        numbers = np.asarray(values, np.float64)
    except (TypeError, ValueError):
        raise BadData("api.not_notes", name=name) from None
    finite(name, numbers)
    return numbers


def _midi(numbers: NDArray[np.float64], name: str, unit: Unit, a4_hz: float) -> Floats:
    if unit not in _UNITS:
        raise BadUsage("usage.choice", name="unit", known=_UNITS)
    if unit == "hz":
        if (numbers <= 0.0).any():
            raise BadData("api.hz", name=name, hz=float(numbers.min()))
        numbers = A4_MIDI + 12.0 * np.log2(numbers / a4_hz)
    wrong = (numbers < 0.0) | (numbers > _MIDI)
    if wrong.any():
        value = float(numbers[wrong].flat[0])
        raise BadData("api.not_midi" if unit == "midi" else "api.far_hz", name=name, value=value)
    return numbers


def _named(midi: float) -> Pitch:
    return from_midi(math.floor(midi + 0.5))
