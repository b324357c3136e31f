"""The command that finds literature in a marked library."""

from pathlib import Path

import click

from handslide.faces.cli.shared import command, json_option, out, speech_here
from handslide.ground.limits import LIBRARY_FOUND


@command()
@click.argument("folder", metavar="OUT", type=click.Path(path_type=Path))
@click.option("--student", metavar="NAME", help="For this student, or horn. Default: for anybody.")
@click.option(
    "--max-speed",
    metavar="PACE",
    help="No move of the slide quicker: easy, quick, or metres a second such as 3.5.",
)
@click.option("--range", "span", metavar="LOW-HIGH", help="Sounding notes within, such as E2-F4.")
@click.option(
    "--max-position", type=float, metavar="POSITION", help="No position further out, such as 5."
)
@click.option(
    "--valves/--no-valves",
    default=None,
    help="Only parts that use a valve, or none. Default: either.",
)
@click.option("--unplayable", is_flag=True, help="Also parts with notes that can't be played.")
@click.option(
    "--most",
    type=click.IntRange(1),
    default=LIBRARY_FOUND,
    show_default=True,
    metavar="N",
    help="Show no more than these.",
)
@json_option
def search(
    folder: Path, student: str | None, max_speed: str | None, span: str | None,
    max_position: float | None, valves: bool | None, unplayable: bool, most: int, as_json: bool,
) -> None:  # fmt: skip
    """Find parts in OUT, a library that was marked, the hardest first."""
    from handslide.edges.manifest.manifest import Wish
    from handslide.faces.cli.show_library import found_text
    from handslide.jobs.library.libraryjson import found_json
    from handslide.jobs.library.search import parse_range, parse_speed, search_library

    low, high = (None, None) if span is None else parse_range(span)
    wish = Wish(
        speed_m_s=None if max_speed is None else parse_speed(max_speed),
        position=max_position, low=low, high=high, valves=valves, unplayable=unplayable,
    )  # fmt: skip
    found = search_library(folder, wish, student)
    shown = found[:most]
    say = speech_here()
    out(found_json(shown, len(found)) if as_json else found_text(say, shown, len(found)), as_json)
