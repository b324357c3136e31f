"""A plan over weeks as a sheet with boxes."""

import json
from dataclasses import asdict, dataclass

from handslide.edges.engraving.engrave import Paper
from handslide.edges.typesetting.run import run_typst


@dataclass(frozen=True, slots=True)
class PlanDay:
    """A day: its name and date, what it has, and what comes back on it."""

    name: str
    what: str
    again: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanWeek:
    """A week's row: ``write`` stands before a line to write on, empty: no line."""

    title: str
    key: str
    dates: str
    days: tuple[PlanDay, ...]
    write: str


@dataclass(frozen=True, slots=True)
class PlanSheet:
    """All texts of a plan's sheet. ``note`` and ``cautions`` stand over the weeks."""

    title: str
    subtitle: str
    student_line: str
    horn_line: str
    note: str
    weeks: tuple[PlanWeek, ...]
    cautions: tuple[str, ...]
    paper: Paper
    language: str


def typeset_plan(sheet: PlanSheet) -> bytes:
    """The sheet as a tagged PDF. Raises OutputError when the typesetter can't set it."""
    return run_typst("plan.typ", {"sheet.json": json.dumps(asdict(sheet))}, sheet.title)[0]
