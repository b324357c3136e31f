"""The command plan."""

from datetime import date, datetime
from pathlib import Path
from typing import Any

import click

from handslide.drills.kinds import DRILLS
from handslide.drills.plan import MOST_WEEKS
from handslide.faces.cli.practice import (
    clef_option,
    drones_option,
    level_option,
    minutes_option,
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
from handslide.ground.errors import BadUsage

_DATE = click.DateTime(formats=["%Y-%m-%d"])


@command()
@click.option(
    "--weeks", type=click.IntRange(1, MOST_WEEKS), default=8, show_default=True, metavar="NUMBER",
    help="How many weeks: each has a key of its own.",
)  # fmt: skip
@click.option("--start", type=_DATE, metavar="DATE", help="The first day. Default: today.")
@minutes_option
@click.option(
    "--weak", "weak", multiple=True, metavar="KIND[=DATE]",
    help="A kind of drill that is weak, and when that was found (default: on the first day): it "
    "comes back after 1, 3 and 7 days. Can be given again.",
)  # fmt: skip
@level_option
@seed_option
@clef_option
@paper_option
@student_option
@click.option("--sheets", is_flag=True, help="Write each week's routine, too.")
@drones_option
@click.option(
    "-o",
    "--output",
    "folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    default=Path(),
    help="Folder for plan.pdf. Default: this one.",
)
@force_option
@profile_option
@limits
@common
def plan(
    weeks: int, start: datetime | None, weak: tuple[str, ...], seed: int, folder: Path,
    sheets: bool, drones: str | None, force: bool, as_json: bool, **options: Any,
) -> None:  # fmt: skip
    """Plan weeks of practice: a key a week, each day in another articulation.

    First years begin with the horn's own key and flats; later the weeks go round the circle of
    fifths. Only keys within reach come. What is weak comes back after 1, 3 and 7 days.
    """
    from handslide.jobs.ahead import start_engraver

    start_engraver()
    from handslide.faces.cli.show_practice import plan_text
    from handslide.jobs.mark.report import found_json
    from handslide.jobs.practice.plan import PlanWishes, make_plan, write_plan

    values = {key: options.pop(key) for key in ("minutes", "level", "clef", "paper", "student")}
    setup = setup_from(**options)
    first = date.today() if start is None else start.date()
    wishes = PlanWishes(first, weeks, weak=tuple(map(_weak, weak)), **values)
    say = speech_here()
    made = make_plan(setup, wishes, seed)
    files, found = write_plan(made, folder, say, sheets=sheets, drones=drones, force=force)
    if as_json:
        warnings = [found_json(say, row) for row in found]
        out({**made.json(say), "warnings": warnings, "files": list(map(str, files))}, as_json)
    else:
        out(plan_text(say, made, files, found), as_json)


def _weak(text: str) -> tuple[str, date | None]:
    """A kind and the day on which it was found weak, as typed. Raises BadUsage."""
    kind, given, day = text.partition("=")
    if kind not in DRILLS:
        raise BadUsage("drills.no_kind", wish=kind, known=tuple(DRILLS))
    try:
        return kind, date.fromisoformat(day) if given else None
    except ValueError:
        raise BadUsage("usage.date", text=day) from None
