"""The fingerings that stand in a part: our own marks, and what a teacher has written."""

from handslide.edges.musicxml.scorepart import ScorePart


def written_fingerings(part: ScorePart) -> dict[int, str]:
    """The first fingering over each note that has one, by index into ``part.notes``."""
    found = {}
    for index, element in enumerate(part.elements):
        for fingering in element.iterfind("notations/technical/fingering"):
            text = (fingering.text or "").strip()
            if text:
                found[index] = text
                break
    return found
