"""The command tune."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.cli.bar import progress_bar
from handslide.faces.cli.shared import (
    command,
    common,
    out,
    speech_here,
)


@command()
@click.argument("takes", nargs=-1, type=click.Path(path_type=Path), metavar="[TAKE]...")
@click.option("--open", "open_hz", type=float, metavar="HZ", help="A note on the open horn.")
@click.option(
    "--valve",
    "valve_hz",
    type=float,
    metavar="HZ",
    help="The same note with the valve, slide closed.",
)
@click.option(
    "--with",
    "valves",
    metavar="VALVES",
    help="Which valves were down, such as F or F,Gb. Default: the only one.",
)
@click.option(
    "--note", metavar="NOTE=HZ", help="A note with the valve against A4, such as F3=174.2."
)
@click.option(
    "--main",
    "main_note",
    metavar="NOTE=HZ",
    help="A note without valves against A4, such as Bb3=231.5: the main slide.",
)
@click.option(
    "--play-temp-c",
    type=float,
    metavar="°C",
    help="With --main: temperature in the horn later, when it will be played.",
)
@click.option(
    "--e-pull",
    is_flag=True,
    help="How far the loop must come out for low B with this horn's travel.",
)
@click.option("--low", metavar="NOTE", help="With --e-pull: another low note.")
@click.option(
    "--max-pull-mm",
    type=float,
    metavar="MM",
    help="With --e-pull: how far the loop's slide can come out.",
)
@click.option(
    "--se-cents",
    default=2.0,
    show_default=True,
    type=click.FloatRange(0.0, 100.0),
    help="Standard error of each typed frequency.",
)
@common
def tune(as_json: bool, horn: str, a4_hz: float, temp_c: float | None, **options: Any) -> None:
    """Say which tuning slide to move, which way and how far.

    Play the same note without and with the valve (--open, --valve), or one note against A4
    (--note with the valve, --main without). Tune the main slide first.

    Instead of frequencies, recordings: TAKE is the note without and with the valve by turns, two
    TAKEs are one of each, and with --note F3 or --main Bb3 a TAKE is that note. Nothing leaves
    this machine and no copy is kept; for recordings of minors follow your local rules.
    """
    from handslide.jobs.setup import load_tuned
    from handslide.jobs.tune.tune import tune_json, tune_typed

    with progress_bar() as progress:
        result = tune_typed(load_tuned(horn, a4_hz, temp_c), **options, progress=progress)
    say = speech_here()
    out(tune_json(result, say) if as_json else result.text(say), as_json)
