"""The notes of a fit as music: what is to be played in which order, what was heard of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student
from handslide.edges.typesetting.screen import screen_svg
from handslide.ground.pitch import from_midi
from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.fitting.rows import FitRow, LeftOut, PlannedNote
from handslide.sheets.notelist import HEARD, LEFT_OUT, ListedNote, note_rows
from handslide.studio.tuning.fitting import note_fact
from handslide.studio.tuning.onenote import staff_clef
from handslide.words.places import valve_name
from handslide.words.speech import Speech

_PX_PER_MM = 6.0


@dataclass(frozen=True, slots=True)
class ListedGroup:
    """Notes that are played with the slide in one place, staff by staff as ``<svg>``."""

    extension_m: float
    svgs: tuple[str, ...]


def listed_groups(
    student: Student,
    horn: StudentHorn,
    notes: Sequence[PlannedNote],
    say: Speech,
    so_far: tuple[Sequence[FitRow], Sequence[LeftOut]],
    first: int = 1,
) -> tuple[ListedGroup, ...]:
    """A list of notes as music, by where the slide is, numbered from ``first`` in their own order;
    ``so_far``: what was heard, and what of it was left out."""
    rows, left_out = so_far
    out = {_key(one.row) for one in left_out}
    heard = {_key(row) for row in rows} - out
    numbered = sorted(enumerate(notes, first), key=lambda pair: pair[1].extension_m)
    return tuple(
        _group(student, horn, list(of_place), say, heard, out)
        for _, of_place in groupby(numbered, lambda pair: pair[1].extension_m)
    )


def heard_groups(
    student: Student,
    horn: StudentHorn,
    rows: Sequence[FitRow],
    left_out: Sequence[LeftOut],
    say: Speech,
) -> tuple[ListedGroup, ...]:
    """What was heard so far as music; a note without a name by what it sounded like."""
    notes = [
        PlannedNote(
            row.extension_m,
            row.valves,
            row.partial,
            row.meant or from_midi(round(A4_MIDI + cents(row.frequency_hz / horn.a4_hz) / 100.0)),
        )
        for row in rows
    ]
    return listed_groups(student, horn, notes, say, (rows, left_out))


def _key(note: FitRow | PlannedNote) -> tuple[object, ...]:
    return round(1000.0 * note.extension_m, 2), note.valves, note.partial


def _group(
    student: Student,
    horn: StudentHorn,
    numbered: Sequence[tuple[int, PlannedNote]],
    say: Speech,
    heard: set[tuple[object, ...]],
    out: set[tuple[object, ...]],
) -> ListedGroup:
    listed = [
        ListedNote(number, note.meant, _over(note, say), _state(_key(note), heard, out))
        for number, note in numbered
    ]
    label = ", ".join(say.fact(note_fact(note)) for _, note in numbered)
    svgs = tuple(
        screen_svg(row.shapes, row.width_mm, row.height_mm, label=label, px_per_mm=_PX_PER_MM)
        for row in note_rows(staff_clef(student, horn), listed)
    )
    return ListedGroup(numbered[0][1].extension_m, svgs)


def _over(note: PlannedNote, say: Speech) -> str:
    names = " + ".join(valve_name(say, name) for name in note.valves)
    if note.meant is None:
        return f"{names} {note.partial}." if names else f"{note.partial}."
    return names


def _state(
    key: tuple[object, ...], heard: set[tuple[object, ...]], out: set[tuple[object, ...]]
) -> str:
    if key in out:
        return LEFT_OUT
    return HEARD if key in heard else ""
