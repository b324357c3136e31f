"""Options of the commands that read and mark parts."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.cli.shared import part_option, voice_option
from handslide.instrument.markstyle import EXISTING, REPORTS, SHOWN, SOUNDS

show_option = click.option(
    "--show",
    type=click.Choice(SHOWN),
    default=SHOWN[0],
    show_default=True,
    help="Which notes get a mark: all, those away from their usual "
    "place, or each note's first time and its changes.",
)
existing_option = click.option(
    "--existing",
    type=click.Choice(EXISTING),
    default=EXISTING[0],
    show_default=True,
    help="Fingerings that are in the part: keep those that are places of their notes, replace all, "
    "lock the route to them at any cost, or only check them, which writes nothing.",
)
small_notes_option = click.option(
    "--small-notes",
    is_flag=True,
    help="Notes printed small are the player's own (a cadenza), not another player's cue.",
)
sounds_option = click.option(
    "--sounds",
    type=click.Choice(SOUNDS),
    help="How a part sounds where its file states no transposition: as written, or a major ninth "
    "lower, as brass-band parts in treble clef do. Default: as written, with a warning where the "
    "part's name says otherwise.",
)


def reading_options(command: Any) -> Any:
    """What to read of a score, and how: ``part``, ``voice``, ``small_notes``, ``sounds``."""
    for option in (sounds_option, small_notes_option, voice_option, part_option):
        command = option(command)
    return command


report_option = click.option(
    "--report",
    type=click.Choice(REPORTS),
    default=REPORTS[0],
    show_default=True,
    help="Where the report is printed: on a page behind the part, in a file of its own "
    "(FILE-marked-report.pdf), or nowhere.",
)


def pdf_options(command: Any) -> Any:
    """What to put right in reading a PDF; the names are those of `PdfWishes`."""
    for option in (
        click.option(
            "--write-notes",
            type=click.Path(path_type=Path),
            metavar="FILE.csv",
            help="Of a PDF: write what was read as a table, a row for each note, to be corrected.",
        ),
        click.option(
            "--notes",
            "notes_file",
            type=click.Path(path_type=Path),
            metavar="FILE.csv",
            help="Of a PDF: a table of --write-notes, with corrected pitches.",
        ),
        click.option(
            "--staff",
            type=int,
            metavar="N",
            help="Of a PDF with several staves a system: which staff, the top one is 1.",
        ),
        click.option(
            "--sign",
            "signs",
            multiple=True,
            metavar="SIGN=KIND",
            help="What a sign is that the report calls unknown, such as clef.F; remembered. Can be "
            "given again.",
        ),
        click.option(
            "--note",
            "notes",
            multiple=True,
            metavar="PLACE=PITCH",
            help="Of a PDF: the written pitch of a note, by PAGE.SYSTEM.BAR.ITEM, such as "
            "1.2.3.4=Bb3, or =none where there is no note. Can be given again.",
        ),
        click.option(
            "--key",
            "keys",
            multiple=True,
            metavar="PAGE.SYSTEM=KEY",
            help="Of a PDF: the key signature of a system, such as 1.2=3♭ (or -3). Can be given "
            "again.",
        ),
        click.option(
            "--clef",
            "clefs",
            multiple=True,
            metavar="PAGE.SYSTEM=CLEF",
            help="Of a PDF: the clef of a system: bass, tenor, alto or treble. Can be given again.",
        ),
    ):
        command = option(command)
    return command
