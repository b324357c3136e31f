"""A few measures of a marked part as one line of music: what a part is known by at a glance."""

from dataclasses import dataclass

from handslide.edges.engraving.engrave import engrave_column
from handslide.edges.engraving.screen import for_screen, joined, screen_paper
from handslide.edges.musicxml.cut import cut_measures
from handslide.jobs.mark.mark import MarkedPart


@dataclass(frozen=True, slots=True)
class Room:
    """How much stands on the line: so wide, at most so many measures and about so many notes."""

    width_mm: float
    measures: int
    notes: int


@dataclass(frozen=True, slots=True)
class Opening:
    """The line as an SVG element for HTML, and the written notes that it marks, in their order."""

    svg: str
    notes: tuple[int, ...]


def opening_of(marked: MarkedPart, room: Room, first: int = 0) -> Opening:
    """The line that begins with measure ``first`` (from 0), its marks as they are printed.

    Raises ScoreError where it can't be engraved.
    """
    part = marked.part
    last = _last(marked, room, first)
    cut = cut_measures(marked.score, part.part_id, first, last, marked.title)
    ordinals = part.ordinals
    inside = {
        number: ordinals[number] - cut.first_note
        for number in sorted(marked.printed)
        if 0 <= ordinals[number] - cut.first_note < cut.notes
    }
    hidden = {
        (ordinal - cut.first_note, text)
        for ordinal, text in marked.hidden
        if 0 <= ordinal - cut.first_note < cut.notes
    }
    marks = {ordinal: marked.printed[number] for number, ordinal in inside.items()}
    pieces = engrave_column(
        cut, cut.part_id, marks, screen_paper(room.width_mm), staff=part.staff, hidden=hidden
    )
    svg = joined([for_screen(piece.svg) for piece in pieces])
    return Opening(svg, tuple(inside))


def _last(marked: MarkedPart, room: Room, first: int) -> int:
    """The last measure that there is room for; at least the first."""
    counts: dict[int, int] = {}
    for note in marked.part.notes:
        counts[note.measure_index] = counts.get(note.measure_index, 0) + 1
    end = max((*counts, first))
    last, notes = first, counts.get(first, 0)
    while last < end and last - first + 1 < room.measures:
        notes += counts.get(last + 1, 0)
        if notes > room.notes:
            break
        last += 1
    return last
