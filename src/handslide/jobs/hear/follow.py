"""Hear a recording beside a part of a score file, and write what was heard as a table or a page."""

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handslide.edges.files.cells import plain_cell
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.musicxml.read import Score, open_score
from handslide.ground.papers import DEFAULT_PAPER
from handslide.ground.pitch import Pitch
from handslide.ground.progress import ProgressCallback
from handslide.ground.wholenumber import whole_number
from handslide.instrument.practice import Practice
from handslide.jobs.hear.followed import FollowedTake, follow_take
from handslide.jobs.hear.listen import left_out_json, listen_file, listening_json, warning_json
from handslide.jobs.hear.partreport import part_report
from handslide.jobs.hear.report import ReportHabit, ReportNote, TakeReport
from handslide.jobs.hear.sheet import sheet_pdf
from handslide.jobs.partwishes import PartWishes
from handslide.jobs.setup import Setup
from handslide.words.speech import Speech
from handslide.words.takes import remarks


@dataclass(frozen=True, slots=True, eq=False)
class HeardPart:
    """A take of a score file that was followed, and its report."""

    score: Score
    followed: FollowedTake
    report: TakeReport


def follow_file(
    take_path: Path,
    score_path: Path,
    setup_at: Callable[[float], Setup],
    options: PartWishes,
    say: Speech,
    *,
    a4_hz: float | None = 440.0,
    table: Path | None = None,
    pdf: Path | None = None,
    student: str = "",
    drone: Pitch | None = None,
    paper: str = DEFAULT_PAPER,
    force: bool = False,
    progress: ProgressCallback | None = None,
) -> HeardPart:
    """Hear a recording, follow a part of a score file, and write a table or a page if asked.

    ``setup_at`` gives the horn for a tuning pitch; ``a4_hz`` None estimates it from the take.
    ``student`` is named on the page; ``drone`` is what the take was played to.

    Raises
    ------
    BadData
        A take, score or horn that can't be used, or a take that can't be followed.
    OutputError
        When a result exists already (unless ``force``) or can't be written.
    """
    for target in (table, pdf):
        if target is not None:
            check_free(target, force=force)
    setup = setup_at(440.0 if a4_hz is None else a4_hz)
    score = open_score(score_path)
    take = listen_file(take_path, a4_hz=a4_hz, closely=True, progress=progress)
    if a4_hz is None:
        setup = setup_at(take.a4_hz)
    followed = follow_take(score, take, setup, options)
    report = part_report(followed, drone)
    if pdf is not None:
        write_result(pdf, sheet_pdf(report, say, student, paper), force=force)
    if table is not None:
        write_result(table, follow_csv(report, say), force=force)
    return HeardPart(score, followed, report)


def follow_json(report: TakeReport, say: Speech) -> dict[str, Any]:
    """JSON of ``handslide listen --score``."""
    doubts = () if report.doubt is None else (report.doubt,)
    return {
        "a4_hz": round(report.a4_hz, 3),
        "horn": report.horn_name,
        "title": report.title,
        "tempo_ratio": _round(report.tempo_ratio, 4),
        "offset_cents": round(report.offset_cents, 1),
        "common_cents": round(report.common_cents, 1),
        "restarts": report.restarts,
        "counts": report.counts,
        "notes": [_note_json(note, say) for note in report.notes],
        "extra": [
            {
                "start_s": round(extra.start_s, 3),
                "midi": extra.midi,
                "kind": extra.kind,
                "measure": None if extra.measure is None else _number(extra.measure),
            }
            for extra in report.extras
        ],
        "habits": [_habit_json(habit, say) for habit in report.habits],
        "practice": [_practice_json(item, say) for item in report.practice],
        "left_out": [left_out_json(row, say) for row in report.left_out],
        "warnings": [warning_json(one, say) for one in (*doubts, *report.warnings)],
        **listening_json(report.listening, say),
    }


def _habit_json(habit: ReportHabit, say: Speech) -> dict[str, Any]:
    return {
        "kind": habit.kind,
        "cents": round(habit.cents, 1),
        "slide_mm": _round(habit.slide_mm, 1),
        "notes": habit.count,
        "of": habit.total,
        "words": say.fact(habit.fact),
    }


def _practice_json(item: Practice, say: Speech) -> dict[str, Any]:
    return {"what": say.fact(item.what), "why": say.fact(item.why), "how": say.fact(item.how)}


def _note_json(note: ReportNote, say: Speech) -> dict[str, Any]:
    with_pitch = note.cents is not None
    return {
        "measure": None if note.measure is None else _number(note.measure),
        "note": note.pitch.name,
        "mark": note.mark or None,
        "played": note.played,
        "outside": note.outside,
        "cents": _round(note.cents, 2),
        "cents_se": _round(note.cents_se, 2) if with_pitch else None,
        "spread_cents": _round(note.spread_cents, 2) if with_pitch else None,
        "slide_mm": _round(note.slide_mm, 1),
        "slide_se_mm": _round(note.slide_se_mm, 1),
        "start_s": _round(note.start_s, 3),
        "confidence": _round(note.confidence, 2),
        "words": remarks(say, note.told),
    }


def _number(measure: str) -> int | str:
    number = whole_number(measure)
    return measure if number is None else number


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def follow_csv(report: TakeReport, say: Speech) -> bytes:
    """A table with a row for each note of the part, in UTF-8."""
    rows = [_note_json(note, say) for note in report.notes]
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows({key: plain_cell(value) for key, value in row.items()} for row in rows)
    return text.getvalue().encode("utf-8")
