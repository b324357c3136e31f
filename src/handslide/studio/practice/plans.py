"""A student's plan in the studio: its weeks and days, what takes fill in by themselves.

A day has a box for each part of its routine. A take of that day fills the box of a part when an
exercise of it stands in what was heard; what came back is filled when its notes went well that day.
By hand a box is ticked, or a take's tick taken off; ticking again takes that back.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from handslide.drills.levels import LEVELS
from handslide.drills.plan import MOST_WEEKS, Week
from handslide.drills.played import is_played
from handslide.drills.routine import DAYS, MINUTES, Block
from handslide.edges.store.plans import (
    PlanRow,
    delete_plan,
    find_plan,
    insert_plan,
    number_of_plans,
    select_ticks,
    set_tick,
)
from handslide.edges.store.takes import select_judged_takes, select_notes
from handslide.ground.errors import BadUsage, NotFound
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.practice.music import mark_pieces, struck
from handslide.jobs.practice.plan import Plan, PlanWishes, make_plan
from handslide.jobs.practice.routine import Routine, unmarked_week
from handslide.studio.cache import CacheKind
from handslide.studio.days import local_day
from handslide.studio.practice.comebacks import Back, comebacks
from handslide.studio.practice.sheets import Player, first_level, player_of
from handslide.studio.studio import Studio

FIRST_WEEKS, FIRST_MINUTES = 8, 20
_HEARD = ("right", "free")
_BACK = "back:"
_BLOCKS: CacheKind[tuple[object, ...], tuple[Block, ...]] = CacheKind(60)
_NO_ROW = 0  # of a plan that isn't kept
_MOST_BACK = 2  # things that come back on one day's sheet


@dataclass(frozen=True, slots=True)
class Box:
    """Something to do on a day. ``by``: ``take`` or ``hand`` that filled it; empty: open.

    ``item`` names it in the store, ``block`` is the part of the routine and ``seconds`` how long
    that takes, ``back`` what comes back.
    """

    item: str
    by: str
    block: str = ""
    seconds: float = 0.0
    back: Back | None = None


@dataclass(frozen=True, slots=True)
class Day:
    """A day of a plan, counted from 0 on its first one."""

    number: int
    when: date
    articulation: str
    boxes: tuple[Box, ...]

    @property
    def done(self) -> int:
        """How many boxes are filled."""
        return sum(bool(box.by) for box in self.boxes)

    @property
    def seconds(self) -> float:
        """How long all of its routine takes."""
        return sum(box.seconds for box in self.boxes)


@dataclass(frozen=True, eq=False)
class StudentPlan:
    """The plan that holds for a student; ``before``: how many it had before."""

    row: PlanRow
    player: Player
    plan: Plan
    before: int

    def date_of(self, day: int) -> date:
        """The date of a day."""
        return self.plan.wishes.start + timedelta(days=day)

    def day_of(self, when: date) -> int | None:
        """The day of a date; None before and after the plan."""
        day = (when - self.plan.wishes.start).days
        return day if 0 <= day < DAYS * len(self.plan.weeks) else None

    def week_near(self, when: date) -> int:
        """The week of a date; before the plan its first one, afterwards its last."""
        weeks = (when - self.plan.wishes.start).days // DAYS
        return min(max(weeks, 0), len(self.plan.weeks) - 1)

    def week_of(self, day: int) -> Week:
        """The week of a day. Raises NotFound."""
        if not 0 <= day < DAYS * len(self.plan.weeks):
            raise NotFound("routine.no_day")
        return self.plan.weeks[day // DAYS]


def plan_of(studio: Studio, student_id: int) -> StudentPlan | None:
    """The plan that holds for a student; None where there is none. Raises NotFound."""
    player = player_of(studio, student_id)
    with studio.store.read() as db:
        row = find_plan(db, student_id)
        count = number_of_plans(db, student_id)
    if row is None:
        return None
    return _planned(row, player, count - 1)


def proposed_plan(
    studio: Studio, player: Player, *, start: date, weeks: int, minutes: int, level: str
) -> StudentPlan:
    """The plan that :func:`begin_plan` would make now; nothing is kept. Raises BadUsage."""
    with studio.store.read() as db:
        count = number_of_plans(db, player.student.id)
    row = PlanRow(
        _NO_ROW, player.student.id, start.isoformat(), weeks, minutes, level, count + 1, ""
    )
    return _planned(row, player, count)


def _planned(row: PlanRow, player: Player, before: int) -> StudentPlan:
    student = player.student
    wishes = PlanWishes(
        date.fromisoformat(row.start_on), row.weeks, row.minutes, row.level,
        clef=student.clef, paper=player.paper, student=student.name,
    )  # fmt: skip
    return StudentPlan(row, player, make_plan(player.setup, wishes, row.seed), before)


def begin_plan(
    studio: Studio, student_id: int, *, start: date, weeks: int, minutes: int, level: str
) -> None:
    """Make a plan, which holds from now on. Raises BadUsage, NotFound.

    The seed is how many plans there were, so that no plan is like the one before.
    """
    player = player_of(studio, student_id)
    if not 1 <= weeks <= MOST_WEEKS:
        raise BadUsage("routine.weeks", weeks=weeks, most=MOST_WEEKS)
    make_plan(player.setup, PlanWishes(start, weeks, minutes, level))
    with studio.store.write() as db:
        seed = number_of_plans(db, student_id) + 1
        insert_plan(
            db, student_id, start_on=start.isoformat(), weeks=weeks, minutes=minutes, level=level,
            seed=seed,
        )  # fmt: skip


def take_plan_back(studio: Studio, student_id: int) -> None:
    """Take the plan that holds back with its ticks: the one before holds again."""
    with studio.store.write() as db:
        row = find_plan(db, student_id)
        if row is not None:
            delete_plan(db, row.id)


def first_wishes(player: Player) -> tuple[int, int, str]:
    """Weeks, minutes and level that a form begins with."""
    level = first_level(player.student)
    return FIRST_WEEKS, MINUTES[0] if level == next(iter(LEVELS)) else FIRST_MINUTES, level


def days_of(studio: Studio, plan: StudentPlan, week: int, today: date) -> tuple[Day, ...]:
    """The days of a week with their boxes, as takes and hands filled them. Raises NotFound."""
    first = week * DAYS
    shown = plan.week_of(first)
    blocks = _blocks(studio, plan, shown)
    heard = _heard(studio, plan)
    backs = comebacks(studio, plan.row.student_id)
    with studio.store.read() as db:
        ticks = select_ticks(db, plan.row.id)
    days = []
    for at in range(DAYS):
        number = first + at
        when = plan.date_of(number)
        notes = heard.get(when, ())
        boxes = [
            Box(
                block.name, _by(block.name, number, ticks, _in_takes(block, at, notes)), block.name,
                block.seconds(at),
            )
            for block in blocks
            if block.seconds(at)
        ]  # fmt: skip
        for back in waiting(backs, when, today):
            well = any(step.done == when.toordinal() for step in back.comeback.steps)
            item = _BACK + back.key
            boxes.append(Box(item, _by(item, number, ticks, well), back=back))
        days.append(Day(number, when, shown.articulations[at], tuple(boxes)))
    return tuple(days)


def waiting(backs: tuple[Back, ...], when: date, today: date) -> tuple[Back, ...]:
    """What comes back on a day, or came and went well; today also what should have come."""
    day = when.toordinal()
    return tuple(
        back
        for back in backs
        if any(day in (step.due, step.done) for step in back.comeback.steps)
        or (when == today and back.comeback.waits(day))
    )


def _by(item: str, day: int, ticks: Mapping[tuple[int, str], bool], taken: bool) -> str:
    ticked = ticks.get((day, item))
    if ticked is None:
        return "take" if taken else ""
    return "hand" if ticked else ""


def _in_takes(block: Block, day: int, takes: tuple[tuple[int, ...], ...]) -> bool:
    """Whether an exercise of a part of the routine stands in what was heard that day."""
    rows = [row for row in block.rows if day in row.days and not row.model]
    wanted = [[n.pitch.midi for n in struck(row.piece) if n.pitch is not None] for row in rows]
    return any(is_played(notes, heard) for notes in wanted for heard in takes)


def _blocks(studio: Studio, plan: StudentPlan, week: Week) -> tuple[Block, ...]:
    key = (*plan.player.key, plan.row, week)
    return studio.caches.of(_BLOCKS).get(
        key, lambda: unmarked_week(plan.plan.setup, plan.plan.asked(week), plan.row.seed).blocks
    )


def week_scale(plan: StudentPlan, week: int, day: int | None) -> MarkedPart:
    """The scale of a week with its places, as its sheet has it; ``day`` (0 to 6): in that day's
    articulation. Raises NotFound, BadUsage."""
    asked = plan.plan.asked(plan.week_of(week * DAYS), day)
    made = unmarked_week(plan.plan.setup, asked, plan.row.seed)
    # A horn or a reach may leave no room for a scale.
    blocks = sorted((one for one in made.blocks if one.rows), key=lambda one: one.name != "scale")
    if not blocks:
        raise BadUsage("drills.no_note_at_level", horn=plan.player.setup.horn.called)
    return mark_pieces(made.setup, [blocks[0].rows[0].piece], made.clef)[0].marked


def _heard(studio: Studio, plan: StudentPlan) -> dict[date, tuple[tuple[int, ...], ...]]:
    """What was heard in each take of the plan's days, in MIDI notes."""
    since = (plan.date_of(0) - timedelta(days=1)).isoformat()
    found: dict[date, list[tuple[int, ...]]] = {}
    with studio.store.read() as db:
        for take in select_judged_takes(
            db, plan.row.student_id, horn_id=None, score_id=None, since=since, until=None
        ):
            notes = tuple(n.midi for n in select_notes(db, take.id) if n.played in _HEARD)
            found.setdefault(local_day(take.recorded_at), []).append(notes)
    return {day: tuple(takes) for day, takes in found.items()}


def tick(studio: Studio, plan: StudentPlan, day: int, item: str, today: date) -> None:
    """Fill an open box by hand, or open a filled one; twice is as before.

    Raises NotFound for a day or a box that the plan doesn't have.
    """
    plan.week_of(day)
    boxes = days_of(studio, plan, day // DAYS, today)[day % DAYS].boxes
    box = next((one for one in boxes if one.item == item), None)
    if box is None:
        raise NotFound("routine.no_box")
    with studio.store.write() as db:
        known = select_ticks(db, plan.row.id).get((day, item))
        # What was said by hand is taken back; else it is said.
        ticked = None if known is not None else not box.by
        set_tick(db, plan.row.id, day, item, ticked=ticked)


def day_routine(studio: Studio, plan: StudentPlan, day: int, today: date) -> Routine:
    """The routine of one day, with what comes back on it. Raises NotFound, BadUsage."""
    week = plan.week_of(day)
    when = plan.date_of(day)
    backs = waiting(comebacks(studio, plan.row.student_id), when, today)[:_MOST_BACK]
    return plan.plan.routine(week, day % DAYS, tuple(back.spot for back in backs))


def week_routine(studio: Studio, plan: StudentPlan, week: int, today: date) -> Routine:
    """The routine of a week, with what comes back on its days. Raises NotFound, BadUsage."""
    shown = plan.week_of(week * DAYS)
    backs = comebacks(studio, plan.row.student_id)
    days: dict[Back, list[int]] = {}
    for day in range(DAYS):
        for back in waiting(backs, plan.date_of(week * DAYS + day), today)[:_MOST_BACK]:
            days.setdefault(back, []).append(day)
    return plan.plan.routine(shown, back=tuple((b.spot, tuple(on)) for b, on in days.items()))
