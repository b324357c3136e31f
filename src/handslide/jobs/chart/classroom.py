"""A whole class at once: one chart for each student of a roster, and all of them in one file."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from handslide.edges.files.outfile import check_free
from handslide.edges.files.roster import BrokenRow, RosterRow, read_roster
from handslide.ground.errors import HandslideError
from handslide.ground.progress import ProgressCallback
from handslide.jobs.chart.chart import ChartOptions, chart, write_chart
from handslide.jobs.chart.kinds import SHEETS
from handslide.jobs.classes import ClassDefaults, none_usable, setup_of_row, student_stems
from handslide.sheets.shapes import Page, Sheet
from handslide.words.charts import class_title
from handslide.words.speech import Speech


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
        raise none_usable(roster, problems)
    stems = student_stems([student for student, _ in sheets])
    targets = [folder / f"{stem}-{options.sheet}.pdf" for stem in stems]
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


def _sheet(
    roster: Path, row: RosterRow, defaults: ClassDefaults, options: ChartOptions, say: Speech
) -> Sheet:
    setup = setup_of_row(roster, row, defaults)
    wishes = replace(
        options,
        student=row.student,
        clef=row.clef or options.clef,
        names=row.names or options.names,
        sheet=row.sheet or options.sheet,
    )
    return chart(setup, wishes, say)
