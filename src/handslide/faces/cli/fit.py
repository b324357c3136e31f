"""The command fit."""

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
from handslide.ground.errors import BadUsage


@command()
@click.argument("rows", required=False, type=click.Path(path_type=Path))
@click.option(
    "--take",
    "takes",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A recording of the notes in ROWS, in their order. Can be given again.",
)
@click.option("--list", "as_list", is_flag=True, help="Print the notes to play, as a ROWS file.")
@click.option(
    "--mark-mm",
    type=float,
    metavar="MM",
    help="With --list: where the slide is set for the second half, such as 450; 0 for none.",
)
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
    rows: Path | None,
    output: Path | None,
    as_list: bool,
    mark_mm: float | None,
    as_json: bool,
    no_thermometer: bool,
    **options: Any,
) -> None:
    """Fit a horn to notes at known extensions and write it as a horn file.

    ROWS is a CSV or TOML file with a row for each note: note, hz (or cents as a tuner shows
    them), valves, partial, extension_mm (0 or empty: closed slide), se_cents. With --take it is
    the list that was played (--list prints one). Nothing leaves this machine and no copy of a take
    is kept; for recordings of minors follow your local rules.
    """
    from handslide.faces.cli.show import table
    from handslide.jobs.tune.fit import fit_file, fit_json, fit_sections, list_notes

    if options["temp_c"] is None:
        options["temp_c"] = 25.0
    if as_list or rows is None:
        if not as_list or rows is not None:
            raise BadUsage("usage.fit_rows")
        keys = ("horn", "a4_hz", "temp_c")
        out(list_notes(**{key: options[key] for key in keys}, mark_mm=mark_mm).rstrip(), False)
        return
    if output is not None and output.suffix.lower() != ".toml":
        raise BadUsage("usage.horn_file_name", file=str(output))
    say = speech_here()
    with progress_bar() as progress:
        fitted = fit_file(
            rows,
            target=output,
            thermometer=not no_thermometer,
            progress=progress,
            say=say,
            **options,
        )
    if as_json:
        out(fit_json(fitted, output, say), as_json)
        return
    sections = fit_sections(fitted, say, output)
    parts = [f"{head}\n{table(cells)}" if cells else head for head, cells in sections]
    out("\n\n".join(parts), as_json)
