"""A take on its music: for each written note one of four signs, the way to go, where it sounds."""

from typing import Any

from handslide.edges.store.takes import Take
from handslide.ground.errors import HandslideError
from handslide.jobs.hear.onmusic import heard_notes, is_of
from handslide.jobs.hear.report import TakeReport, report_from
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.studio import Studio
from handslide.words.speech import Speech
from handslide.words.takes import summary_line


def take_on_music(studio: Studio, take: Take, say: Speech) -> dict[str, Any]:
    """JSON of a take for the page that shows it over its music.

    ``stand`` is None, and ``on_music`` False, where the part isn't there any more, or is read
    otherwise than when it was played. ``notes`` are rows of `heard_notes`.

    Raises BadData for a report that can't be read.
    """
    report = report_from(take.report)
    part = part_of_take(studio, take, report)
    played = None if part is None else part.marked.part.played
    rows = heard_notes(report, say, played)
    return {
        "stand": None if part is None else part.stand.id,
        "on_music": part is not None,
        "summary": summary_line(say, report.summary),
        "hits": sum(row["sign"] == "hit" for row in rows.values()),
        "notes": list(rows.values()),
    }


def part_of_take(studio: Studio, take: Take, report: TakeReport) -> OpenPart | None:
    """The part that the take was played from, if its notes are still those of the report."""
    if take.stand_id is None:
        return None
    try:
        part = open_part(studio, take.stand_id)
    except HandslideError:
        # The report stands by itself; a part that can't be read says so on its own page.
        return None
    return part if is_of(report, part.marked.part) else None
