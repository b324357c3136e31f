"""Options that the commands drill and lesson share."""

from pathlib import Path
from typing import Any

import click

from handslide.ground.errors import BadUsage

KINDS = (
    "scales", "arpeggios", "thirds", "register", "alternates", "accuracy", "glissandi", "slurs",
    "intonation", "worst",
)  # fmt: skip
LEVELS = ("first-year", "second-year", "advanced")
level_option = click.option(
    "--level",
    type=click.Choice(LEVELS),
    default="second-year",
    show_default=True,
    help="What a student can do: range, keys, rhythms, tempo, and reach at most.",
)
seed_option = click.option(
    "--seed",
    type=click.IntRange(0, 10**9),
    default=1,
    show_default=True,
    metavar="NUMBER",
    help="Another number makes another sheet, the same number the same sheet.",
)
clef_option = click.option(
    "--clef",
    type=click.Choice(["bass", "tenor", "alto", "treble", "treble-bb"]),
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


def faults_of(report: Path | None, setup: Any) -> Any:
    if report is None:
        return ()
    # What reads reports knows of hearing, which takes long to load.
    from handslide.jobs.practice.faults import read_faults

    return read_faults(report, setup)


def range_ends(span: str | None) -> tuple[str | None, str | None]:
    if span is None:
        return None, None
    low, dash, high = span.partition("-")
    if not dash or not low.strip() or not high.strip():
        raise BadUsage(f"{span!r} isn't a range: write two notes with a dash, such as E2-F4")
    return low.strip(), high.strip()
