"""What a drawing of the slide needs: where the positions lie, for scripts and pages."""

from collections.abc import Mapping
from typing import Any

from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi
from handslide.instrument.horn import Horn
from handslide.jobs.setup import Setup
from handslide.sheets.slide import SlideMeasures, measures_for, slide_svg

# MIDI notes that can be aimed at, the last one not included.
_NOTES = (22, 85)


def slide_view(setup: Setup) -> dict[str, Any]:
    """JSON of a slide, lengths in mm from the closed stop.

    ``positions`` are those of the open horn, ``positions_with`` for each valve set ("F", "F+Gb")
    the semitones below its own closed slide; ``reach_mm`` is None where all that the slide has can
    be reached. ``drawing`` and ``upright`` are `slide_svg` of it.
    """
    slide = measures_of(setup)
    rulers = [
        [{"n": number, "mm": mm} for number, mm in enumerate(ruler.marks_mm, 1)]
        for ruler in slide.rulers
    ]
    return {
        "travel_mm": slide.travel_mm,
        "positions": rulers[0],
        "positions_with": {
            "+".join(ruler.valves): rows for ruler, rows in zip(slide.rulers[1:], rulers[1:])
        },
        "valves": list(slide.valves),
        "reach_mm": slide.reach_mm,
        "drawing": slide_svg(slide),
        "upright": slide_svg(slide, upright=True),
    }


def without_drawings(view: Mapping[str, Any]) -> dict[str, Any]:
    """A `slide_view` for a script whose page has the drawings in it already."""
    return {key: view[key] for key in view if key not in ("drawing", "upright")}


def measures_of(setup: Setup) -> SlideMeasures:
    """What the slide of a horn is drawn from, for this player's reach."""
    return measures_for(setup.horn, setup.book.limits.reach)


def slide_drawing(horn: Horn) -> str:
    """`slide_svg` of a horn, whoever plays it."""
    return slide_svg(measures_for(horn, None))


def rig_view(setup: Setup, names: str = "english") -> dict[str, Any]:
    """JSON for playing into the microphone: the slide, A4, and the ``notes`` that this student has
    on this horn, named in the language of ``names``.
    """
    notes = [midi for midi in range(*_NOTES) if setup.book.places(midi)]
    return {
        "horn": slide_view(setup),
        "a4_hz": setup.horn.a4_hz,
        "notes": [{"midi": midi, "name": full_name(from_midi(midi), names)} for midi in notes],
    }
