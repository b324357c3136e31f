"""The transpose command: a part moved by an interval, marked and printed."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.cli.markoptions import show_option, small_notes_option, sounds_option
from handslide.faces.cli.shared import (
    command,
    common,
    folder_option,
    force_option,
    limits,
    out,
    paper_option,
    part_option,
    profile_option,
    setup_from,
    speech_here,
    student_option,
    tempo_option,
)


@command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--by",
    required=True,
    metavar="INTERVAL",
    help="P8, P5, m3, M2, P12 up; with a - down: -P8. Or semitones: -12.",
)
@part_option
@click.option(
    "--voice",
    metavar="NUMBER",
    help="Voice to mark and to judge. Default: its first. All voices are moved.",
)
@click.option("--only", is_flag=True, help="Leave the other parts of the score out.")
@click.option("--octave-fix", is_flag=True, help="Put notes that can't be played back an octave.")
@folder_option
@student_option
@show_option
@tempo_option
@small_notes_option
@sounds_option
@paper_option
@click.option("--no-pdf", is_flag=True, help="Write the moved score only.")
@force_option
@profile_option
@limits
@common
def transpose(
    file: Path,
    by: str,
    only: bool,
    octave_fix: bool,
    folder: Path | None,
    no_pdf: bool,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Move a part by an interval, such as down the octave, and mark it there.

    All notes of the part move, with keys, accidentals and clefs; what can't be played is named,
    with the nearest interval at which all can. FILE is any score that 'mark' takes, and stays as
    it is.
    """
    from handslide.faces.cli import show
    from handslide.faces.cli.bar import progress_bar
    from handslide.jobs.mark.mark import MarkOptions
    from handslide.jobs.transpose.transpose import (
        TransposeWishes,
        transpose_file,
        transposed_json,
    )

    keys = ("part", "voice", "student", "show", "tempo_qpm", "small_notes", "sounds", "paper")
    marking = MarkOptions(**{key: options.pop(key) for key in keys})
    wishes = TransposeWishes(by, only=only, octave_fix=octave_fix)
    setup, say = setup_from(**options), speech_here()
    with progress_bar() as progress:
        made = transpose_file(
            file, setup, wishes, marking, say,
            folder=folder, with_pdf=not no_pdf, force=force, progress=progress,
        )  # fmt: skip
    files = [path for path in (made.score_path, made.pdf_path) if path is not None]
    if as_json:
        out(transposed_json(made.transposed, say, files), as_json)
    else:
        out(show.marked_text(say, made.transposed.marked, files), as_json)
