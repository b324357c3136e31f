"""One part on two stands: which notes lie elsewhere, and what each route asks of the player."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from handslide.ground.errors import BadUsage
from handslide.ground.notenames import full_name
from handslide.instrument.marks import UNPLAYABLE
from handslide.instrument.places import Place
from handslide.jobs.mark.routed import Routed
from handslide.studio.parts.openpart import OpenPart
from handslide.words.speech import Speech

# Two places of two horns within this are one place to read about.
_SAME_POSITION = 0.1


@dataclass(frozen=True, slots=True)
class Sums:
    """What a route asks for over the part as played.

    ``way_m`` is the way of the slide; ``quickest_m_s`` the highest peak speed, to written note
    ``quickest_at``; ``furthest`` a position. None where nothing is played or moved.
    """

    way_m: float
    quickest_m_s: float | None
    quickest_at: int | None
    valve_changes: int
    unplayable: int
    furthest: float | None
    furthest_at: int | None


@dataclass(frozen=True, slots=True)
class Difference:
    """A written note whose places differ; a place is None where it can't be played."""

    number: int
    measure: str
    name: str
    marks: tuple[str, str]
    words: tuple[str | None, str | None]


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two stands with the same notes."""

    first: OpenPart
    second: OpenPart
    sums: tuple[Sums, Sums]
    differences: tuple[Difference, ...]

    @property
    def count(self) -> int:
        """How many notes were compared."""
        return len(self.first.marked.part.notes)


def compare(say: Speech, first: OpenPart, second: OpenPart) -> Comparison:
    """Compare two stands. Raises BadUsage as `check_same`."""
    check_same(first, second)
    rows = []
    for note in first.marked.part.notes:
        places = tuple(part.routed.places.get(note.index) for part in (first, second))
        if _differ(*places):
            marks = tuple(part.routed.marks.get(note.index, UNPLAYABLE) for part in (first, second))
            words = tuple(
                None if place is None else say.place(part.routed.setup.told(place))
                for part, place in zip((first, second), places)
            )
            name = full_name(note.sounding, say.names)
            measure = first.marked.measures.name(note.measure_index)
            rows.append(Difference(note.index, measure, name, marks, words))  # type: ignore[arg-type]
    sums = sums_of(first.routed), sums_of(second.routed)
    return Comparison(first, second, sums, tuple(rows))


def check_same(first: OpenPart, second: OpenPart) -> None:
    """Raises BadUsage where two stands don't have the same part of one score, sounding alike."""
    one, two = first.marked.part, second.marked.part
    same = first.score.id == second.score.id and (one.part_id, one.voice) == (
        two.part_id,
        two.voice,
    )
    if not same:
        raise BadUsage(
            "parts.not_the_same",
            first=one.name,
            first_voice=one.voice,
            second=two.name,
            second_voice=two.voice,
        )
    if [note.sounding for note in one.notes] != [note.sounding for note in two.notes]:
        raise BadUsage("parts.sound_otherwise")


def _differ(one: Place | None, two: Place | None) -> bool:
    if one is None or two is None:
        return one is not two
    apart = abs(one.position - two.position) > _SAME_POSITION
    return apart or one.valves != two.valves


def sums_of(routed: Routed) -> Sums:
    """The sums of a route."""
    moves = routed.moves()
    quickest = max(moves, key=lambda move: move.speed_m_s, default=None)
    moved = quickest is not None and quickest.length_m > 0.0
    places = routed.places
    furthest = max(places, key=lambda number: places[number].position, default=None)
    return Sums(
        way_m=sum(move.length_m for move in moves),
        quickest_m_s=quickest.speed_m_s if quickest is not None and moved else None,
        quickest_at=quickest.second if quickest is not None and moved else None,
        valve_changes=_valve_changes(routed),
        unplayable=len(routed.pitches) - len(places),
        furthest=None if furthest is None else places[furthest].position,
        furthest_at=furthest,
    )


def _valve_changes(routed: Routed) -> int:
    """How often a valve goes down or up, notes in the order they are played."""
    solution = routed.solution
    if solution is None:
        return 0
    at = solution.choices.at.valves
    bits = at[np.arange(len(at)), solution.chosen].tolist()
    return sum((now ^ later).bit_count() for now, later in pairwise(bits))
