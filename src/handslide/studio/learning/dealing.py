"""What the game asks about: the parts on stands, and what isn't known yet of how to play them."""

from collections.abc import Sequence

from handslide.edges.store.learnt import Picked
from handslide.instrument.learning.asking import question
from handslide.instrument.learning.example import Answer, Example, Examples, Question
from handslide.instrument.learning.learn import Learnt
from handslide.studio.choosing.versions import factors_of, in_force
from handslide.studio.learning.answers import keep_answer, take_back_answer
from handslide.studio.learning.apart import base_of
from handslide.studio.learning.cards import card_of
from handslide.studio.learning.examples import stand_example, studio_examples
from handslide.studio.learning.game import Card, Game, Games
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.namesakes import Names
from handslide.studio.people.students import list_students
from handslide.studio.studio import Studio
from handslide.words.speech import Speech


def stands_to_ask(studio: Studio) -> tuple[int, ...]:
    """The stands that the game asks about, the last opened first; none of invented students."""
    invented = {student.id for student in list_students(studio) if student.example}
    return tuple(row.id for row in list_stands(studio) if row.student_id not in invented)


def begin_game(studio: Studio, reader: Speech, width: str) -> str:
    """Begin a game for a reader whose screen takes one of `WIDTHS_MM`; its key.

    Raises BadUsage without the teacher's yes.
    """
    dealer = _Dealer(studio, reader, width)
    game = Game(stands_to_ask(studio), dealer.deal, dealer.keep, dealer.take_back)
    return studio.caches.one(Games).add(game)


def find_game(studio: Studio, key: str) -> Game:
    """A game that is being played. Raises NotFound."""
    return studio.caches.one(Games).find(key)


class _Dealer:
    """Deals the questions of one game. What was chosen on stands is read once, at its beginning."""

    def __init__(self, studio: Studio, reader: Speech, width: str) -> None:
        self._studio, self._reader, self._width = studio, reader, width
        self._chosen = studio_examples(studio)
        self._parts: dict[int, Example] = {}
        self._given: list[Answer] = []

    def deal(self, stand_id: int, before: Sequence[Question]) -> Card | None:
        """The question about a stand whose answer would tell most, by all that is known now."""
        if stand_id not in self._parts:
            self._parts[stand_id] = stand_example(self._studio, stand_id)
        known = Examples(self._chosen.examples, (*self._chosen.answers, *self._given))
        learnt = Learnt(factors_of(in_force(self._studio)), (), ())
        asked = question(known, learnt, self._parts[stand_id], base_of, before)
        if asked is None:
            return None
        part = open_part(self._studio, stand_id)
        name = Names(self._studio).student(part.student.id).words(self._reader)
        return card_of(self._reader, part, asked, self._width, name)

    def keep(self, asked: Question, picked: Picked) -> None:
        """Keep an answer. Raises as `keep_answer`."""
        keep_answer(self._studio, asked, picked)
        self._given.append(Answer(asked, picked))

    def take_back(self) -> None:
        """Forget the last answer."""
        take_back_answer(self._studio)
        self._given.pop()
