"""The command section."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.markoptions import (
    existing_option,
    report_option,
    show_option,
    small_notes_option,
    sounds_option,
)
from handslide.faces.cli.shared import (
    command,
    common,
    force_option,
    limits,
    out,
    paper_option,
    profile_option,
    speech_here,
    tempo_option,
)
from handslide.faces.cli.terminal import tell
from handslide.ground.errors import BadUsage
from handslide.ground.facts import fact

if TYPE_CHECKING:
    from handslide.jobs.mark.section import MarkedSection
    from handslide.words.speech import Speech

_MARK_KEYS = ("show", "tempo_qpm", "existing", "small_notes", "sounds", "paper", "report")


@command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--class",
    "roster",
    required=True,
    type=click.Path(path_type=Path),
    metavar="ROSTER",
    help="CSV or TOML file with a row for each student; its column part says who plays what.",
)
@click.option(
    "-o",
    "--output",
    "folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder for the results. Default: FILE-section, here.",
)
@show_option
@tempo_option
@existing_option
@small_notes_option
@sounds_option
@paper_option
@report_option
@click.option("--no-pdf", is_flag=True, help="Write the marked scores only.")
@force_option
@profile_option
@limits
@common
def section(
    file: Path,
    roster: Path,
    folder: Path | None,
    no_pdf: bool,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Mark several parts of one score, each for its own student and horn.

    For each row of the roster a marked score and a PDF are written. Rows whose column part is
    empty get the trombone parts in the order of the score. A row that can't be used is named, and
    the others are still made.
    """
    from handslide.jobs.ahead import start_engraver

    if not no_pdf:
        start_engraver()
    from handslide.faces.cli.bar import progress_bar
    from handslide.jobs.classes import ClassDefaults
    from handslide.jobs.mark.mark import MarkOptions
    from handslide.jobs.mark.section import mark_section, section_json

    if options.pop("valves") is not None:
        raise BadUsage("usage.valves_of_a_class")
    if options["existing"] == "check":
        raise BadUsage("usage.check_of_a_section")
    wishes, say = MarkOptions(**{key: options.pop(key) for key in _MARK_KEYS}), speech_here()
    with progress_bar() as progress:
        made = mark_section(
            file, roster, folder or Path(f"{file.stem}-section"), ClassDefaults(**options), wishes,
            say, with_pdf=not no_pdf, force=force, progress=progress,
        )  # fmt: skip
    out(section_json(say, made) if as_json else _text(say, made), as_json)
    for row in made.broken:
        told = fact("roster.row", number=row.number, student=row.student, problem=row.problem)
        tell(f"handslide: {say.fact(told)}", err=True)
    if made.broken:
        raise click.exceptions.Exit(1)


def _text(say: "Speech", made: "MarkedSection") -> str:
    """Who plays what on which horn, how that was settled, and the files."""
    from handslide.faces.cli.show import table
    from handslide.words import section as words
    from handslide.words.horns import horn_title
    from handslide.words.listing import WRITTEN

    rows = [
        (
            one.seat.row.student,
            one.seat.part.name,
            str(one.notes),
            str(one.unplayable),
            horn_title(say, one.horn),
        )
        for one in made.seated
    ]
    heads = words.STUDENT, words.PART, words.NOTES, words.UNPLAYABLE, words.HORN
    said = []
    dealt = [seat.row.student for seat in made.seating.seats if seat.dealt]
    if dealt:
        said.append(say(words.BY_ORDER, students=tuple(dealt)))
    if made.seating.repeated:
        said.append(say(words.MORE_THAN_PARTS))
    if made.seating.idle:
        said.append(say(words.IDLE, parts=tuple(part.name for part in made.seating.idle)))
    files = [say(WRITTEN, file=path) for one in made.seated for path in one.files]
    warned = [
        f"{one.seat.row.student}: {say.fact(row.told)}"
        for one in made.seated
        for row in one.warnings
    ]
    blocks = [
        table(rows, [say(head) for head in heads], indent=""),
        " ".join(said),
        *warned,
        *files,
    ]
    return "\n".join(block for block in blocks if block)
