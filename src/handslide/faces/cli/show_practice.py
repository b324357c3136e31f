"""Practice material as plain text for a terminal."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from handslide.faces.cli.show import table
from handslide.jobs.practice.drill import DrillSheet
from handslide.jobs.practice.lesson import Lesson
from handslide.jobs.practice.music import MarkedPiece


def drill_text(sheet: DrillSheet, files: Sequence[Path]) -> str:
    """What a drill sheet has on it and where its files are."""
    head = _head(
        f"{sheet.title} · {sheet.subtitle}", sheet.setup.horn_line, sheet.setup.limits_line
    )
    return "\n\n".join((head, table(_rows(sheet.pieces)), _written(files)))


def lesson_text(lesson: Lesson, pdf: Path) -> str:
    """What a lesson sheet has on it and where it is."""
    setup = lesson.setup
    parts = [_head(f"{lesson.title} · {lesson.level.title}", setup.horn_line, setup.limits_line)]
    parts.append("Warm-up\n" + table(_rows(lesson.warmup)))
    week = [one for sheet in lesson.drills for one in sheet.pieces]
    parts.append("This week\n" + table(_rows(week)))
    spots = [(one.title, one.instruction) for one in lesson.excerpts]
    parts.append("Hard spots\n" + (table(spots) if spots else "  none was found"))
    return "\n\n".join((*parts, _written([pdf])))


def _head(*lines: str) -> str:
    return "\n".join(filter(None, lines))


def _rows(pieces: Iterable[MarkedPiece]) -> list[tuple[str, str]]:
    rows = []
    for one in pieces:
        marks = [one.marked.routed.marks.get(note.index, "–") for note in one.marked.part.notes]
        rows.append((one.piece.title, " ".join(marks)))
    return rows


def _written(files: Iterable[Path]) -> str:
    return "\n".join(f"written: {file}" for file in files)
