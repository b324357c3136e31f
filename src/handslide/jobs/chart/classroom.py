"""A whole class at once: one chart for each student of a roster, and all of them in one file."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from handslide.edges.files.outfile import check_free
from handslide.edges.files.roster import BrokenRow, RosterRow, read_roster
from handslide.ground.progress import ProgressCallback
from handslide.jobs.chart.chart import ChartOptions, chart, write_chart
from handslide.jobs.chart.kinds import SHEETS
from handslide.jobs.classes import (
    ClassDefaults,
    apart,
    none_usable,
    setup_of_row,
    speech_of_row,
    student_stems,
)
from handslide.sheets.shapes import Page, Sheet
from handslide.words.catalogues import languages
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

    A row that fails, in whatever way, is reported and the others are still made.

    Raises
    ------
    BadData
        When the roster can't be read, or none of its rows can be used.
    OutputError
        When a result exists already (unless ``force``) or can't be written.
    """
    rows, broken = read_roster(roster, SHEETS, tuple(languages()))
    sheets: list[tuple[RosterRow, Sheet]] = []
    problems = list(broken)
    for done, row in enumerate(rows):
        if progress is not None:
            progress("drawing", done, len(rows))
        with apart(row, problems):
            sheets.append((row, _sheet(roster, row, defaults, options, say)))
    if not sheets:
        raise none_usable(roster, problems)
    stems = student_stems([row.student for row, _ in sheets])
    targets = [folder / f"{stem}-{options.sheet}.pdf" for stem in stems]
    combined = folder / f"class-{options.sheet}.pdf"
    for path in (*targets, combined):
        check_free(path, force=force)
    made: list[tuple[Path, Sheet]] = []
    for done, ((row, sheet), target) in enumerate(zip(sheets, targets)):
        if progress is not None:
            progress("class", done, len(sheets) + 1)
        with apart(row, problems):
            write_chart(sheet, target, force=force)
            made.append((target, sheet))
    files = [path for path, _ in made]
    if made:
        title = class_title(say, roster.stem, options.sheet)
        everybody = joined(title, [sheet for _, sheet in made], say.language.code)
        write_chart(everybody, combined, force=force)
        files.append(combined)
    if progress is not None:
        progress("class", len(sheets) + 1, len(sheets) + 1)
    return ClassResult(tuple(files), tuple(sorted(problems, key=lambda row: row.number)))


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
    return chart(setup, wishes, speech_of_row(row, say))
