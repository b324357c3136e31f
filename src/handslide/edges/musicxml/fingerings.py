"""The fingerings that stand in a part: our own marks, and what a teacher has written."""

from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart


def written_fingerings(score: Score, part: ScorePart) -> dict[int, str]:
    """The first fingering over each note that has one, by index into ``part.notes``."""
    found = {}
    elements = score.note_elements(part.part_id)
    for index, note in enumerate(part.notes):
        for fingering in elements[note.ordinal].iterfind("notations/technical/fingering"):
            text = (fingering.text or "").strip()
            if text:
                found[index] = text
                break
    return found
