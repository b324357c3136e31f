"""How the notes of a part are to be articulated, as far as it shapes their ends."""

from typing import Any

from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart

_SIGNS = {
    "staccato": "staccato",
    "staccatissimo": "staccatissimo",
    "spiccato": "staccatissimo",
    "tenuto": "tenuto",
    "detached-legato": "portato",
    "accent": "accent",
    "strong-accent": "accent",
    "soft-accent": "accent",
}


def articulations(score: Score, part: ScorePart) -> tuple[frozenset[str], ...]:
    """For each written note its signs: staccato, staccatissimo, tenuto, portato, accent."""
    elements = score.note_elements(part.part_id)
    return tuple(_signs_of(elements[note.ordinal]) for note in part.notes)


def _signs_of(note: Any) -> frozenset[str]:
    return frozenset(
        _SIGNS[sign.tag]
        for signs in note.iterfind("notations/articulations")
        for sign in signs.iterchildren()
        if sign.tag in _SIGNS
    )
