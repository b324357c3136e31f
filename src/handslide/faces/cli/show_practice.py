"""Practice material as plain text for a terminal."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from handslide.drills.routine import DAYS
from handslide.faces.cli.show import table
from handslide.jobs.mark.report import Found
from handslide.jobs.practice.drill import DrillSheet
from handslide.jobs.practice.lesson import Lesson
from handslide.jobs.practice.music import MarkedPiece
from handslide.jobs.practice.plan import Plan
from handslide.jobs.practice.routine import Routine
from handslide.jobs.setup import Setup
from handslide.words.drills import drill_name, instruction, level_name, sheet_line
from handslide.words.horns import horn_line, limits_line
from handslide.words.listing import WRITTEN
from handslide.words.practice import HARD_SPOTS, NO_HARD_SPOTS, NOTHING_SURE, THIS_WEEK, WARM_UP
from handslide.words.routine import block_name, minutes_text, week_dates, week_title
from handslide.words.speech import Speech


def drill_text(
    say: Speech, sheet: DrillSheet, files: Sequence[Path], found: Iterable[Found] = ()
) -> str:
    """What a drill sheet has on it and where its files are."""
    line = sheet_line(say, sheet.level.name, sheet.seed)
    head = _head(say, f"{sheet.title(say)} · {line}", sheet.setup)
    return "\n\n".join((head, table(_rows(say, sheet.pieces)), _ending(say, files, found)))


def lesson_text(
    say: Speech, lesson: Lesson, files: Sequence[Path], found: Iterable[Found] = ()
) -> str:
    """What a lesson sheet has on it and where its files are."""
    title = f"{lesson.title(say)} · {level_name(say, lesson.level.name)}"
    spots = [(say.fact(one.title), instruction(say, lesson.told(one))) for one in lesson.excerpts]
    parts = (
        _head(say, title, lesson.setup),
        *(say.sentence(say.fact(told)) for told in lesson.unplayable.facts()),
        say(WARM_UP) + "\n" + table(_rows(say, lesson.warmup)),
        *([say(NOTHING_SURE)] if lesson.wishes.nothing_sure else []),
        say(THIS_WEEK) + "\n" + table(_rows(say, lesson.week)),
        say(HARD_SPOTS) + "\n" + (table(spots) if spots else f"  {say(NO_HARD_SPOTS)}"),
    )
    return "\n\n".join((*parts, _ending(say, files, found)))


def routine_text(
    say: Speech, routine: Routine, files: Sequence[Path], found: Iterable[Found] = ()
) -> str:
    """What a routine has on it, how long it takes, and where its files are."""
    head = _head(say, f"{routine.title(say)} · {routine.line(say)}", routine.setup)
    rows = []
    for block in routine.parts:
        day = next(day for day in routine.days if block.seconds(day))
        minutes = minutes_text(say, block.seconds(day))
        titles = "; ".join(routine.of(row).title(say) for row in block.rows if not row.model)
        rows.append((block_name(say, block.name), minutes, titles))
    return "\n\n".join((head, table(rows), _ending(say, files, found)))


def plan_text(say: Speech, plan: Plan, files: Sequence[Path], found: Iterable[Found] = ()) -> str:
    """The weeks of a plan with their keys and what comes back when, and where its files are."""
    head = _head(say, f"{plan.title(say)} · {level_name(say, plan.level.name)}", plan.setup)
    rows = []
    for week in plan.weeks:
        dates = week_dates(say, plan.day(week.number, 0), plan.day(week.number, DAYS - 1))
        again = [
            f"{drill_name(say, kind)}: {', '.join(say.day(plan.day(week.number, d)) for d in days)}"
            for kind, days in week.again
        ]
        key = say.fact(plan.scale(week))
        rows.append((week_title(say, week.number + 1), dates, key, "; ".join(again)))
    return "\n\n".join((head, table(rows), _ending(say, files, found)))


def _head(say: Speech, title: str, setup: Setup) -> str:
    limits = limits_line(say, setup.horn, setup.book.limits)
    return "\n".join(filter(None, (title, horn_line(say, setup.horn), limits)))


def _rows(say: Speech, pieces: Iterable[MarkedPiece]) -> list[tuple[str, str]]:
    rows = []
    for one in pieces:
        marks = [one.marked.routed.marks.get(note.index, "–") for note in one.marked.part.notes]
        rows.append((one.title(say), " ".join(marks)))
    return rows


def _ending(say: Speech, files: Iterable[Path], found: Iterable[Found]) -> str:
    warned = [say.fact(row.told) for row in found]
    return "\n".join([*warned, *(say(WRITTEN, file=str(file)) for file in files)])
