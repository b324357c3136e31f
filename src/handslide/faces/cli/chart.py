"""The chart command."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

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
)
from handslide.faces.cli.terminal import tell
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage
from handslide.ground.facts import fact
from handslide.ground.notenames import LANGUAGES
from handslide.ground.papers import CHART_PAPERS, DEFAULT_PAPER
from handslide.jobs.chart.kinds import SHEETS

if TYPE_CHECKING:
    from handslide.jobs.chart.chart import ChartOptions
    from handslide.jobs.chart.classroom import ClassResult

_SHEET_KEYS = ("sheet", "clef", "names", "paper", "landscape", "student", "pedals")


def _sheet_options(options: dict[str, Any]) -> "ChartOptions":
    """Take the options about the sheet out of ``options``."""
    from handslide.jobs.chart.chart import ChartOptions

    wishes = {key: options.pop(key) for key in _SHEET_KEYS}
    low, high = _range(options.pop("range_"))
    return ChartOptions(**wishes, low=low, high=high)


def _range(text: str | None) -> tuple[str | None, str | None]:
    if text is None:
        return None, None
    low, dash, high = text.replace("–", "-").partition("-")
    if not dash or not low.strip() or not high.strip():
        raise BadUsage("usage.range", text=text)
    return low, high


def _make_one(
    output: Path | None,
    sheet: "ChartOptions",
    options: dict[str, Any],
    against: str | None,
    *,
    bell_mm: float | None,
    ppi: float,
    force: bool,
) -> tuple[Path, ...]:
    """Write one chart; the default name says horn and sheet."""
    from handslide.jobs.chart.chart import chart, write_chart
    from handslide.jobs.setup import with_bell

    if sheet.low is not None and not SHEETS[sheet.sheet].on_a_staff:
        raise BadUsage("usage.no_range", sheet=sheet.sheet)
    setup = setup_from(**options)
    if bell_mm is not None:
        setup = with_bell(setup, bell_mm)
    second = None
    if against is not None:
        second = setup_from(**(options | {"horn": against, "valves": None}))
    target = output or Path(f"{setup.horn.name}-{sheet.sheet}.pdf")
    made = chart(setup, sheet, speech_here(sheet.names), second)
    return write_chart(made, target, ppi=ppi, force=force)


def _make_class(
    roster: Path,
    output: Path | None,
    sheet: "ChartOptions",
    options: dict[str, Any],
    *,
    force: bool,
) -> "ClassResult":
    """Write the charts of a class."""
    from handslide.faces.cli.bar import progress_bar
    from handslide.jobs.chart.classroom import chart_class
    from handslide.jobs.classes import ClassDefaults

    if options.pop("valves") is not None:
        raise BadUsage("usage.valves_of_a_class")
    with progress_bar() as progress:
        return chart_class(
            roster,
            output or Path(f"{roster.stem}-charts"),
            ClassDefaults(**options),
            sheet,
            speech_here(sheet.names),
            force=force,
            progress=progress,
        )


def _hand_out(
    target: Path,
    sheet: "ChartOptions",
    options: dict[str, Any],
    bell_mm: float | None,
    *,
    force: bool,
    as_json: bool,
) -> None:
    """Make a chart as one file that is given away."""
    from handslide.jobs.handout.chart import chart_handout
    from handslide.jobs.handout.handout import check_target, handout_json, write_made
    from handslide.jobs.setup import with_bell
    from handslide.words.handout import MADE_CHART
    from handslide.words.listing import WRITTEN

    say = speech_here(sheet.names)
    check_target(target, force=force)
    setup = setup_from(**options)
    if bell_mm is not None:
        setup = with_bell(setup, bell_mm)
    made = chart_handout(setup, sheet, say)
    write_made(made, target, force=force)
    if as_json:
        out(handout_json(made, say) | {"files": [str(target)]}, as_json)
        return
    count, size_kb = made.blocks[0].count, len(made.data) / 1000.0
    told = say(MADE_CHART, title=made.title, count=count, size_kb=size_kb)
    out(f"{told}\n{say(WRITTEN, file=str(target))}", as_json)


@command()
@click.option(
    "--sheet",
    type=click.Choice(tuple(SHEETS)),
    default="all",
    show_default=True,
    help="all notes; only those for the valve; only those without; notes with several places; a "
    "wall chart, read from three metres; a sheet to fill in; the harmonic grid; the paper "
    "strip for the slide; two horns compared.",
)
@click.option("--against", metavar="NAME_OR_FILE", help="Second horn for the sheet 'compare'.")
@click.option(
    "--clef",
    type=click.Choice(tuple(CLEFS)),
    help="Clef; treble-bb is the brass band's, sounding a major ninth lower. "
    "Default: the horn's usual one.",
)
@click.option(
    "--names",
    type=click.Choice(LANGUAGES),
    help="Note names: English, German (with H), fixed do. Default: as the language names them.",
)
@click.option("--range", "range_", metavar="LOW-HIGH", help="Sounding notes, such as E2-F4.")
@click.option(
    "--pedals/--no-pedals",
    default=True,
    help="Whether a sheet without --range begins with the pedal notes of the open horn.",
)
@click.option(
    "--bell-mm",
    type=float,
    metavar="MM",
    help="How far out the brace of the outer slide is level with the bell's rim. Default: that of "
    "the horn file.",
)
@click.option(
    "--paper", type=click.Choice(tuple(CHART_PAPERS)), default=DEFAULT_PAPER, show_default=True
)
@click.option("--landscape/--portrait", default=None, help="Which way the page lies.")
@student_option
@click.option(
    "--class",
    "roster",
    type=click.Path(path_type=Path),
    metavar="ROSTER",
    help="CSV or TOML file with a row for each student: a PDF for each, and one of all.",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Result (.pdf, .svg or .png); with --class the folder for the results.",
)
@click.option(
    "--handout",
    type=click.Path(path_type=Path),
    metavar="PAGE.html",
    help="Give it away as one file instead: tap a note, hear it, and see the slide go there.",
)
@click.option("--ppi", default=150.0, show_default=True, help="Pixels an inch of a PNG.")
@force_option
@profile_option
@limits
@common
def chart(
    roster: Path | None,
    output: Path | None,
    against: str | None,
    bell_mm: float | None,
    ppi: float,
    handout: Path | None,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Print a chart of the horn: its notes and where they lie on the slide."""
    from handslide.words.listing import WRITTEN

    sheet, say = _sheet_options(options), speech_here()
    if handout is not None:
        if roster is not None or output is not None:
            raise BadUsage("handout.alone")
        _hand_out(handout, sheet, options, bell_mm, force=force, as_json=as_json)
        return
    if roster is not None:
        if bell_mm is not None:
            raise BadUsage("usage.bell_of_a_class")
        result = _make_class(roster, output, sheet, options, force=force)
        files = result.files
        problems = [
            say.fact(
                fact("roster.row", number=row.number, student=row.student, problem=row.problem)
            )
            for row in result.broken
        ]
    else:
        files = _make_one(output, sheet, options, against, bell_mm=bell_mm, ppi=ppi, force=force)
        problems = []
    shown = {"files": [str(path) for path in files], "problems": problems}
    out(shown if as_json else "\n".join(say(WRITTEN, file=path) for path in files), as_json)
    if problems:
        tell("\n".join(f"handslide: {problem}" for problem in problems), err=True)
        raise click.exceptions.Exit(1)
