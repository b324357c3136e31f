"""A take over its music: for each written note a sign, the way to go, where it sounds."""

from collections.abc import Sequence
from typing import Any

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.jobs.hear.report import ReportNote, TakeReport
from handslide.jobs.hear.sheet import take_page
from handslide.sheets.takecontent import TakeNote
from handslide.words.speech import Speech
from handslide.words.takes import remarks


def is_of(report: TakeReport, part: ScorePart) -> bool:
    """Whether a report is one of this part, and its notes are still those that were played."""
    if report.kind != "part" or report.doubt is not None:
        return False
    written = [part.notes[i].sounding.midi for i in part.played]
    return written == [note.pitch.midi for note in report.notes]


def heard_notes(
    report: TakeReport, say: Speech, played: Sequence[int] | None = None
) -> dict[int, dict[str, Any]]:
    """JSON of how each written note of a take was heard, by its number in the part.

    ``played`` are the written notes of the report's notes; None where the part isn't there, and
    the report's own numbers stand for them. ``row`` is the note's place among those that lie in
    the take; ``sign`` is hit, in, out (the way to go, by ``mm``), gone (not heard, or not surely)
    or other (another note); ``off_mm`` how far the slide was beyond its place; ``start_s`` and
    ``end_s`` are seconds of the recording. Of a note that was played more than once the last time
    counts.
    """
    rows: dict[int, dict[str, Any]] = {}
    drawn = iter(enumerate(take_page(report, say).notes))
    for number, note in enumerate(report.notes):
        if note.outside:
            continue
        row, sketch = next(drawn)
        index = number if played is None else played[number]
        rows[index] = {"i": index, "row": row, **_row(note, sketch, say)}
    return rows


def _row(note: ReportNote, sketch: TakeNote, say: Speech) -> dict[str, Any]:
    sign, mm = "gone", None
    if note.played == "wrong":
        sign = "other"
    elif note.cents is not None:
        fix = sketch.fix_mm
        sign = "hit" if fix is None else "in" if fix < 0 else "out"
        mm = None if fix is None else round(abs(fix))
    return {
        "sign": sign,
        "mm": mm,
        "off_mm": None if note.slide_mm is None else round(note.slide_mm, 1),
        "start_s": None if note.start_s is None else round(note.start_s, 3),
        "end_s": None if note.end_s is None else round(note.end_s, 3),
        "name": say.note(note.pitch),
        "words": remarks(say, note.told),
    }
