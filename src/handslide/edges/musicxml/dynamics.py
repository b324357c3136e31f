"""The dynamics that stand in a part: how loud each of its notes is meant to be."""

from typing import Any

from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart

LEVELS = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
"""The signs that a stretch of music is played at, softest first. Accents (sf, fp) aren't among
them."""


def written_dynamics(score: Score, part: ScorePart) -> dict[int, str]:
    """The dynamic in force at each note that has one, by index into ``part.notes``.

    Under a wedge and after it, until the next sign, no level is in force: it is on its way.
    """
    in_force: str | None = None
    found: dict[int, str] = {}
    ordinals = {note.ordinal: note.index for note in part.notes}
    ordinal = 0
    for root in score.part_roots(part.part_id):
        for element in root.iter("note", "direction"):
            if element.tag == "note":
                here = _sign(element.find("notations/dynamics"))
                in_force = here or in_force
                if ordinal in ordinals and in_force:
                    found[ordinals[ordinal]] = in_force
                ordinal += 1
            elif _for_voice(element, part):
                for kind in element.iterfind("direction-type"):
                    if kind.find("wedge") is not None and kind.find("wedge").get("type") != "stop":
                        in_force = None
                    in_force = _sign(kind.find("dynamics")) or in_force
    return found


def _for_voice(direction: Any, part: ScorePart) -> bool:
    """Whether a direction is for the part's voice and staff, as far as it says."""
    staff = direction.findtext("staff")
    voice = direction.findtext("voice")
    return (staff is None or part.staff is None or staff == part.staff) and (
        voice is None or voice == part.voice
    )


def _sign(dynamics: Any) -> str | None:
    """The level of a ``<dynamics>``, None for another sign or none."""
    if dynamics is None:
        return None
    return next((child.tag for child in dynamics if child.tag in LEVELS), None)
