"""A drill, lesson or routine sheet as one file for the student: each exercise plays."""

from dataclasses import replace
from typing import TypeAlias

from handslide.jobs.handout.exercises import drill_handout, routine_handout
from handslide.jobs.handout.lesson import lesson_handout
from handslide.jobs.mark.excerpts import Excerpt
from handslide.jobs.practice.drill import DrillSheet
from handslide.jobs.practice.lesson import Lesson
from handslide.jobs.practice.music import MarkedPiece
from handslide.jobs.practice.routine import Routine
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

Sheet: TypeAlias = DrillSheet | Lesson | Routine

# Of each block on a page, besides its notes; measured as those are.
_EXERCISE_BYTES = 15_000


def sheet_to_give(
    studio: Studio, player: Player, sheet: Sheet, wishes: GiveWishes, reader: Speech
) -> Gift:
    """What is told of a sheet's file before it is made."""
    setup = sheet.setup
    lines = horn_line(reader, setup.horn), limits_line(reader, setup.horn, setup.book.limits)
    return Gift(
        tuple(filter(None, lines)),
        about_bytes(_notes(sheet), _EXERCISE_BYTES * count_of(sheet)),
        _name(studio, player, sheet, wishes),
        () if wishes.named else names_student(player.student, sheet_title(sheet, reader), lines[0]),
    )


def give_sheet(
    studio: Studio, player: Player, sheet: Sheet, wishes: GiveWishes, say: Speech
) -> StandFile:
    """The file of a sheet, in which the student's name is that of its wishes.

    Raises ScoreError, BadUsage.
    """
    asked = wishes.handout()
    if isinstance(sheet, Lesson):
        made = lesson_handout(sheet, asked, say)
    elif isinstance(sheet, Routine):
        student = player.student.name if wishes.named else ""
        own = replace(sheet, asked=replace(sheet.asked, student=student))
        made = routine_handout(own, asked, say)
    else:
        made = drill_handout(sheet, asked, say)
    return given(made.data, _name(studio, player, sheet, wishes))


def sheet_title(sheet: Sheet, say: Speech) -> str:
    """What a sheet is about: its kind, or its part."""
    return sheet.marked.title if isinstance(sheet, Lesson) else sheet.title(say)


def exercises_of(sheet: Sheet) -> tuple[MarkedPiece | Excerpt, ...]:
    """The exercises in it, without a lesson's part."""
    if not isinstance(sheet, Lesson):
        return sheet.pieces
    ladders = [step for steps in sheet.ladders.values() for step in steps]
    return (*sheet.warmup, *sheet.week, *sheet.excerpts, *sheet.beyond, *ladders)


def count_of(sheet: Sheet) -> int:
    """How many exercises are counted in it; breathing is one of a routine."""
    if isinstance(sheet, Routine):
        models = sum(row.model for block in sheet.parts for row in sheet.rows(block))
        return len(sheet.pieces) - models + sum(bool(block.breaths) for block in sheet.parts)
    return len(exercises_of(sheet))


def _notes(sheet: Sheet) -> int:
    part = sheet.marked.part.notes if isinstance(sheet, Lesson) else ()
    count = len(part)
    for one in exercises_of(sheet):
        if isinstance(one, Excerpt):
            first, last = one.spot.first, one.spot.last
            count += sum(first <= note.measure_index <= last for note in part)
        else:
            count += len(one.marked.part.notes)
    return count


def _name(studio: Studio, player: Player, sheet: Sheet, wishes: GiveWishes) -> str:
    if isinstance(sheet, Lesson):
        stem = f"lesson {sheet.marked.title}"
    elif isinstance(sheet, Routine):
        week, day = sheet.asked.week + 1, sheet.asked.day
        stem = f"routine-week-{week}" + ("" if day is None else f"-day-{day + 1}")
    else:
        stem = f"{sheet.kind} {sheet.seed}"
    return give_name(studio, stem, player.student, wishes)
