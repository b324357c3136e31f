"""All places of single notes on a horn."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from handslide.ground.facts import Fact
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.instrument.effort import spots, standing_points
from handslide.instrument.obstacles import why_unplayable
from handslide.instrument.places import Limits, Place, PlaceBook, shortest
from handslide.jobs.mark.routed import place_json, setup_json
from handslide.jobs.setup import Setup
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class NotePlaces:
    """A note, its places (shortest slide first), and why there are none."""

    pitch: Pitch
    places: tuple[Place, ...]
    problem: Fact | None


def places_of(setup: Setup, names: Sequence[str]) -> tuple[NotePlaces, ...]:
    """The places of each named note, on all partials. Raises PitchError for a name."""
    limits = setup.book.limits
    # A table shows what the horn has: the student's limits hold, the profile doesn't.
    book = PlaceBook(setup.horn, Limits(reach=limits.reach, learned=limits.learned))
    found = []
    for name in names:
        pitch = parse_pitch(name)
        places = book.places(pitch.midi)
        if places:
            first = shortest(places)
            places = (first, *(place for place in places if place != first))
        found.append(NotePlaces(pitch, places, None if places else why_unplayable(book, pitch)))
    return tuple(found)


def places_json(say: Speech, setup: Setup, found: Sequence[NotePlaces]) -> dict[str, Any]:
    """JSON of ``handslide places``: every place of a note, the shortest in the note's own keys.

    ``worse_by`` compares long notes standing alone; the usual place has 0.
    """
    notes, warnings = [], []
    for row in found:
        points = _worse_by(setup, row.places)
        places = [place_json(setup, place) for place in row.places]
        notes.append(
            {
                "note": row.pitch.name,
                "midi": row.pitch.midi,
                "measure": None,
                **(places[0] if places else place_json(setup, None)),
                "alternatives": [
                    place | {"worse_by": worse} for place, worse in zip(places[1:], points[1:])
                ],
                "reason": None,
                "reason_kind": None,
            }
        )
        if row.problem is not None:
            warnings.append(
                {
                    "measure": None,
                    "note": row.pitch.name,
                    "kind": "unplayable",
                    "text": say.fact(row.problem),
                }
            )
    return {**setup_json(say, setup), "notes": notes, "warnings": warnings}


def _worse_by(setup: Setup, places: Sequence[Place]) -> list[float]:
    if not places:
        return []
    at = spots(tuple(valve.name for valve in setup.horn.valves), list(places))
    points = standing_points(setup.profile, at)
    return [round(float(worse), 4) for worse in points - points.min()]
