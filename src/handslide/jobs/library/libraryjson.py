"""A run over a library, and what a search found, for machines."""

from collections.abc import Sequence
from typing import Any

from handslide.edges.files.roster import BrokenRow
from handslide.ground.pitch import from_midi
from handslide.jobs.library.library import LibraryRun
from handslide.jobs.library.search import Found
from handslide.jobs.library.tables import grade_row
from handslide.words.speech import Speech


def run_json(
    say: Speech, run: LibraryRun, files: Sequence[str], broken: Sequence[BrokenRow] = ()
) -> dict[str, Any]:
    """JSON of ``handslide library``."""
    return {
        "folder": str(run.folder),
        "dry_run": run.rehearsed,
        "stopped": run.stopped,
        "files_found": run.files,
        "made": run.made,
        "copied": run.copied,
        "parts": {
            "done": run.counts["done"], "to_do": run.counts["to_do"], "error": run.counts["error"],
        },
        "choice": [
            {
                "file": path,
                "part_id": row.look.part_id,
                "part": row.look.name,
                "notes": row.look.notes,
                "clefs": list(row.look.clefs),
                "lowest": None if row.look.low is None else from_midi(row.look.low).name,
                "highest": None if row.look.high is None else from_midi(row.look.high).name,
                "taken": row.taken,
                "why": row.why,
            }
            for path, row in run.chosen
        ],
        "problems": [
            {"file": path, "kind": why.kind, "text": say.fact(why)} for path, why in run.problems
        ],
        "failed": [
            {
                "file": row.target.source, "part": row.target.part, "for": row.target.player,
                "kind": why.kind, "text": say.fact(why),
            }
            for row, why in run.failed
        ],
        "class_problems": [
            {"row": row.number, "student": row.student, "kind": row.problem.kind,
             "text": say.fact(row.problem)}
            for row in broken
        ],
        "files": list(files),
    }  # fmt: skip


def found_json(found: Sequence[Found], count: int) -> dict[str, Any]:
    """JSON of ``handslide library search``, which found ``count`` in all."""
    return {
        "count": count,
        "found": [
            grade_row(one.row, one.grade) | {"valves": dict(one.grade.valves)} for one in found
        ],
    }
