"""Where a teacher chose two ways for the same notes: no weights explain both.

Two notes are alike where all is alike that effort can tell of them: the note itself, two notes
before and two after it, with their times, slurs and glissandi, and where these neighbours lie, as
far as he said.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TypeAlias

from handslide.ground.units import midi_to_hz
from handslide.instrument.horn import Horn
from handslide.instrument.learning.example import At, ChosenNote, Example, Examples, Stand, Wish
from handslide.instrument.places import Place, find_place

# A turn and a note that comes again reach over three notes.
REACH = 2
# Times are compared in microseconds: sums of lengths differ in their last digits.
_DIGITS = 6
_Alike: TypeAlias = tuple[object, ...]
_Places: TypeAlias = frozenset[Wish]


@dataclass(frozen=True, slots=True)
class Clash:
    """Two notes that are alike and lie in different places: ``places`` of ``one`` and ``other``.

    ``times`` says how often each place was chosen for such notes; the first one was more often, or
    came first.
    """

    one: At
    other: At
    places: tuple[Place, Place]
    times: tuple[int, int]


def clashes(examples: Examples) -> tuple[Clash, ...]:
    """The contradictions among all examples, one of a kind, in the order in which they come.

    Raises HornError, AirError for a horn that can't be.
    """
    found: dict[_Alike, dict[_Places, list[At]]] = {}
    for number, example in enumerate(examples.examples):
        kind, horn = _horn(example.stand), example.stand.tuned()
        for note, chosen in enumerate(example.notes):
            places = frozenset(_places(horn, chosen)) if chosen.how is not None else None
            if places:
                same = found.setdefault((kind, *_around(example, note)), {})
                same.setdefault(places, []).append(At(number, note))
    told = (_clash(examples, places) for places in found.values())
    return tuple(clash for clash in told if clash is not None)


def _places(horn: Horn, chosen: ChosenNote) -> dict[Wish, Place]:
    """What a choice can mean on a horn, the likeliest first."""
    hz = midi_to_hz(chosen.midi, horn.a4_hz)
    found = {wish: find_place(horn, hz, wish[1], wish[0]) for wish in chosen.places}
    return {wish: place for wish, place in found.items() if place is not None}


def _clash(examples: Examples, chosen: Mapping[_Places, Sequence[At]]) -> Clash | None:
    """What was chosen most often, and of what it can't mean what was chosen next most often."""
    order = sorted(chosen, key=lambda places: -len(chosen[places]))
    for places, others in combinations(order, 2):
        if places.isdisjoint(others):
            one, other = chosen[places], chosen[others]
            two = _place_at(examples, one[0]), _place_at(examples, other[0])
            return Clash(one[0], other[0], two, (len(one), len(other)))
    return None


def _place_at(examples: Examples, at: At) -> Place:
    horn = examples.source(at).stand.tuned()
    return next(iter(_places(horn, examples.note(at)).values()))


def _horn(stand: Stand) -> _Alike:
    """What horns and limits are alike: the same tubes, all that the student uses."""
    horn = stand.horn
    return horn.closed, horn.travel_m, horn.valves, horn.deviations, stand.reach, stand.learned


def _around(example: Example, note: int) -> _Alike:
    notes = example.notes
    first, last = max(0, note - REACH), min(len(notes) - 1, note + REACH)
    start = notes[note].onset_s
    # What leads to a note that isn't there any more doesn't matter; what isn't there does.
    rows = (_heard(notes[k], start, k == note, k == last) for k in range(first, last + 1))
    return note - first, last - note, *rows


def _heard(note: ChosenNote, start_s: float, is_it: bool, is_last: bool) -> _Alike:
    places = None if is_it or note.how is None else frozenset(note.places)
    joins = None if is_last else (note.slur, note.gliss)
    times = round(note.onset_s - start_s, _DIGITS), round(note.length_s, _DIGITS)
    return note.midi, *times, joins, places
