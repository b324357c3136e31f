"""A whole class at once: one chart for each student of a roster, and all of them in one file."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from handslide.edges.files.outfile import check_free
from handslide.edges.files.roster import BrokenRow, RosterRow, read_roster
from handslide.ground.errors import BadData, HandslideError
from handslide.ground.progress import ProgressCallback
from handslide.jobs.chart.chart import ChartOptions, chart, write_chart
from handslide.jobs.chart.kinds import SHEETS
from handslide.jobs.setup import make_setup
from handslide.sheets.shapes import Page, Sheet
from handslide.words.charts import class_title
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class ClassDefaults:
    """What holds for students whose row says nothing else."""

    horn: str
    a4_hz: float = 440.0
    temp_c: float | None = None
    reach: float | None = None
    profile: str | None = None
    marks: str = ""


@dataclass(frozen=True, slots=True)
class ClassResult:
    """The files made, the combined one last, and the rows that couldn't be."""

    files: tuple[Path, ...]
    broken: tuple[BrokenRow, ...]


def chart_class(
    roster: Path,
    folder: Path,
    defaults: ClassDefaults,
    options: ChartOptions,
    say: Speech,
    *,
    force: bool = False,
    progress: ProgressCallback | None = None,
) -> ClassResult:
    """Make a PDF for each student of a roster file and a combined one, in ``folder``.

    A broken row is reported and the others are still made.

    Raises
    ------
    BadData
        When the roster can't be read, or none of its rows can be used.
    OutputError
        When a result exists already (unless ``force``) or can't be written.
    """
    rows, broken = read_roster(roster, SHEETS)
    sheets: list[tuple[str, Sheet]] = []
    problems = list(broken)
    for done, row in enumerate(rows):
        if progress is not None:
            progress("drawing", done, len(rows))
        try:
            sheets.append((row.student, _sheet(roster, row, defaults, options, say)))
        except HandslideError as error:
            problems.append(BrokenRow(row.number, row.student, error.fact))
    if not sheets:
        if not problems:
            raise BadData("roster.none_usable", file=roster.name)
        first = problems[0]
        raise BadData(
            "roster.none_usable_because",
            file=roster.name, number=first.number, problem=first.problem,
        )  # fmt: skip
    targets = _targets(folder, [student for student, _ in sheets], options.sheet)
    combined = folder / f"class-{options.sheet}.pdf"
    for path in (*targets, combined):
        check_free(path, force=force)
    for done, ((_, sheet), target) in enumerate(zip(sheets, targets)):
        if progress is not None:
            progress("class", done, len(sheets) + 1)
        write_chart(sheet, target, force=force)
    title = class_title(say, roster.stem, options.sheet)
    everybody = joined(title, [sheet for _, sheet in sheets], say.language.code)
    write_chart(everybody, combined, force=force)
    if progress is not None:
        progress("class", len(sheets) + 1, len(sheets) + 1)
    return ClassResult((*targets, combined), tuple(sorted(problems, key=lambda row: row.number)))


def joined(title: str, sheets: Sequence[Sheet], language: str) -> Sheet:
    """One sheet with the pages of all ``sheets``, in their order."""
    pages: list[Page] = [page for sheet in sheets for page in sheet.pages]
    return Sheet(title, tuple(pages), language)


def safe_stem(name: str) -> str:
    """A person's name as the start of a file name: odd characters become underscores."""
    return re.sub(r"[^\w -]", "_", name).strip(" .") or "student"


def _sheet(
    roster: Path, row: RosterRow, defaults: ClassDefaults, options: ChartOptions, say: Speech
) -> Sheet:
    horn = row.horn or defaults.horn
    # A horn file in a roster is meant from the roster's own folder.
    beside = roster.parent / horn
    if "." in horn and beside.exists():
        horn = str(beside)
    setup = make_setup(
        horn,
        a4_hz=defaults.a4_hz if row.a4_hz is None else row.a4_hz,
        temp_c=defaults.temp_c,
        reach=defaults.reach if row.reach is None else row.reach,
        learned=row.valves,
        profile=defaults.profile,
        marks=defaults.marks,
    )
    wishes = replace(
        options,
        student=row.student,
        clef=row.clef or options.clef,
        names=row.names or options.names,
        sheet=row.sheet or options.sheet,
    )
    return chart(setup, wishes, say)


def _targets(folder: Path, students: Sequence[str], sheet: str) -> list[Path]:
    """A file for each student; equal names get a number, odd characters an underscore."""
    seen: dict[str, int] = {}
    targets = []
    for student in students:
        name = safe_stem(student)
        count = seen[name.lower()] = seen.get(name.lower(), 0) + 1
        suffix = f"-{count}" if count > 1 else ""
        targets.append(folder / f"{name}{suffix}-{sheet}.pdf")
    return targets
