"""What a drawing of the slide needs: where the positions lie, for scripts and pages."""

from typing import Any

from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi
from handslide.instrument.horn import Horn
from handslide.jobs.setup import Setup

# MIDI notes that can be aimed at, the last one not included.
_NOTES = (22, 85)


def slide_view(setup: Setup) -> dict[str, Any]:
    """JSON of a slide, lengths in mm from the closed stop.

    ``positions`` are those of the open horn, ``positions_with`` for each valve set ("F", "F+Gb")
    the semitones below its own closed slide; ``reach_mm`` is None where all that the slide has can
    be reached.
    """
    horn, reach = setup.horn, setup.book.limits.reach
    travel_mm = 1000.0 * horn.travel_m
    reach_mm = None if reach is None else 1000.0 * horn.extension_m(reach)
    return {
        "travel_mm": round(travel_mm, 2),
        "positions": _positions(horn, ()),
        "positions_with": {
            "+".join(valves): _positions(horn, valves) for valves in horn.valve_sets[1:]
        },
        "valves": [valve.name for valve in horn.valves],
        "reach_mm": None if reach_mm is None else round(min(reach_mm, travel_mm), 2),
    }


def _positions(horn: Horn, valves: tuple[str, ...]) -> list[dict[str, float]]:
    tube_m = horn.length_m + horn.loops_m(valves)
    rows: list[dict[str, float]] = []
    while True:
        extension_m = tube_m * (2.0 ** (len(rows) / 12.0) - 1.0) / 2.0
        if extension_m > horn.travel_m:
            return rows
        rows.append({"n": len(rows) + 1, "mm": round(1000.0 * extension_m, 2)})


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
