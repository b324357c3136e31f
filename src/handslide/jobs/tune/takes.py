"""Notes to tune by, from recordings: their mean pitch and how sure it is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from handslide.ground.errors import BadData
from handslide.ground.progress import ProgressCallback
from handslide.ground.units import cents, cents_to_ratio
from handslide.instrument.tuning import DEFAULT_SE_CENTS, SAME_NOTE_CENTS
from handslide.jobs.hear.listen import listen_file

Recording = Path | tuple[str, BinaryIO]
"""A file, or what it is called with the open file."""


@dataclass(frozen=True, slots=True)
class Heard:
    """A frequency with its standard error in cents, typed or from a take."""

    hz: float
    se_cents: float


def hear_mean(take: str, notes: Sequence[Any]) -> Heard:
    """The mean pitch of heard notes that should all be the same.

    The standard error is the notes' own scatter where there are three or more, and not less than
    what players repeat a single note with (2 cents, common practice) over √n.

    Raises
    ------
    BadData
        When there is none, or they aren't the same note.
    """
    if not notes:
        raise BadData("tuning.no_steady_note", take=take)
    middle = sorted(note.f0_hz for note in notes)[len(notes) // 2]
    offs = [cents(note.f0_hz / middle) for note in notes]
    if max(offs) - min(offs) > SAME_NOTE_CENTS:
        raise BadData("tuning.several_notes", take=take, apart_cents=max(offs) - min(offs))
    count = len(offs)
    mean = sum(offs) / count
    scatter = sum((off - mean) ** 2 for off in offs) / max(count - 1, 1)
    worst = max(note.cents_se for note in notes)
    single = math.hypot(max(DEFAULT_SE_CENTS, math.sqrt(scatter)), worst)
    return Heard(middle * cents_to_ratio(mean), single / math.sqrt(count))


def hear_recording(
    take: Recording, a4_hz: float, progress: ProgressCallback | None = None
) -> tuple[str, Sequence[Any]]:
    """(name, heard notes that could be measured) of a recording. Raises TakeError."""
    if isinstance(take, Path):
        name, heard = take.name, listen_file(take, a4_hz=a4_hz, progress=progress)
    else:
        name, file = take
        heard = listen_file(file, name=name, a4_hz=a4_hz, progress=progress)
    return name, [note for note in heard.notes if note.cents_se is not None]


def pair_from_takes(
    takes: Sequence[Recording], a4_hz: float, progress: ProgressCallback | None = None
) -> tuple[Heard, Heard]:
    """(open, valve) from two takes, or from one in which both alternate, the open horn first.

    Raises
    ------
    BadData
        When a take can't be used or its notes aren't the same note.
    """
    found = [hear_recording(take, a4_hz, progress) for take in takes]
    if len(found) == 2:
        return hear_mean(*found[0]), hear_mean(*found[1])
    name, notes = found[0]
    if len(notes) < 2:
        raise BadData("tuning.two_notes_needed", take=name, count=len(notes))
    return hear_mean(name, notes[0::2]), hear_mean(name, notes[1::2])


def note_from_take(
    take: Recording, a4_hz: float, progress: ProgressCallback | None = None
) -> Heard:
    """The one note of a take, played once or more. Raises BadData when there are others."""
    return hear_mean(*hear_recording(take, a4_hz, progress))
