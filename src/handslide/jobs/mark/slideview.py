"""What a drawing of the slide needs: where the positions lie, for scripts and pages."""

from collections.abc import Mapping
from typing import Any

from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi
from handslide.instrument.horn import Horn
from handslide.jobs.setup import Setup
from handslide.sheets.slide import Ruler, SlideMeasures, slide_svg

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
    return _measures(setup.horn, setup.book.limits.reach)


def slide_drawing(horn: Horn) -> str:
    """`slide_svg` of a horn, whoever plays it."""
    return slide_svg(_measures(horn, None))


def _measures(horn: Horn, reach: float | None) -> SlideMeasures:
    travel_mm = 1000.0 * horn.travel_m
    reach_mm = None if reach is None else 1000.0 * horn.extension_m(reach)
    return SlideMeasures(
        round(travel_mm, 2),
        tuple(Ruler(valves, _positions_mm(horn, valves)) for valves in horn.valve_sets),
        tuple(valve.name for valve in horn.valves),
        None if reach_mm is None else round(min(reach_mm, travel_mm), 2),
    )


def _positions_mm(horn: Horn, valves: tuple[str, ...]) -> tuple[float, ...]:
    tube_m = horn.length_m + horn.loops_m(valves)
    found: list[float] = []
    while True:
        extension_m = tube_m * (2.0 ** (len(found) / 12.0) - 1.0) / 2.0
        if extension_m > horn.travel_m:
            return tuple(found)
        found.append(round(1000.0 * extension_m, 2))


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
