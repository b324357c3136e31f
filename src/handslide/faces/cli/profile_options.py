"""Options of the commands that learn a profile."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from handslide.instrument.learning.example import Stand
    from handslide.jobs.partwishes import PartWishes

base_option = click.option(
    "--base",
    metavar="NAME",
    help="The profile to begin from. Default: as before; for a new one bass for horns with two "
    "valves, else classical.",
)


def part_wishes(options: dict[str, Any]) -> "PartWishes":
    """What is to be read of a part; taken out of ``options``."""
    from handslide.jobs.partwishes import PartWishes

    return PartWishes(**{name: options.pop(name) for name in PartWishes.__dataclass_fields__})


def stand_from(options: dict[str, Any]) -> "Stand":
    """The horn, its tuning and the student's limits; taken out of ``options``."""
    from handslide.edges.files.horns import load_horn
    from handslide.ground.cleantext import clean_line
    from handslide.instrument.learning.example import Stand
    from handslide.jobs.setup import parse_learned

    learned = parse_learned(options.pop("valves"))
    horn = load_horn(options.pop("horn"))
    return Stand(
        # It is kept, and a file's name may have signs that no text has.
        replace(horn, name=clean_line(horn.name), title=clean_line(horn.title)),
        options.pop("a4_hz"),
        options.pop("temp_c"),
        options.pop("reach"),
        None if learned is None else tuple(learned),
    )
