"""A plan over weeks as a sheet with boxes, and each week's routine beside it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from handslide.drills.kinds import MOST_SEED, drill_kind
from handslide.drills.levels import DEFAULT_LEVEL, Level, level_of
from handslide.drills.plan import Weak, Week, make_weeks
from handslide.drills.routine import DAYS, MINUTES
from handslide.drills.troublespots import TroubleSpot
from handslide.edges.engraving.engrave import paper_named
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.typesetting.plansheet import PlanDay, PlanSheet, PlanWeek, typeset_plan
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.papers import DEFAULT_PAPER
from handslide.instrument.progress.comeback import GAPS_DAYS
from handslide.jobs.mark.report import Found
from handslide.jobs.mark.routed import setup_json
from handslide.jobs.practice.drill import at_level
from handslide.jobs.practice.drilldrones import NONE
from handslide.jobs.practice.routine import Asked, Routine, make_week, write_routine
from handslide.jobs.setup import Setup
from handslide.words.cautions import OVERUSE
from handslide.words.drills import drill_name
from handslide.words.horns import horn_line, limits_line
from handslide.words.practice import student_line
from handslide.words.routine import (
    PLAN_NOTE,
    WRITE_WEAK,
    day_line,
    plan_line,
    plan_title,
    week_dates,
    week_title,
)
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class PlanWishes:
    """What is asked for. ``start`` is the first day of the first week; ``weak`` are kinds of drills
    with the day on which they were found weak (None: the first day)."""

    start: date
    weeks: int = 8
    minutes: int = 20
    level: str = DEFAULT_LEVEL
    weak: tuple[tuple[str, date | None], ...] = ()
    clef: str | None = None
    paper: str = DEFAULT_PAPER
    student: str = ""


@dataclass(frozen=True, eq=False)
class Plan:
    """The weeks of a student on a horn."""

    setup: Setup
    wishes: PlanWishes
    level: Level
    seed: int
    weeks: tuple[Week, ...]

    def day(self, week: int, day: int) -> date:
        """The date of a day, both counted from 0."""
        return self.wishes.start + timedelta(days=week * DAYS + day)

    def scale(self, week: Week) -> Fact:
        """The scale of a week."""
        return fact("drills.scale", name=week.key.scale, tonic=week.key.tonic)

    def asked(
        self,
        week: Week,
        day: int | None = None,
        faults: tuple[TroubleSpot, ...] = (),
        back: tuple[tuple[TroubleSpot, tuple[int, ...]], ...] = (),
    ) -> Asked:
        """What a week, or one of its days, asks of a routine. ``faults`` are trouble spots of every
        day, ``back`` those of some (0 to 6)."""
        wishes = self.wishes
        return Asked(
            wishes.minutes, wishes.level, week.key.name, week.key.scale, week.number, wishes.clef,
            wishes.paper, wishes.student, faults, week.again, back, day, wishes.start.weekday(),
        )  # fmt: skip

    def routine(
        self,
        week: Week,
        day: int | None = None,
        faults: tuple[TroubleSpot, ...] = (),
        back: tuple[tuple[TroubleSpot, tuple[int, ...]], ...] = (),
    ) -> Routine:
        """The routine of a week, or of one of its days, as `asked`. Raises BadUsage."""
        return make_week(self.setup, self.asked(week, day, faults, back), self.seed)

    def title(self, say: Speech) -> str:
        """What stands over it."""
        return plan_title(say, len(self.weeks))

    def pdf(self, say: Speech) -> bytes:
        """The printed sheet. Raises BadUsage, OutputError."""
        setup = at_level(self.setup, self.level)
        limits = limits_line(say, setup.horn, setup.book.limits)
        return typeset_plan(
            PlanSheet(
                title=self.title(say),
                subtitle=plan_line(say, self.level.name, self.wishes.minutes),
                student_line=student_line(say, self.wishes.student, limits),
                horn_line=horn_line(say, setup.horn),
                note=say(PLAN_NOTE),
                weeks=tuple(self._week(week, say) for week in self.weeks),
                cautions=(say(OVERUSE),),
                paper=paper_named(self.wishes.paper),
                language=say.language.code,
            )
        )

    def _week(self, week: Week, say: Speech) -> PlanWeek:
        days = []
        for day, articulation in enumerate(week.articulations):
            when = self.day(week.number, day)
            again = tuple(drill_name(say, kind) for kind in week.again_on(day))
            what = say.capital(say.named("articulation", articulation))
            days.append(PlanDay(day_line(say, when), what, again))
        return PlanWeek(
            title=week_title(say, week.number + 1),
            key=say.fact(self.scale(week)),
            dates=week_dates(say, self.day(week.number, 0), self.day(week.number, DAYS - 1)),
            days=tuple(days),
            write=say(WRITE_WEAK),
        )

    def json(self, say: Speech) -> dict[str, Any]:
        """JSON of ``handslide plan``, but for its warnings."""
        return {
            **setup_json(say, self.setup),
            "title": self.title(say),
            "level": self.level.name,
            "minutes": self.wishes.minutes,
            "seed": self.seed,
            "gaps_days": list(GAPS_DAYS),
            "weeks": [
                {
                    "week": week.number + 1,
                    "key": week.key.name,
                    "scale": week.key.scale,
                    "title": say.fact(self.scale(week)),
                    "days": [
                        {
                            "date": self.day(week.number, day).isoformat(),
                            "articulation": articulation,
                            "again": list(week.again_on(day)),
                        }
                        for day, articulation in enumerate(week.articulations)
                    ],
                }
                for week in self.weeks
            ],
        }


def make_plan(setup: Setup, wishes: PlanWishes, seed: int = 1) -> Plan:
    """Make a plan for a student on a horn.

    Raises
    ------
    BadUsage
        No such level, kind or number of minutes; too many weeks; no key within the limits.
    """
    level = level_of(wishes.level)
    if wishes.minutes not in MINUTES:
        raise BadUsage("routine.minutes", minutes=wishes.minutes, known=MINUTES)
    if not 0 <= seed <= MOST_SEED:
        raise BadUsage("drills.seed", seed=seed, most=MOST_SEED)
    paper_named(wishes.paper)
    weak = []
    for kind, found in wishes.weak:
        if drill_kind(kind).from_report:
            raise BadUsage("routine.not_again", drill=kind)
        weak.append(Weak(kind, 0 if found is None else (found - wishes.start).days))
    weeks = make_weeks(at_level(setup, level), level, wishes.weeks, weak)
    return Plan(setup, wishes, level, seed, weeks)


def write_plan(
    plan: Plan,
    folder: Path,
    say: Speech,
    *,
    sheets: bool = False,
    drones: str | None = NONE,
    force: bool = False,
) -> tuple[list[Path], tuple[Found, ...]]:
    """Write plan.pdf into a folder, and with ``sheets`` plan-week-1.pdf and so on: the routines,
    with their ``drones`` as `write_routine`.

    Gives the files and the warnings as `write_routine`. Raises BadUsage, OutputError.
    """
    target = folder / "plan.pdf"
    names = [folder / f"plan-week-{week.number + 1}.pdf" for week in plan.weeks]
    for path in (target, *names) if sheets else (target,):
        check_free(path, force=force)
    write_result(target, plan.pdf(say), force=force)
    files: list[Path] = [target]
    found: list[Found] = []
    for path, routine in zip(names, _routines(plan)) if sheets else ():
        written, rows = write_routine(routine, path, say, drones=drones, force=force)
        files += written
        found += rows
    return files, tuple(found)


def _routines(plan: Plan) -> Iterator[Routine]:
    return (plan.routine(week) for week in plan.weeks)
