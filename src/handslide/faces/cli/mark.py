"""The command mark."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.cli.markoptions import (
    existing_option,
    pdf_options,
    reading_options,
    report_option,
    show_option,
)
from handslide.faces.cli.shared import (
    command,
    common,
    folder_option,
    force_option,
    limits,
    out,
    paper_option,
    profile_option,
    setup_from,
    speech_here,
    student_option,
    tempo_option,
)


@command()
@click.argument("file", type=click.Path(path_type=Path))
@folder_option
@reading_options
@student_option
@click.option(
    "--lock",
    "locks",
    multiple=True,
    metavar="MEASURE:INDEX=PLACE",
    help="Fix a note's place, such as 12:3=T1. Can be given again.",
)
@show_option
@tempo_option
@existing_option
@pdf_options
@paper_option
@report_option
@click.option("--no-pdf", is_flag=True, help="Write the marked score only.")
@force_option
@profile_option
@limits
@common
def mark(
    file: Path, folder: Path | None, no_pdf: bool, force: bool, as_json: bool, **options: Any
) -> None:
    """Mark a part: write its places over the notes, as a score and as a PDF.

    FILE is MusicXML (.musicxml, .xml, .mxl), or Humdrum, MEI, ABC or MIDI. The results are
    FILE-marked.musicxml (or .mxl) and FILE-marked.pdf; FILE itself stays as it is.

    FILE may also be a PDF that a notation program has made (no scan): then FILE-marked.pdf has its
    own pages with the marks over the notes, and the report says what was read with doubt.
    """
    from handslide.jobs.ahead import start_engraver

    if not no_pdf and file.suffix.lower() != ".pdf":
        start_engraver()
    from handslide.faces.cli import show
    from handslide.faces.cli.bar import progress_bar
    from handslide.jobs.mark.mark import MarkOptions
    from handslide.jobs.mark.markjson import mark_json
    from handslide.jobs.mark.pdfwishes import PdfWishes
    from handslide.jobs.mark.written import mark_file

    keys = (
        "part", "voice", "student", "locks", "show", "tempo_qpm", "existing",
        "small_notes", "sounds", "paper", "report",
    )  # fmt: skip
    wishes = MarkOptions(**{key: options.pop(key) for key in keys})
    pdf = PdfWishes(**{name: options.pop(name) for name in PdfWishes.__dataclass_fields__})
    setup, say = setup_from(**options), speech_here()
    with progress_bar() as progress:
        written = mark_file(
            file,
            setup,
            wishes,
            say,
            folder=folder,
            with_pdf=not no_pdf,
            force=force,
            progress=progress,
            pdf=pdf,
        )
    if as_json:
        out(mark_json(say, written.marked, written.files), as_json)
    elif written.marked.checked is not None:
        out(show.checked_text(say, written.marked), as_json)
    else:
        out(show.marked_text(say, written.marked, written.files), as_json)
