"""A take on its music: for each written note one of four signs, the way to go, where it sounds."""

from typing import Any

from handslide.edges.store.takes import Take
from handslide.ground.errors import HandslideError
from handslide.jobs.hear.report import ReportNote, TakeReport, report_from
from handslide.jobs.hear.sheet import take_page
from handslide.sheets.takecontent import TakeNote
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.studio import Studio
from handslide.words.speech import Speech
from handslide.words.takes import remarks, summary_line


def take_on_music(studio: Studio, take: Take, say: Speech) -> dict[str, Any]:
    """JSON of a take for the page that shows it over its music.

    ``stand`` is None, and ``on_music`` False, where the part isn't there any more, or is read
    otherwise than when it was played. ``notes`` have a row for each written note ``i`` of the take,
    which is ``row`` in the report's table: ``sign`` is hit, in, out (the way to go, by ``mm``),
    gone (not heard, or not surely) or other (another note); ``off_mm`` how far the slide was beyond
    its place; ``start_s`` and ``end_s`` in the recording. Of a note that was played more than once
    the last time counts.

    Raises BadData for a report that can't be read.
    """
    report = report_from(take.report)
    part = _part(studio, take, report)
    rows: dict[int, dict[str, Any]] = {}
    drawn = iter(enumerate(take_page(report, say).notes))
    for number, note in enumerate(report.notes):
        if note.outside:
            continue
        row, sketch = next(drawn)
        index = number if part is None else part.marked.part.played[number]
        rows[index] = {"i": index, "row": row, **_row(note, sketch, say)}
    return {
        "stand": None if part is None else part.stand.id,
        "on_music": part is not None,
        "summary": summary_line(say, report.summary),
        "hits": sum(row["sign"] == "hit" for row in rows.values()),
        "notes": list(rows.values()),
    }


def _part(studio: Studio, take: Take, report: TakeReport) -> OpenPart | None:
    """The part that the take was played from, if its notes are still those of the report."""
    if take.stand_id is None or report.kind != "part" or report.doubt is not None:
        return None
    try:
        part = open_part(studio, take.stand_id)
    except HandslideError:
        # The report stands by itself; a part that can't be read says so on its own page.
        return None
    score = part.marked.part
    written = [score.notes[i].sounding.midi for i in score.played]
    return part if written == [note.pitch.midi for note in report.notes] else None


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
