"""Progress out of a studio's folder, and the sheet for parents into a file."""

from pathlib import Path

from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.store.database import FILE_NAME
from handslide.edges.store.students import Student
from handslide.edges.typesetting.drawing import render
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.papers import DEFAULT_PAPER
from handslide.studio.people.students import list_students
from handslide.studio.progress.progress import Filters, StudentProgress, progress_of
from handslide.studio.progress.sheet import progress_sheet
from handslide.studio.studio import Studio, open_studio, studio_folder
from handslide.words.speech import Speech

_MOST_NAMED = 8


def read_progress(folder: Path | None, who: str, filters: Filters) -> StudentProgress:
    """The progress of a student of the studio in ``folder`` (None: the usual one).

    ``who`` is the student's name, its beginning, or the number of the student's page.

    Raises
    ------
    NotFound, StoreError
        No studio there, no such student.
    BadUsage
        When several students are called so.
    """
    where = studio_folder(folder)
    if not (where / FILE_NAME).is_file():
        raise NotFound("progress.no_studio", folder=str(where))
    studio = open_studio(where)
    try:
        return progress_of(studio, _find(studio, who).id, filters)
    finally:
        studio.close()


def _find(studio: Studio, who: str) -> Student:
    students = list_students(studio) + list_students(studio, archived=True)
    asked = who.strip().casefold()
    for fits in (
        [one for one in students if str(one.id) == asked],
        [one for one in students if one.name.casefold() == asked],
        [one for one in students if asked and one.name.casefold().startswith(asked)],
    ):
        if len(fits) == 1:
            return fits[0]
        if fits:
            names = tuple(f"{one.name} ({one.id})" for one in fits[:_MOST_NAMED])
            raise BadUsage("progress.which_student", who=who, names=names)
    raise NotFound("progress.no_student", who=who)


def progress_pdf(report: StudentProgress, say: Speech, paper: str = DEFAULT_PAPER) -> bytes:
    """The sheet for the student's parents, as ``say`` speaks."""
    return render(progress_sheet(report, say, paper))[0]


def write_sheet(
    report: StudentProgress,
    path: Path,
    say: Speech,
    paper: str = DEFAULT_PAPER,
    *,
    force: bool = False,
) -> None:
    """Write the sheet for parents, as ``say`` speaks. Raises OutputError."""
    check_free(path, force=force)
    write_result(path, progress_pdf(report, say, paper), force=force)
