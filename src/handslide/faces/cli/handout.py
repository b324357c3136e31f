"""The command handout."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.markoptions import existing_option, reading_options, show_option
from handslide.faces.cli.playoptions import measures_option
from handslide.faces.cli.shared import (
    command,
    common,
    force_option,
    limits,
    out,
    profile_option,
    setup_from,
    speech_here,
    student_option,
    switch,
)

if TYPE_CHECKING:
    from handslide.jobs.handout.handout import Handout
    from handslide.words.speech import Speech


@command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    "path",
    type=click.Path(path_type=Path),
    metavar="PAGE.html",
    help="Default: FILE-handout.html beside FILE.",
)
@reading_options
@student_option
@measures_option
@click.option(
    "--tempo",
    "tempo_qpm",
    type=float,
    metavar="QPM",
    help="Quarter notes a minute at full speed. Default: as the part says, else 80.",
)
@switch("others", help="The other parts of the score sound along, softly.")
@click.option("--large", is_flag=True, help="Large type from the start; the page can change it.")
@click.option(
    "--look",
    type=click.Choice(("auto", "light", "dark")),
    default="auto",
    show_default=True,
    help="Light or dark from the start; auto: as the device has it.",
)
@click.option(
    "--lock",
    "locks",
    multiple=True,
    metavar="MEASURE:INDEX=PLACE",
    help="Fix a note's place, such as 12:3=T1. Can be given again.",
)
@show_option
@existing_option
@force_option
@profile_option
@limits
@common
def handout(file: Path, path: Path | None, force: bool, as_json: bool, **options: Any) -> None:
    """Give a part away as one file that plays, shows the slide and prints.

    FILE is a score as for 'mark'. PAGE.html opens in a browser from disk, without network: the
    music with the places over it, the slide moving in time to where each note lies, slower or
    quicker, a loop, a drone, count-in and metronome.
    """
    from handslide.jobs.ahead import start_engraver

    start_engraver()
    from handslide.jobs.handout.handout import HandoutWishes, handout_json, write_handout
    from handslide.jobs.mark.mark import MarkOptions

    marking = {
        key: options.pop(key)
        for key in (
            "part", "voice", "student", "locks", "show", "existing", "small_notes", "sounds",
        )
    }  # fmt: skip
    keys = ("tempo_qpm", "measures", "others", "large", "look")
    mine = {key: options.pop(key) for key in keys}
    if mine["tempo_qpm"] is not None:
        marking["tempo_qpm"] = mine["tempo_qpm"]
    wishes = HandoutWishes(MarkOptions(**marking), **mine)
    setup, say = setup_from(**options), speech_here()
    made, path = write_handout(file, setup, wishes, say, path, force=force)
    if as_json:
        out(handout_json(made, say) | {"files": [str(path)]}, as_json)
    else:
        out(handout_text(say, made, path), as_json)


def handout_text(say: "Speech", made: "Handout", path: Path) -> str:
    """What was made, for people."""
    from handslide.words.handout import MADE
    from handslide.words.listing import WRITTEN

    lines = [
        say(
            MADE,
            title=made.title,
            part=made.part_name,
            count=sum(block.count for block in made.blocks),
            length_s=sum(block.length_s for block in made.blocks),
            size_kb=len(made.data) / 1000.0,
        ),
        *map(say.fact, made.told),
        say(WRITTEN, file=str(path)),
    ]
    return "\n".join(lines)
