"""The progress command."""

from pathlib import Path

import click

from handslide.faces.cli.shared import (
    command,
    json_option,
    out,
    paper_option,
    speech_here,
)
from handslide.ground.limits import NUMBER_DIGITS


@command()
@click.argument("student", metavar="STUDENT")
@click.option(
    "--folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder of the studio. Default: the one that 'handslide studio' opens.",
)
@click.option(
    "--horn",
    "horn_id",
    type=click.IntRange(0, 10**NUMBER_DIGITS),
    metavar="NUMBER",
    help="Takes of this horn only: the number in its page's address.",
)
@click.option(
    "--part",
    "score_id",
    type=click.IntRange(0, 10**NUMBER_DIGITS),
    metavar="NUMBER",
    help="Takes of this part only: the number in its page's address.",
)
@click.option("--from", "since", metavar="DAY", help="From this day on, such as 2026-09-01.")
@click.option("--to", "until", metavar="DAY", help="Up to and with this day.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE.pdf",
    help="Print the sheet for parents.",
)
@paper_option
@click.option("--force", is_flag=True, help="Replace a sheet that exists.")
@json_option
def progress(
    student: str,
    folder: Path | None,
    horn_id: int | None,
    score_id: int | None,
    since: str | None,
    until: str | None,
    output: Path | None,
    paper: str,
    force: bool,
    as_json: bool,
) -> None:
    """Say how a student's playing changed over the weeks, and what to practise next.

    STUDENT is a name as it stands in the studio, or its beginning; or the number in the address of
    the student's page.
    """
    from handslide.faces.cli.show_progress import progress_text
    from handslide.studio.people.students import speech_for
    from handslide.studio.progress.file import read_progress, write_sheet
    from handslide.studio.progress.progress import Filters
    from handslide.studio.progress.progressjson import progress_json
    from handslide.words.files import WRITTEN

    report = read_progress(folder, student, Filters(horn_id, score_id, since, until))
    say = speech_here(report.student.names or None)
    files = []
    if output is not None:
        write_sheet(report, output, speech_for(report.student, say), paper, force=force)
        files.append(str(output))
    if as_json:
        out(progress_json(report, say) | {"files": files}, as_json)
    else:
        lines = [progress_text(report, say), *(say(WRITTEN, path=path) for path in files)]
        out("\n".join(lines), as_json)
