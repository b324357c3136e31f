"""The command lesson."""

from pathlib import Path
from typing import Any

import click

from handslide.drills.kinds import DRILLS
from handslide.drills.ladder import MOST_LADDERS
from handslide.faces.cli.markoptions import reading_options
from handslide.faces.cli.practice import (
    check_report,
    clef_option,
    drones_option,
    faults_of,
    handout_option,
    level_option,
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
    tempo_option,
)


@command()
@click.argument("file", type=click.Path(path_type=Path), metavar="PART")
@reading_options
@click.option(
    "--drill",
    "drills",
    multiple=True,
    type=click.Choice(tuple(DRILLS)),
    help="A drill of the week. Can be given again. Default: what suits horn and student.",
)
@click.option(
    "--ladders", type=click.IntRange(0, MOST_LADDERS), default=1, show_default=True,
    metavar="NUMBER", help="How many of the hardest spots get a ladder: rhythms, one more note "
    "each time, from the end.",
)  # fmt: skip
@tempo_option
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
    help="The sheet to write. Default: PART-lesson.pdf beside PART.",
)
@drones_option
@handout_option
@force_option
@profile_option
@limits
@common
def lesson(
    file: Path,
    drills: tuple[str, ...],
    seed: int,
    report: Path | None,
    target: Path | None,
    drones: str | None,
    handout: bool,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Make a lesson sheet: warm-up, drills of the week, hard spots of PART, a log to tick.

    The hard spots are found from the part's own route: quickest moves, changes of valve, unusual
    places. With --from the notes that went worst are practised too. PART itself stays as it is.

    Rest when something hurts, and never stretch for a position.
    """
    from handslide.jobs.ahead import start_engraver

    start_engraver()
    from handslide.faces.cli.show_practice import lesson_text
    from handslide.jobs.handout.handout import HandoutWishes, page_beside, write_page
    from handslide.jobs.handout.lesson import lesson_handout
    from handslide.jobs.mark.report import found_json
    from handslide.jobs.practice.lesson import LessonWishes, lesson_file, sheet_beside

    keys = (
        "level", "part", "voice", "small_notes", "sounds", "tempo_qpm", "student", "paper", "clef",
        "ladders",
    )  # fmt: skip
    values = {key: options.pop(key) for key in keys}
    setup = setup_from(**options)
    check_report(drills, report)
    faults = faults_of(report, setup)
    nothing = report is not None and not faults
    wishes = LessonWishes(**values, drills=drills or None, faults=faults, nothing_sure=nothing)
    say = speech_here()
    target = target or sheet_beside(file)
    page = page_beside(target, force=force) if handout else None
    made, files, found = lesson_file(
        file, setup, wishes, say, seed=seed, target=target, drones=drones, force=force
    )
    if page is not None:
        files.append(write_page(lesson_handout(made, HandoutWishes(), say), page, force=force))
    if as_json:
        warnings = [found_json(say, row) for row in found]
        out({**made.json(say), "warnings": warnings, "files": list(map(str, files))}, as_json)
    else:
        out(lesson_text(say, made, files, found), as_json)
