"""Where a student's slide was in the last take of a part, note by note of the part as written."""

from dataclasses import dataclass

from handslide.edges.store.takes import find_last_take
from handslide.jobs.hear.report import report_from
from handslide.studio.parts.openpart import OpenPart
from handslide.studio.studio import Studio
from handslide.studio.takes.takes import get_take

# So near, a place of the take is the one that the note has now.
_SAME_MM = 1.0


@dataclass(frozen=True, slots=True)
class LastNote:
    """Written note ``i``: the slide was at ``mm``, ``off_mm`` of it too far out."""

    i: int
    mm: float
    off_mm: float


@dataclass(frozen=True, slots=True)
class LastTake:
    """The notes of a take whose place is still the same; what wasn't sure is left out."""

    take_id: int
    notes: tuple[LastNote, ...]


def last_take_of(studio: Studio, part: OpenPart) -> LastTake | None:
    """The last take of the part on a stand; None without one, or of other notes than these.

    Raises BadData for a report that can't be read.
    """
    stand, read = part.stand, part.marked.part
    with studio.store.read() as db:
        take_id = find_last_take(db, stand.student_id, stand.score_id, read.part_id, stand.horn_id)
    if take_id is None:
        return None
    notes = report_from(get_take(studio, take_id).report).notes
    played = [read.notes[number].sounding.midi for number in read.played]
    if [note.pitch.midi for note in notes] != played:
        return None
    found: dict[int, LastNote] = {}
    for number, note in zip(read.played, notes):
        place = part.routed.places.get(number)
        if (
            place is None
            or note.place_mm is None
            or note.slide_mm is None
            or note.played != "right"
        ):
            continue
        if abs(1000.0 * place.extension_m - note.place_mm) <= _SAME_MM:
            at_mm = note.place_mm + note.slide_mm
            found[number] = LastNote(number, round(at_mm, 1), round(note.slide_mm, 1))
    return LastTake(take_id, tuple(found.values()))
