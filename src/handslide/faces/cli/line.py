"""The command line."""

from typing import Any

import click

from handslide.faces.cli.shared import (
    command,
    common,
    limits,
    out,
    profile_option,
    setup_from,
    speech_here,
)


@command()
@click.argument("notes", metavar='"NOTES"')
@click.option(
    "--tempo",
    "tempo_qpm",
    default=80.0,
    show_default=True,
    metavar="QPM",
    help="Quarter notes a minute; one beat is a quarter note.",
)
@click.option(
    "--lock",
    "locks",
    multiple=True,
    metavar="INDEX=PLACE",
    help="Fix a note's place, such as 4=T1. Can be given again.",
)
@profile_option
@limits
@common
def line(
    notes: str, tempo_qpm: float, locks: tuple[str, ...], as_json: bool, **options: Any
) -> None:
    """Choose the best route through a typed line, such as "Eb3 D3 Db3 C3".

    Notes may carry :beats (F2:0.5), ( ) around slurred notes, ~ between two for a glissando;
    r:beats is a rest.
    """  # fmt: skip
    from handslide.faces.cli import show
    from handslide.jobs.mark.line import line_json, route_typed

    routed = route_typed(setup_from(**options), notes, tempo_qpm=tempo_qpm, locks=locks)
    say = speech_here()
    out(line_json(say, routed) if as_json else show.line_text(say, routed), as_json)
