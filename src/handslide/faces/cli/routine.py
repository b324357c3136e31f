"""The command routine."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.cli.practice import (
    clef_option,
    drones_option,
    faults_of,
    handout_option,
    level_option,
    minutes_option,
    report_option,
    seed_option,
)
from handslide.faces.cli.shared import (
    command,
    common,
    force_option,
    limits,
    out,
    paper_option,
    profile_option,
    setup_from,
    speech_here,
    student_option,
)


@command()
@minutes_option
@click.option(
    "--key", metavar="TONIC", help="Key of the week, such as Bb. Default: that of --week."
)
@click.option("--scale", metavar="NAME", help="Its scale, such as major or harmonic-minor.")
@click.option(
    "--week",
    type=click.IntRange(1),
    default=1,
    show_default=True,
    metavar="NUMBER",
    help="Which week: each has a key of its own, in the order of 'handslide plan'.",
)
@level_option
@seed_option
@clef_option
@paper_option
@student_option
@report_option
@click.option(
    "-o",
    "--output",
    "target",
    type=click.Path(path_type=Path),
    metavar="FILE.pdf",
    default=Path("routine.pdf"),
    show_default=True,
    help="The sheet to write.",
)
@drones_option
@handout_option
@force_option
@profile_option
@limits
@common
def routine(
    week: int, seed: int, report: Path | None, target: Path, drones: str | None,
    handout: bool, force: bool, as_json: bool, **options: Any,
) -> None:  # fmt: skip
    """Make a daily routine of 10, 20 or 30 minutes for a week, with boxes to tick.

    Breathing, long tones, lip slurs that grow through the week, the key of the week in another
    articulation each day, range, a tune; with --from also the notes that went worst. The minutes
    are those of what is printed, with its rests.

    Rest when something hurts, and never stretch for a position.
    """
    from handslide.jobs.ahead import start_engraver

    start_engraver()
    from handslide.faces.cli.show_practice import routine_text
    from handslide.jobs.handout.exercises import routine_handout
    from handslide.jobs.handout.handout import HandoutWishes, page_beside, write_page
    from handslide.jobs.mark.report import found_json
    from handslide.jobs.practice.routine import Asked, make_week, write_routine

    keys = ("minutes", "level", "key", "scale", "clef", "paper", "student")
    values = {key: options.pop(key) for key in keys}
    setup = setup_from(**options)
    faults = faults_of(report, setup)
    say = speech_here()
    made = make_week(setup, Asked(**values, week=week - 1, faults=faults), seed)
    page = page_beside(target, force=force) if handout else None
    files, found = write_routine(made, target, say, drones=drones, force=force)
    if page is not None:
        files.append(write_page(routine_handout(made, HandoutWishes(), say), page, force=force))
    if as_json:
        warnings = [found_json(say, row) for row in found]
        out({**made.json(say), "warnings": warnings, "files": list(map(str, files))}, as_json)
    else:
        out(routine_text(say, made, files, found), as_json)
