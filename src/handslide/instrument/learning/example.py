"""What a teacher chose: examples of parts that he went through, and answers to questions.

An example holds all that is needed to work it out again: the notes in time, the horn as it was
described, the student's limits. A profile is a function of examples and answers alone.
"""

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from handslide.instrument.air import Air
from handslide.instrument.horn import Horn, HornDescription

Wish: TypeAlias = tuple[tuple[str, ...], int]
"""Valves and partial: with its pitch they name one place of a horn."""
How: TypeAlias = Literal["changed", "kept", "written"]
"""He put the note elsewhere; he read it and let it stand; he wrote it in a file."""


@dataclass(frozen=True, slots=True)
class ChosenNote:
    """A written note, in the order of its first playing.

    ``midi`` sounds and ``spelled`` names it; ``onset_s`` and ``length_s`` are of that playing;
    ``slur`` and ``gliss`` lead to the next note. ``measure`` is the measure's name, ``index`` the
    note's number in it (from 1), ``number`` that of the written note in its part. ``how`` is None
    for a note that wasn't looked at; ``places`` are those that the choice can mean, the likeliest
    first.
    """

    midi: int
    spelled: str
    onset_s: float
    length_s: float
    slur: bool
    gliss: bool
    measure: str
    index: int
    number: int
    how: How | None = None
    places: tuple[Wish, ...] = ()


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a part was played: the horn, what it is in tune for, and the student's limits.

    ``temp_c`` None is the horn's own; ``reach`` a position, ``learned`` the valves in use (None:
    no limit).
    """

    horn: HornDescription
    a4_hz: float = 440.0
    temp_c: float | None = None
    reach: float | None = None
    learned: tuple[str, ...] | None = None

    def tuned(self) -> Horn:
        """The horn in tune. Raises HornError, AirError for one that can't be."""
        temp_c = self.horn.temp_c if self.temp_c is None else self.temp_c
        return self.horn.tuned(self.a4_hz, Air(temp_c=temp_c))


@dataclass(frozen=True, slots=True)
class Example:
    """A part, or as much of it as was looked at, on one stand.

    ``key`` names the part where it is learnt from again or forgotten: a file's name, ``stand:12``.
    """

    key: str
    title: str
    stand: Stand
    notes: tuple[ChosenNote, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """Two ways to play the same notes: which would you write?

    ``first`` and ``second`` have a place for each note; they differ in at least one. ``begins``:
    the notes are the beginning of their part.
    """

    key: str
    title: str
    stand: Stand
    notes: tuple[ChosenNote, ...]
    begins: bool
    first: tuple[Wish, ...]
    second: tuple[Wish, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """A question and what was picked: 1, 2 or 0 for neither."""

    question: Question
    picked: Literal[0, 1, 2]


@dataclass(frozen=True, slots=True)
class At:
    """A note of an example, by their numbers; of an answer's question where it is ``answered``."""

    example: int
    note: int
    answered: bool = False


@dataclass(frozen=True, slots=True)
class Examples:
    """All that a profile is learnt from, in the order in which it came."""

    examples: tuple[Example, ...] = field(default=())
    answers: tuple[Answer, ...] = field(default=())

    def source(self, at: At) -> Example | Question:
        """Where a note stands. Raises IndexError."""
        if at.answered:
            return self.answers[at.example].question
        return self.examples[at.example]

    def note(self, at: At) -> ChosenNote:
        """A note. Raises IndexError."""
        return self.source(at).notes[at.note]
