"""What the page of a library shows: for each player the hardest parts, and what went wrong."""

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handslide.edges.manifest.manifest import FILE_NAME, Manifest, MarkedRow, Wish
from handslide.ground.limits import LIBRARY_REPORT_ROWS
from handslide.jobs.library.grade import Grade, grade_of_json


@dataclass(frozen=True, slots=True)
class PlayerReport:
    """The parts of one player, the hardest first and no more than a page holds: each with its
    grade. ``total`` counts all of them, ``troubled`` those that can't wholly be played."""

    label: str
    about: dict[str, Any]
    rows: tuple[tuple[MarkedRow, Grade], ...]
    total: int
    troubled: int


def library_report(folder: Path) -> tuple[PlayerReport, ...]:
    """The players of a marked library. Raises StoreError."""
    reports = []
    with closing(Manifest.read(folder / FILE_NAME)) as manifest:
        for label, about in manifest.players().items():
            rows: list[tuple[MarkedRow, Grade]] = []
            total = troubled = 0
            for row in manifest.marked(Wish(player=label, unplayable=True)):
                if row.state != "done":
                    continue
                grade = grade_of_json(row.result["grade"])
                total += 1
                troubled += grade.unplayable > 0
                if len(rows) < LIBRARY_REPORT_ROWS:
                    rows.append((row, grade))
            reports.append(PlayerReport(label, about, tuple(rows), total, troubled))
    return tuple(reports)
