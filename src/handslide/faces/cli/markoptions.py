"""Options of the commands that read and mark parts."""

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
