"""Examples and answers laid out on their horns, ready to be weighed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from handslide.ground.pitch import parse_pitch
from handslide.instrument.effort import Floats, timing
from handslide.instrument.horn import Horn
from handslide.instrument.learning.example import Answer, ChosenNote, Example, Question, Stand, Wish
from handslide.instrument.learning.features import route_features
from handslide.instrument.learning.weights import kind_of
from handslide.instrument.line import Line, make_line
from handslide.instrument.obstacles import clear
from handslide.instrument.places import Limits, Place, PlaceBook
from handslide.instrument.profile import Profile
from handslide.instrument.route import Choices, Solution, lay_out, solve

Bases = Callable[[Horn], Profile]
"""The profile that a teacher's began from, on a horn."""


@dataclass(frozen=True, eq=False)
class Passage:
    """A line of N playable notes of one example, with the profile ``base`` that it began from.

    ``his`` (N, K) are the places that he may mean, all that are usable for a note that he didn't
    look at; ``seen`` (N,) are the notes that he did. ``notes`` (N,) are their numbers in the
    example ``example``.
    """

    example: int
    kind: str
    base: Profile
    book: PlaceBook
    choices: Choices
    his: NDArray[np.bool_]
    seen: NDArray[np.bool_]
    notes: NDArray[np.intp]

    @cached_property
    def first(self) -> Solution:
        """The exact best route by the profile that it began from."""
        return solve(self.choices, self.base)


def book_of(stand: Stand, bases: Bases) -> tuple[PlaceBook, Profile]:
    """The places of a stand's horn within the student's limits, and the profile it began from.

    Raises HornError, AirError for a horn that can't be.
    """
    horn = stand.tuned()
    base = bases(horn)
    learned = None if stand.learned is None else frozenset(stand.learned)
    tops = int(base.top_partial), int(base.top_partial_valve)
    return PlaceBook(horn, Limits(stand.reach, learned, *tops)), base


def lay_out_example(number: int, example: Example, bases: Bases) -> Passage | None:
    """An example on its horn; None where no note of it can be played."""
    book, base = book_of(example.stand, bases)
    found = _lay_out(example.notes, book, base)
    if found is None:
        return None
    choices, keep = found
    his, seen = choices.usable.copy(), np.zeros(len(keep), bool)
    for row, note in enumerate(keep.tolist()):
        chosen = example.notes[note]
        wanted = [place_of(choices.places[row], wish) for wish in chosen.places]
        wanted = [place for place in wanted if place >= 0]
        if chosen.how is None or not wanted:
            continue
        seen[row] = True
        his[row] = False
        his[row, wanted] = True
    return Passage(number, kind_of(book.horn), base, book, choices, his, seen, keep)


def place_of(places: tuple[Place, ...], wish: Wish) -> int:
    """The number of the place that a wish names; -1 where there is none."""
    names = [(place.valves, place.partial) for place in places]
    return names.index(wish) if wish in names else -1


def line_of(notes: Sequence[ChosenNote]) -> Line:
    """The notes of an example or a question as a line."""
    return make_line(
        [note.midi for note in notes],
        [note.onset_s for note in notes],
        [note.length_s for note in notes],
        [note.slur for note in notes],
        [note.gliss for note in notes],
    )


def _lay_out(
    notes: tuple[ChosenNote, ...], book: PlaceBook, base: Profile
) -> tuple[Choices, NDArray[np.intp]] | None:
    if not notes:
        return None
    line = line_of(notes)
    cleared = clear(line, book, [parse_pitch(note.spelled) for note in notes])
    if not len(cleared.keep):
        return None
    return lay_out(cleared.line, book, base), cleared.keep


@dataclass(frozen=True, slots=True, eq=False)
class Pick:
    """Of two ways to play the same notes, by how much more of each weight's feature (F,) the one
    that he left has; ``base`` is the profile it began from, ``answer`` the answer's number."""

    answer: int
    kind: str
    base: Profile
    more: Floats


def lay_out_answer(number: int, answer: Answer, bases: Bases) -> Pick | None:
    """An answer as a :class:`Pick`; None for neither, or where a place isn't on the horn now."""
    if not answer.picked:
        return None
    question = answer.question
    book, base = book_of(question.stand, bases)
    ways = question_routes(question, book, base)
    if ways is None:
        return None
    more = ways[1] - ways[0] if answer.picked == 1 else ways[0] - ways[1]
    return Pick(number, kind_of(book.horn), base, more)


def question_routes(
    question: Question, book: PlaceBook, base: Profile
) -> tuple[Floats, Floats] | None:
    """The features (F,) of a question's two ways; None where a place isn't on the horn."""
    found = _lay_out(question.notes, book, base)
    if found is None or len(found[1]) < len(question.notes):
        return None
    choices, keep = found
    features = []
    for way in (question.first, question.second):
        route = np.array([place_of(row, wish) for row, wish in zip(choices.places, way)])
        if (route < 0).any():
            return None
        at = choices.at.take((keep, route))
        when = timing(base, choices.line)
        features.append(route_features(base, choices.line, at, when, begins=question.begins))
    return features[0], features[1]
