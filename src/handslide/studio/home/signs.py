"""The four signs of a played note: in place, further in, further out, not known, another note."""

from collections.abc import Iterable

from handslide.edges.store.takes import NoteRow, select_notes
from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.sheets.slide import IN_PLACE_MM
from handslide.studio.studio import Studio

SIGNS = ("hit", "in", "out", "gone", "other")


def sign_of(note: NoteRow) -> str:
    """One of SIGNS; ``in`` and ``out`` are the way that the slide has to go.

    A right note whose slide isn't known is in place where it was in tune.
    """
    if note.played in ("wrong", "octave"):
        return "other"
    if note.played in ("missing", "unsure"):
        return "gone"
    if note.slide_mm is not None:
        if abs(note.slide_mm) < IN_PLACE_MM:
            return "hit"
        return "in" if note.slide_mm > 0 else "out"
    if note.cents is None:
        return "gone"
    return "hit" if abs(note.cents) <= IN_TUNE_CENTS else "gone"


def signs_of(studio: Studio, take_ids: Iterable[int]) -> dict[int, tuple[str, ...]]:
    """The notes of each take as SIGNS, in playing order."""
    with studio.store.read() as db:
        return {one: tuple(map(sign_of, select_notes(db, one))) for one in take_ids}
