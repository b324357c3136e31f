"""The command that learns a profile."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.cli.markoptions import reading_options
from handslide.faces.cli.profile_options import base_option, part_wishes, stand_from
from handslide.faces.cli.shared import command, common, limits, out, speech_here, tempo_option


@command()
@click.argument("name")
@click.argument("parts", nargs=-1, type=click.Path(path_type=Path), metavar="[PART]...")
@click.option(
    "--seen",
    metavar="MEASURE",
    help="You have read PART up to the end of this measure (12, #45 for the 45th, or 'end'): what "
    "has no fingering there counts as left standing. Default: fingerings count, nothing else.",
)
@base_option
@click.option(
    "--studio",
    "folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Learn from the choices in the studio in this folder, too, if it may collect them.",
)
@reading_options
@tempo_option
@limits
@common
def learn(
    name: str,
    parts: tuple[Path, ...],
    seen: str | None,
    base: str | None,
    folder: Path | None,
    as_json: bool,
    **options: Any,
) -> None:
    """Learn a profile from parts with fingerings, or from the studio's choices.

    NAME becomes a profile of your own, to be given with --profile. PART is a score with positions
    over its notes, such as a notation program writes. What was learnt from it before is replaced;
    without PART, all is learnt again.

    What is learnt is taken only where it does at least as well as the profile that it began from
    on passages that were left out. Nothing leaves this machine.
    """
    from handslide.faces.cli.bar import progress_bar
    from handslide.faces.cli.show_profile import taught_text
    from handslide.instrument.markstyle import parse_style
    from handslide.jobs.profile.profilejson import taught_json
    from handslide.jobs.profile.teach import learn_from

    say, wishes, marks = speech_here(), part_wishes(options), options["marks"]
    studio = None
    if folder is not None:
        from handslide.studio.learning.examples import folder_examples

        studio = folder_examples(folder)
    with progress_bar() as progress:
        taught = learn_from(
            name, parts, stand_from(options), wishes, say,
            marks=marks, seen=seen, base=base, studio=studio, progress=progress,
        )  # fmt: skip
    style = parse_style(marks)
    out(taught_json(say, taught, style) if as_json else taught_text(say, taught, style), as_json)
