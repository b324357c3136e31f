"""The commands tune and fit."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.shared import common, out
from handslide.ground.errors import BadUsage


@click.command()
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
def tune(as_json: bool, horn: str, a4_hz: float, temp_c: float, **options: Any) -> None:
    """Say which tuning slide to move, which way and how far.

    Play the same note without and with the valve (--open, --valve), or one note against A4
    (--note with the valve, --main without). Tune the main slide first.
    """
    from handslide.jobs.tune import load_tuned, tune_json, tune_typed

    result = tune_typed(load_tuned(horn, a4_hz, temp_c), **options)
    out(tune_json(result) if as_json else result.text, as_json)


@click.command()
@click.argument("rows", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Horn file to write, such as own.toml.",
)
@click.option("--name", "title", metavar="TITLE", help="What the horn is called on sheets.")
@click.option(
    "--no-thermometer",
    is_flag=True,
    help="The temperature isn't known: take the scale of millimetres from the marks.",
)
@click.option("--force", is_flag=True, help="Replace a horn file that exists.")
@common
def fit(
    rows: Path,
    output: Path | None,
    title: str | None,
    no_thermometer: bool,
    force: bool,
    as_json: bool,
    horn: str,
    a4_hz: float,
    temp_c: float,
) -> None:
    """Fit a horn to notes at known extensions and write it as a horn file.

    ROWS is a CSV or TOML file with a row for each note: note, hz (or cents as a tuner shows
    them), valves, partial, extension_mm (0 or empty: closed slide), se_cents.
    """
    from handslide.faces.show import table
    from handslide.jobs.fit import fit_file, fit_json, fit_sections

    if output is not None and output.suffix.lower() != ".toml":
        raise BadUsage(f"{output}: a horn file ends in .toml")
    fitted = fit_file(
        rows,
        horn,
        output,
        title=title,
        a4_hz=a4_hz,
        temp_c=temp_c,
        thermometer=not no_thermometer,
        force=force,
    )
    if as_json:
        out(fit_json(fitted, output), as_json)
        return
    sections = fit_sections(fitted, output)
    out(
        "\n\n".join(f"{head}\n{table(cells)}" if cells else head for head, cells in sections), False
    )
