"""Which would you write? Questions from the teacher's own parts, one after the other.

A page asks for the next question while the teacher looks at the one before, so that it is there at
once. It is asked for what is not known yet after all answers that were given by then.
"""

import secrets
import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from handslide.edges.store.learnt import Picked
from handslide.ground.errors import BadUsage, HandslideError, NotFound
from handslide.instrument.learning.example import Question

MOST_GAMES = 8
_PICKED: tuple[Picked, ...] = (0, 1, 2)


@dataclass(frozen=True, eq=False)
class Card:
    """A question, and what a page shows of it."""

    question: Question
    shown: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Score:
    """What came of a game: how many questions were answered, and how many of them by neither."""

    answers: int
    neither: int


class Game:
    """One round of questions.

    ``deal`` gives the next question about a stand, after those that were asked, None where nothing
    is left to ask; what it raises leaves the stand out. ``keep`` keeps an answer, ``take_back``
    forgets the last one.
    """

    def __init__(
        self,
        stands: Sequence[int],
        deal: Callable[[int, Sequence[Question]], Card | None],
        keep: Callable[[Question, Picked], None],
        take_back: Callable[[], None],
    ) -> None:
        self._stands = deque(stands)
        self._dry: deque[int] = deque()
        self._deal, self._keep, self._take_back = deal, keep, take_back
        self._cards: list[Card] = []
        self._answers: dict[int, int] = {}
        self._guard = threading.Lock()

    def card(self, number: int) -> Card | None:
        """Question ``number``, from 0; None where nothing is left to ask, for now."""
        with self._guard:
            if number > len(self._cards):
                raise NotFound("game.no_question")
            if number == len(self._cards):
                new = self._new()
                if new is None:
                    return None
                self._cards.append(new)
            return self._cards[number]

    def _new(self) -> Card | None:
        """The next question, from each stand in turn; those that had none left come last."""
        asked = [card.question for card in self._cards]
        before = len(self._dry)
        for stands, count in ((self._stands, len(self._stands)), (self._dry, before)):
            for _ in range(count):
                stand = stands.popleft()
                try:
                    card = self._deal(stand, asked)
                except HandslideError:
                    continue  # a part that can't be opened any more has no questions
                if card is not None:
                    self._stands.append(stand)
                    return card
                self._dry.append(stand)
        return None

    def answer(self, number: int, picked: int) -> None:
        """Keep an answer: 1, 2, or 0 for neither; a second one to the same question is none.

        Raises NotFound, BadUsage.
        """
        with self._guard:
            if not 0 <= number < len(self._cards):
                raise NotFound("game.no_question")
            chosen = next((one for one in _PICKED if one == picked), None)
            if chosen is None:
                raise BadUsage("web.choice")
            if number not in self._answers:
                self._keep(self._cards[number].question, chosen)
                self._answers[number] = chosen

    def undo(self) -> int | None:
        """Take back the last answer; the number of its question, None where there is none."""
        with self._guard:
            if not self._answers:
                return None
            self._take_back()
            return self._answers.popitem()[0]

    @property
    def score(self) -> Score:
        """What came of it up to now."""
        with self._guard:
            picked = list(self._answers.values())
        return Score(len(picked), picked.count(0))


@dataclass(eq=False)
class Games:
    """The games that are being played, the latest last."""

    games: OrderedDict[str, Game] = field(default_factory=OrderedDict)
    guard: threading.Lock = field(default_factory=threading.Lock)

    def add(self, game: Game) -> str:
        """The key of a new game."""
        key = secrets.token_urlsafe(12)
        with self.guard:
            self.games[key] = game
            while len(self.games) > MOST_GAMES:
                self.games.popitem(last=False)
        return key

    def find(self, key: str) -> Game:
        """The game of a key. Raises NotFound."""
        with self.guard:
            found = self.games.get(key)
        if found is None:
            raise NotFound("game.over")
        return found

    def forget_student(self, student_id: int) -> None:
        """End all games: any may ask about the student's parts."""
        with self.guard:
            self.games.clear()
