"""Practice material as plain text for a terminal."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from handslide.faces.cli.show import table
from handslide.jobs.mark.report import Found
from handslide.jobs.practice.drill import DrillSheet
from handslide.jobs.practice.lesson import Lesson
from handslide.jobs.practice.music import MarkedPiece
from handslide.jobs.setup import Setup
from handslide.words.drills import instruction, level_name, sheet_line
from handslide.words.horns import horn_line, limits_line
from handslide.words.listing import WRITTEN
from handslide.words.practice import HARD_SPOTS, NO_HARD_SPOTS, NOTHING_SURE, THIS_WEEK, WARM_UP
from handslide.words.speech import Speech


def drill_text(
    say: Speech, sheet: DrillSheet, files: Sequence[Path], found: Iterable[Found] = ()
) -> str:
    """What a drill sheet has on it and where its files are."""
    line = sheet_line(say, sheet.level.name, sheet.seed)
    head = _head(say, f"{sheet.title(say)} · {line}", sheet.setup)
    return "\n\n".join((head, table(_rows(say, sheet.pieces)), _ending(say, files, found)))


def lesson_text(say: Speech, lesson: Lesson, pdf: Path, found: Iterable[Found] = ()) -> str:
    """What a lesson sheet has on it and where it is."""
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
    return "\n\n".join((*parts, _ending(say, [pdf], found)))


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
