"""The command line: each command parses, calls one job and shows the result."""

from pathlib import Path
from typing import Any

import click

from handslide import __version__
from handslide.faces.cli.chart import chart
from handslide.faces.cli.drone import drone, playalong
from handslide.faces.cli.listen import listen
from handslide.faces.cli.practice import drill, lesson
from handslide.faces.cli.progress import progress
from handslide.faces.cli.shared import (
    common,
    folder_option,
    force_option,
    limits,
    out,
    paper_option,
    part_option,
    setup_from,
    student_option,
    taste,
    tempo_option,
    voice_option,
)
from handslide.faces.cli.studio import studio
from handslide.faces.cli.transpose import shift
from handslide.faces.cli.tuning import fit, tune
from handslide.ground.errors import HandslideError


class _Group(click.Group):
    """Turns our errors into one line on stderr and the exit code that they carry."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except HandslideError as error:
            click.echo(f"handslide: {error}", err=True)
            ctx.exit(error.exit_code)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="handslide")
def main() -> None:
    """Where every note lies on this student's own slide, and which way to go there."""


@main.command()
@common
def horns(horn: str, a4_hz: float, temp_c: float | None, as_json: bool) -> None:
    """List the horns that can be named, and your own."""
    from handslide.faces.cli import show
    from handslide.jobs.setup import list_horns

    rows = list_horns(a4_hz, temp_c)
    out(show.horns_json(rows) if as_json else show.horns_text(rows), as_json)


@main.command()
@click.argument("notes", nargs=-1, required=True, metavar="NOTE...")
@limits
@common
def places(notes: tuple[str, ...], as_json: bool, **options: Any) -> None:
    """Show all places of notes such as C3, Eb2 or F#4 (middle C is C4)."""
    from handslide.faces.cli import show
    from handslide.jobs.mark.places import places_json, places_of

    setup = setup_from(**options)
    found = places_of(setup, notes)
    out(places_json(setup, found) if as_json else show.places_text(setup, found), as_json)


@main.command()
@click.argument("notes", metavar='"NOTES"')
@click.option(
    "--tempo",
    "tempo_qpm",
    default=80.0,
    show_default=True,
    metavar="QPM",
    help="Quarter notes a minute; one beat is a quarter note.",
)
@click.option(
    "--lock",
    "locks",
    multiple=True,
    metavar="INDEX=PLACE",
    help="Fix a note's place, such as 4=T1. Can be given again.",
)
@taste
@limits
@common
def line(
    notes: str, tempo_qpm: float, locks: tuple[str, ...], as_json: bool, **options: Any
) -> None:
    """Choose the best route through a typed line, such as "Eb3 D3 Db3 C3".

    Notes may carry :beats (F2:0.5), ( ) around slurred notes, ~ between two for a glissando;
    r:beats is a rest.
    """  # fmt: skip
    from handslide.faces.cli import show
    from handslide.jobs.mark.line import line_json, route_typed

    routed = route_typed(setup_from(**options), notes, tempo_qpm=tempo_qpm, locks=locks)
    out(line_json(routed) if as_json else show.line_text(routed), as_json)


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@folder_option
@part_option
@voice_option
@student_option
@click.option(
    "--lock",
    "locks",
    multiple=True,
    metavar="MEASURE:INDEX=PLACE",
    help="Fix a note's place, such as 12:3=T1. Can be given again.",
)
@click.option(
    "--show",
    type=click.Choice(["all", "unusual", "new"]),
    default="all",
    show_default=True,
    help="Which notes get a mark: all, those away from their usual "
    "place, or each note's first time and its changes.",
)
@tempo_option
@click.option(
    "--replace-fingerings", is_flag=True, help="Take out fingerings that were in the part before."
)
@click.option(
    "--small-notes",
    is_flag=True,
    help="Notes printed small are the player's own (a cadenza), not another player's cue.",
)
@paper_option
@click.option("--no-pdf", is_flag=True, help="Write the marked score only.")
@force_option
@taste
@limits
@common
def mark(
    file: Path, folder: Path | None, no_pdf: bool, force: bool, as_json: bool, **options: Any
) -> None:
    """Mark a part: write its places over the notes, as a score and as a PDF.

    FILE is MusicXML (.musicxml, .xml, .mxl), or Humdrum, MEI, ABC or MIDI. The results are
    FILE-marked.musicxml (or .mxl) and FILE-marked.pdf; FILE itself stays as it is.
    """
    from handslide.faces.cli import show
    from handslide.faces.cli.bar import progress_bar
    from handslide.jobs.mark.mark import MarkOptions, mark_file, mark_json

    keys = (
        "part", "voice", "student", "locks", "show", "tempo_qpm", "replace_fingerings",
        "small_notes", "paper",
    )  # fmt: skip
    wishes = MarkOptions(**{key: options.pop(key) for key in keys})
    setup = setup_from(**options)
    with progress_bar() as progress:
        written = mark_file(
            file, setup, wishes, folder=folder, with_pdf=not no_pdf, force=force, progress=progress
        )
    files = [path for path in (written.score_path, written.pdf_path) if path is not None]
    if as_json:
        out(mark_json(written.marked, files), as_json)
    else:
        out(show.marked_text(written.marked, files), as_json)


main.add_command(chart)
main.add_command(tune)
main.add_command(fit)
main.add_command(listen)
main.add_command(progress)
main.add_command(studio)
main.add_command(drone)
main.add_command(playalong)
main.add_command(shift)
main.add_command(drill)
main.add_command(lesson)
