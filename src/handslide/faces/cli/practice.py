"""Options that the commands of practice material share."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from handslide.drills.kinds import DRILLS, MOST_SEED
from handslide.drills.levels import DEFAULT_LEVEL, LEVELS
from handslide.drills.routine import MINUTES
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage
from handslide.jobs.practice.soundwishes import TAKE_ALONG

level_option = click.option(
    "--level",
    type=click.Choice(tuple(LEVELS)),
    default=DEFAULT_LEVEL,
    show_default=True,
    help="What a student can do: range, keys, rhythms, tempo, and reach at most.",
)
seed_option = click.option(
    "--seed",
    type=click.IntRange(0, MOST_SEED),
    default=1,
    show_default=True,
    metavar="NUMBER",
    help="Another number makes another sheet, the same number the same sheet.",
)
minutes_option = click.option(
    "--minutes",
    type=click.Choice(tuple(map(str, MINUTES))),
    default="20",
    show_default=True,
    callback=lambda _ctx, _param, value: int(value),
    help="How long a day's routine is.",
)
clef_option = click.option(
    "--clef",
    type=click.Choice(tuple(CLEFS)),
    help="Default: what the horn is usually read in.",
)
report_option = click.option(
    "--from",
    "report",
    type=click.Path(path_type=Path),
    metavar="REPORT.json",
    help="What 'handslide listen --json' or 'handslide progress --json' printed: the notes that "
    "went worst.",
)
drones_option = click.option(
    "--drones",
    type=click.Choice((*TAKE_ALONG, "none")),
    help="Of exercises over a drone (intonation) two sounds each beside the sheet: the drone, and "
    "the exercise played over it, pure. Default: mp3, or none where no sheet is written.",
)
handout_option = click.option(
    "--handout",
    is_flag=True,
    help="Also one .html file beside the sheet, for the student: every exercise plays and shows "
    "the slide of this horn, and what is ticked stays ticked.",
)


def faults_of(report: Path | None, setup: Any) -> Any:
    """The notes of a report, for trouble spots; none without a report."""
    if report is None:
        return ()
    # What reads reports knows of hearing, which takes long to load.
    from handslide.jobs.practice.faults import read_faults

    return read_faults(report, setup)


def check_report(kinds: Iterable[str], report: Path | None) -> None:
    """Raise BadUsage for a kind of drill that needs a report where there is none."""
    for kind in kinds:
        if kind in DRILLS and DRILLS[kind].from_report and report is None:
            raise BadUsage("usage.no_report", drill=kind)


def range_ends(span: str | None) -> tuple[str | None, str | None]:
    """The names of both notes of a range as typed. Raises BadUsage."""
    if span is None:
        return None, None
    low, dash, high = span.partition("-")
    if not dash or not low.strip() or not high.strip():
        raise BadUsage("usage.range", text=span)
    return low.strip(), high.strip()
