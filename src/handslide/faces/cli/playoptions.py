"""Options of the commands that play a part."""

from typing import Any

import click

_tempo_option = click.option(
    "--tempo",
    "tempo_qpm",
    type=float,
    metavar="QPM",
    help="Quarter notes a minute at the start. Default: as the part says, else 80.",
)
_speed_option = click.option(
    "--speed",
    "speed_percent",
    type=float,
    metavar="PERCENT",
    help="Tempo beside that of the part, such as 75.",
)
measures_option = click.option(
    "--measures", metavar="FIRST-LAST", help="Only these, such as 5-12; #N is the Nth of the part."
)
count_in_option = click.option(
    "--count-in",
    default=1,
    show_default=True,
    metavar="MEASURES",
    help="Measures of clicks before the music.",
)


def pace_options(command: Any) -> Any:
    """How quick: ``tempo_qpm``, ``speed_percent``."""
    return _tempo_option(_speed_option(command))
