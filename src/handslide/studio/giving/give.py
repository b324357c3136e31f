"""What can be chosen of every file to give away, in which words it speaks, how large it will be."""

from dataclasses import dataclass

from handslide.edges.store.students import Student
from handslide.ground.errors import BadUsage
from handslide.jobs.handout.handout import ENDING, LOOKS, HandoutWishes
from handslide.jobs.mark.mark import MarkOptions
from handslide.studio.parts.files import StandFile, plain_name
from handslide.studio.people.namesakes import Names
from handslide.studio.people.students import speech_for
from handslide.studio.studio import Studio
from handslide.words.catalogues import known
from handslide.words.speech import Speech, speech

MEDIA_TYPE = "text/html; charset=utf-8"
# Fitted to seven files of 33 to 606 notes (2026-11), all within 12 percent: scripts, fonts and
# licences; then of each note its numbers and four engravings.
_BASE_BYTES = 290_000
_NOTE_BYTES = 950
_STEP_BYTES = 100_000
_LEAST_LETTERS = 3
_UNMARKED = MarkOptions()


@dataclass(frozen=True, slots=True)
class Gift:
    """What is told of any file before it is made.

    ``lines`` say the horn and what of it the student uses; ``size_bytes`` is rough. ``slips`` are
    titles that have the student's name in them although no name is wished.
    """

    lines: tuple[str, ...]
    size_bytes: int
    name: str
    slips: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GiveWishes:
    """What is chosen of a file to give away.

    ``named``: the student's name stands on its page and in the name of the file. ``large`` and
    ``look``: as `HandoutWishes`. ``language``: a code, or None for the one that is printed for the
    student. ``measures``: as `HandoutWishes`, of a part. ``others``: the other parts sound along.
    ``show``: which notes have a mark, None for the student's choice.
    """

    named: bool = False
    large: bool = False
    look: str = LOOKS[0]
    language: str | None = None
    measures: str | None = None
    others: bool = True
    show: str | None = None

    def __post_init__(self) -> None:
        if self.look not in LOOKS or not (self.language is None or known(self.language)):
            raise BadUsage("web.choice")

    def handout(self, mark: MarkOptions = _UNMARKED) -> HandoutWishes:
        """The same for the job that makes it."""
        return HandoutWishes(
            mark, measures=self.measures, others=self.others, large=self.large, look=self.look
        )


def give_speech(student: Student | None, wishes: GiveWishes, reader: Speech) -> Speech:
    """How a file for a student speaks: notes are named as the student knows them."""
    if wishes.language is None:
        return reader if student is None else speech_for(student, reader)
    names = None if student is None else student.names or None
    return speech(wishes.language, names, reader.face)


def about_bytes(notes: int, more_bytes: int = 0) -> int:
    """Roughly how many bytes a file with so many written notes, and more, has, in steps."""
    return round((_BASE_BYTES + _NOTE_BYTES * notes + more_bytes) / _STEP_BYTES) * _STEP_BYTES


def give_name(studio: Studio, stem: str, student: Student | None, wishes: GiveWishes) -> str:
    """The name of the file: plain letters only, the student's name only if it is wished."""
    whose = Names(studio).student(student.id).plain if student and wishes.named else ""
    return plain_name(f"{stem} {whose}") + ENDING


def given(data: bytes, name: str) -> StandFile:
    """A file to take away, of the bytes of a hand-out."""
    return StandFile(data, name, MEDIA_TYPE)


def names_student(student: Student | None, *texts: str) -> tuple[str, ...]:
    """Which of the texts have a word of the student's name in them, though none is wished."""
    name = "" if student is None else student.name
    words = [word for word in name.casefold().split() if len(word) >= _LEAST_LETTERS]
    return tuple(text for text in texts if any(word in text.casefold() for word in words))
