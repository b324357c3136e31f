"""What was noticed in a teacher's choices, in words, with where in the music it shows."""

from collections.abc import Mapping
from dataclasses import dataclass

from handslide.ground.errors import HandslideError
from handslide.instrument.learning.example import At, Examples
from handslide.instrument.markstyle import MarkStyle, parse_style
from handslide.studio.learning.apart import Noticed
from handslide.studio.learning.background import what_is_noticed
from handslide.studio.learning.examples import stand_of_key
from handslide.studio.parts.stand import get_stand
from handslide.studio.people.students import get_student
from handslide.studio.studio import Studio
from handslide.words.profile import (
    change_words,
    clash_words,
    left_words,
    shown_words,
    where_words,
)
from handslide.words.speech import Speech

MOST_LEFT = 20
"""Places that are listed of those that can't be explained."""


@dataclass(frozen=True, slots=True)
class SpotWords:
    """What is said of a written note of a stand."""

    words: str
    stand_id: int
    note: int


@dataclass(frozen=True, slots=True)
class ChangeWords:
    """Something that seems to matter more or less than before, and where it shows."""

    words: str
    shows: tuple[SpotWords, ...]


@dataclass(frozen=True, slots=True)
class ClashWords:
    """A contradiction, and its two notes by name."""

    words: str
    spots: tuple[SpotWords, SpotWords]


@dataclass(frozen=True, slots=True)
class NoticedWords:
    """All that is said of what is in force; ``left`` are the first of ``left_count``."""

    changes: tuple[ChangeWords, ...]
    left: tuple[SpotWords, ...]
    left_count: int
    clashes: tuple[ClashWords, ...]


def noticed_words(studio: Studio, say: Speech) -> NoticedWords | None:
    """What is said of what is in force; None where nothing is.

    It may take some seconds. Raises BadData where it takes too long.
    """
    found = what_is_noticed(studio)
    return None if found is None else _Teller(say, found, _styles(studio, found.examples)).told()


def _styles(studio: Studio, examples: Examples) -> dict[str, MarkStyle]:
    """How the marks of each part are written."""
    styles = {}
    keys = {one.key for one in examples.examples}
    for key in keys | {one.question.key for one in examples.answers}:
        stand_id, style = stand_of_key(key), ""
        try:
            if stand_id is not None:
                style = get_student(studio, get_stand(studio, stand_id).student_id).marks
        except HandslideError:
            pass  # it was taken off meanwhile
        styles[key] = parse_style(style)
    return styles


@dataclass(frozen=True)
class _Teller:
    say: Speech
    noticed: Noticed
    styles: Mapping[str, MarkStyle]

    def told(self) -> NoticedWords:
        examples, left = self.noticed.examples, self.noticed.learnt.left
        return NoticedWords(
            tuple(
                ChangeWords(
                    change_words(self.say, change, examples),
                    tuple(
                        self._spot(
                            one.at, shown_words(self.say, one, examples, self._style(one.at))
                        )
                        for one in change.shows
                    ),
                )
                for change in self.noticed.changes
            ),
            tuple(
                self._spot(at, left_words(self.say, one, examples, self._style(at)))
                for one in left[:MOST_LEFT]
                for at in (At(one.example, one.note),)
            ),
            len(left),
            tuple(
                ClashWords(
                    clash_words(self.say, clash, examples, self._style(clash.one)),
                    (self._named(clash.one), self._named(clash.other)),
                )
                for clash in self.noticed.clashes
            ),
        )

    def _style(self, at: At) -> MarkStyle:
        return self.styles[self.noticed.examples.source(at).key]

    def _named(self, at: At) -> SpotWords:
        return self._spot(at, where_words(self.say, at, self.noticed.examples))

    def _spot(self, at: At, words: str) -> SpotWords:
        examples = self.noticed.examples
        stand_id = stand_of_key(examples.source(at).key)
        assert stand_id is not None
        return SpotWords(words, stand_id, examples.note(at).number)
