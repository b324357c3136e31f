"""The command that marks a library."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.cli.markoptions import (
    existing_option,
    report_option,
    show_option,
    small_notes_option,
    sounds_option,
)
from handslide.faces.cli.shared import (
    HORN_HELP,
    command,
    json_option,
    limits,
    out,
    paper_option,
    profile_option,
    speech_here,
    switch,
    tempo_option,
)
from handslide.ground.errors import BadUsage

_MARK_KEYS = ("show", "tempo_qpm", "existing", "small_notes", "sounds", "paper", "report")


@command()
@click.argument("source", metavar="IN", type=click.Path(path_type=Path))
@click.argument("folder", metavar="OUT", type=click.Path(path_type=Path))
@click.option(
    "--horn",
    "horns",
    multiple=True,
    metavar="NAME_OR_FILE",
    help=f"{HORN_HELP} Can be given again: each part is marked for each horn.",
)
@click.option(
    "--class",
    "roster",
    type=click.Path(path_type=Path),
    metavar="ROSTER",
    help="CSV or TOML file with a row for each student: each part is marked for each.",
)
@limits
@profile_option
@click.option("--temp-c", type=float, metavar="°C", help="Temperature of the air inside the horn.")
@click.option("--a4", "a4_hz", default=440.0, show_default=True, metavar="HZ", help="Tuning pitch.")
@click.option(
    "--workers",
    type=click.IntRange(1, 256),
    metavar="N",
    help="Processes that work at once. Default: one for each processor.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Work on the Dask cluster there, such as tcp://host:8786.",
)
@switch("pdf", help="Print each part, too; without, a part takes a fraction of the time.")
@click.option(
    "--formats",
    metavar="ENDINGS",
    help="Only files with these endings, such as mxl,musicxml. Default: all score files.",
)
@click.option("--retry-errors", is_flag=True, help="Try again what could not be marked.")
@click.option("--dry-run", is_flag=True, help="Read the scores and say what would be marked.")
@click.option(
    "--force", is_flag=True, help="Replace files in OUT that were not made by this command."
)
@show_option
@tempo_option
@existing_option
@small_notes_option
@sounds_option
@paper_option
@report_option
@json_option
def run(
    source: Path, folder: Path, horns: tuple[str, ...], roster: Path | None, workers: int | None,
    formats: str | None, dry_run: bool, as_json: bool, **options: Any,
) -> None:  # fmt: skip
    """Mark every slide part of every score in the folder IN, and in all folders in it, into OUT.

    OUT has the same folders as IN, with a marked score (and PDF) for each part and horn, or
    student. OUT/report.html shows the grade of each part for each of them, the hardest first, and
    what can't be played; errors.csv, grades.csv and parts.csv have all of it as tables.

    Run again, it does only what is new or changed; whatever ends it, the same command goes on.
    Ctrl-C ends it after the parts under way. Full scores give their trombone parts; parts.csv says
    what was taken for what, and parts.toml in IN or OUT corrects it.
    """
    from handslide.faces.cli.bar import rate_bar
    from handslide.faces.cli.show_library import run_text
    from handslide.faces.cli.stopping import stoppable
    from handslide.jobs.library.library import mark_library
    from handslide.jobs.library.libraryjson import run_json
    from handslide.jobs.library.players import players_of
    from handslide.jobs.library.wishes import LibraryWishes, parse_formats, processors
    from handslide.jobs.mark.mark import MarkOptions
    from handslide.jobs.setup import DEFAULT_HORN, parse_learned

    if options["existing"] == "check":
        raise BadUsage("usage.check_of_a_section")
    say = speech_here()
    wishes = MarkOptions(**{key: options.pop(key) for key in _MARK_KEYS})
    work = {key: options.pop(key) for key in ("pdf", "retry_errors", "force", "scheduler")}
    learned = parse_learned(options.pop("valves"))
    players, broken = players_of(
        horns or (DEFAULT_HORN,), roster, say.on_paper, learned=learned, **options
    )
    library = LibraryWishes(
        source, folder, players, wishes, endings=parse_formats(formats),
        workers=workers or processors(), **work,
    )  # fmt: skip
    with rate_bar(say) as progress, stoppable() as stop:
        result = mark_library(library, say, progress=progress, stop=stop, rehearse=dry_run)
    files = [] if dry_run else _written(say, result, broken)
    out(run_json(say, result, files, broken) if as_json else run_text(say, result, files), as_json)
    failed = result.problems or result.failed or broken
    _complain(say, broken)
    if failed or result.stopped:
        raise click.exceptions.Exit(1)


def _written(say: Any, result: Any, broken: Any) -> list[str]:
    """Write the page; gives the files that tell of the library."""
    from handslide.edges.files.outfile import write_result
    from handslide.faces.web.libraryreport import REPORT, library_html
    from handslide.jobs.library.report import library_report
    from handslide.jobs.library.tables import ERRORS, GRADES, PARTS

    page = library_html(say, result, library_report(result.folder))
    write_result(result.folder / REPORT, page.encode(), force=True)
    return [str(result.folder / name) for name in (REPORT, ERRORS, GRADES, PARTS)]


def _complain(say: Any, broken: Any) -> None:
    from handslide.faces.cli.terminal import tell
    from handslide.ground.facts import fact

    for row in broken:
        told = fact("roster.row", number=row.number, student=row.student, problem=row.problem)
        tell(f"handslide: {say.fact(told)}", err=True)
