"""A drill or lesson sheet as one file for the student: each exercise plays."""

from handslide.jobs.handout.exercises import drill_handout
from handslide.jobs.handout.lesson import lesson_handout
from handslide.jobs.mark.excerpts import Excerpt
from handslide.jobs.practice.drill import DrillSheet
from handslide.jobs.practice.lesson import Lesson
from handslide.jobs.practice.music import MarkedPiece
from handslide.studio.giving.give import (
    Gift,
    GiveWishes,
    about_bytes,
    give_name,
    given,
    names_student,
)
from handslide.studio.parts.files import StandFile
from handslide.studio.practice.sheets import Player
from handslide.studio.studio import Studio
from handslide.words.horns import horn_line, limits_line
from handslide.words.speech import Speech

# Of each block on a page, besides its notes; measured as those are.
_EXERCISE_BYTES = 15_000


def sheet_to_give(
    studio: Studio, player: Player, sheet: DrillSheet | Lesson, wishes: GiveWishes, reader: Speech
) -> Gift:
    """What is told of a sheet's file before it is made."""
    setup = sheet.setup
    lines = horn_line(reader, setup.horn), limits_line(reader, setup.horn, setup.book.limits)
    return Gift(
        tuple(filter(None, lines)),
        about_bytes(_notes(sheet), _EXERCISE_BYTES * len(exercises_of(sheet))),
        _name(studio, player, sheet, wishes),
        () if wishes.named else names_student(player.student, sheet_title(sheet, reader), lines[0]),
    )


def give_sheet(
    studio: Studio, player: Player, sheet: DrillSheet | Lesson, wishes: GiveWishes, say: Speech
) -> StandFile:
    """The file of a sheet, in which the student's name is that of its wishes.

    Raises ScoreError, BadUsage.
    """
    asked = wishes.handout()
    if isinstance(sheet, Lesson):
        made = lesson_handout(sheet, asked, say)
    else:
        made = drill_handout(sheet, asked, say)
    return given(made.data, _name(studio, player, sheet, wishes))


def sheet_title(sheet: DrillSheet | Lesson, say: Speech) -> str:
    """What a sheet is about: its kind, or its part."""
    return sheet.marked.title if isinstance(sheet, Lesson) else sheet.title(say)


def exercises_of(sheet: DrillSheet | Lesson) -> tuple[MarkedPiece | Excerpt, ...]:
    """The exercises in it, without a lesson's part."""
    if isinstance(sheet, DrillSheet):
        return sheet.pieces
    ladders = [step for steps in sheet.ladders.values() for step in steps]
    return (*sheet.warmup, *sheet.week, *sheet.excerpts, *sheet.beyond, *ladders)


def _notes(sheet: DrillSheet | Lesson) -> int:
    part = sheet.marked.part.notes if isinstance(sheet, Lesson) else ()
    count = len(part)
    for one in exercises_of(sheet):
        if isinstance(one, Excerpt):
            first, last = one.spot.first, one.spot.last
            count += sum(first <= note.measure_index <= last for note in part)
        else:
            count += len(one.marked.part.notes)
    return count


def _name(studio: Studio, player: Player, sheet: DrillSheet | Lesson, wishes: GiveWishes) -> str:
    if isinstance(sheet, Lesson):
        stem = f"lesson {sheet.marked.title}"
    else:
        stem = f"{sheet.kind} {sheet.seed}"
    return give_name(studio, stem, player.student, wishes)
