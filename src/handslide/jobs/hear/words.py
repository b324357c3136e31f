"""How to mend what weeks of takes show, for the report of a student's progress."""

from dataclasses import dataclass

_ON_THE_MOVE = ("out", "in", "move", "away")
HOW_FAULTS = "sing it, buzz it, then play it slowly with the note before it"


@dataclass(frozen=True, slots=True)
class Practice:
    """A note or interval to practise: ``what``, ``why`` and ``how``."""

    what: str
    why: str
    how: str


def how_to_mend(kind: str, slide_mm: float | None) -> str:
    """How to practise what a group of notes shows; ``kind`` is that of a `Habit`, ``slide_mm`` how
    far the slide was too far out (positive), None where it isn't the slide."""
    way = "further in" if (slide_mm or 0.0) > 0 else "further out"
    if kind in _ON_THE_MOVE:
        size = f"{abs(slide_mm or 0.0):.0f} mm"
        return f"slowly, then in time; let the slide arrive {size} {way} before you tongue"
    if slide_mm is not None:
        return (
            f"hold it against a drone, move the slide {abs(slide_mm):.0f} mm {way} until the beats "
            "stop"
        )
    hows = {
        "scoop": "start with air only, then a soft tongue, right on the pitch",
        "fall": "long notes with a steady stream of air to the very end",
        "valve": "hold it against a drone with and without the valve",
        "partial": "hold it against a drone and find where it rests",
        "place": "hold it against a drone and find where it rests",
        "note": "hold it against a drone and find where it rests",
    }
    return hows.get(kind, "hold it against a drone")
