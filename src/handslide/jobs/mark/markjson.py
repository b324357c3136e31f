"""A marked part for machines."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from handslide.jobs.mark.existing import check_json
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.mark.remedies import remedies_json
from handslide.jobs.mark.report import found_json, measure_number
from handslide.jobs.mark.routed import note_json, setup_json
from handslide.jobs.mark.trills import trill_json
from handslide.words.speech import Speech


def mark_json(say: Speech, marked: MarkedPart, files: Sequence[Path] = ()) -> dict[str, Any]:
    """JSON of ``handslide mark``."""
    notes = []
    for note in marked.part.notes:
        notes.append(
            note_json(say, marked.routed, note.index)
            | {
                "measure": measure_number(note.measure),
                "measure_index": note.measure_index,
                "index": note.number,
                "written": note.written.name,
                "shown": note.index in marked.printed,
                "printed": marked.printed.get(note.index),
                "existing": _existing(marked, note.index),
            }
        )
    read = {}
    if marked.source is not None:
        from handslide.jobs.mark.pdfreport import read_json

        read = {"read": read_json(say, marked.source)}
    checks = {}
    if marked.checked is not None:
        checks = {
            "checks": [
                check_json(say, marked.part, marked.routed, check)
                for check in marked.checked.checks
            ],
            "checked": marked.checked.count,
            "together_worse_by": round(marked.checked.together, 4),
        }
    return {
        **setup_json(say, marked.routed.setup),
        "title": marked.title,
        "part": marked.part.name,
        "voice": marked.part.voice,
        "exact": marked.routed.exact,
        "notes": notes,
        "warnings": [found_json(say, row) for row in marked.found],
        "trills": [trill_json(say, marked.part, marked.routed, trill) for trill in marked.trills],
        "remedies": None if marked.remedies is None else remedies_json(marked.remedies),
        **checks,
        **read,
        "files": [str(file) for file in files],
    }


def _existing(marked: MarkedPart, number: int) -> str | None:
    reading = marked.existing.by_number.get(number)
    return None if reading is None else reading.text
