"""A student's plan over weeks: what is for today, boxes that takes fill in, sheets to print."""

from collections.abc import Mapping
from datetime import date
from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.drills.levels import LEVELS
from handslide.drills.plan import MOST_WEEKS
from handslide.drills.routine import DAYS, MINUTES
from handslide.faces.web.errors import told
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import text_of, whole
from handslide.faces.web.making import as_it_is_made
from handslide.faces.web.pages import filed, page, see, speech_of, studio_of
from handslide.ground.errors import BadUsage, HandslideError, NotFound
from handslide.ground.facts import fact
from handslide.jobs.practice.routine import Routine
from handslide.studio.home.practicestrips import week_strip
from handslide.studio.people.namesakes import Names
from handslide.studio.people.students import speech_about, speech_for
from handslide.studio.practice.comebacks import Back, comebacks
from handslide.studio.practice.plans import (
    StudentPlan,
    begin_plan,
    day_routine,
    days_of,
    first_wishes,
    plan_of,
    proposed_plan,
    take_plan_back,
    tick,
    week_routine,
)
from handslide.studio.practice.sheets import Player, player_of
from handslide.studio.practice.stand import drill_on_stand
from handslide.words.drills import level_name
from handslide.words.progress import group_heading
from handslide.words.routine import block_name, minutes_text, week_dates
from handslide.words.speech import Speech

PDF = "application/pdf"
_TYPED = ("start", "weeks", "minutes", "level")
_PROPOSED = 4  # weeks that are shown before a plan is made


def show(request: Request) -> Response:
    """The plan, or the form for one."""
    return _page(request)


def _page(
    request: Request, wrong: HandslideError | None = None, typed: dict[str, str] | None = None
) -> Response:
    studio, say = studio_of(request), speech_of(request)
    player = player_of(studio, _student(request))
    plan = plan_of(studio, player.student.id)
    weeks, minutes, level = first_wishes(player)
    first = {"start": date.today().isoformat(), "weeks": str(weeks), "minutes": str(minutes)}
    values: dict[str, Any] = {
        "typed": first | {"level": level} | (typed or {}),
        "levels": [(name, level_name(say, name)) for name in LEVELS],
        "minutes": MINUTES,
        "most_weeks": MOST_WEEKS,
        "problem": "" if wrong is None else told(request, wrong),
    }
    if plan is not None:
        values |= _shown(request, plan)
    else:
        values |= _proposal(request, player, first | {"level": level} | (typed or {}))
    return page(
        request, "plans/plan.html", status=200 if wrong is None else 400, player=player, plan=plan,
        **values,
    )  # fmt: skip


def proposal(request: Request) -> Response:
    """How a plan would begin, as a piece of the page."""
    player = player_of(studio_of(request), _student(request))
    typed = {key: text_of(request.query_params, key) for key in _TYPED}
    return page(request, "plans/proposal.html", player=player, **_proposal(request, player, typed))


def _proposal(request: Request, player: Player, typed: dict[str, str]) -> dict[str, Any]:
    """The first day and the first weeks of a plan that isn't made yet; nothing of what can't be."""
    studio, say = studio_of(request), speech_of(request)
    try:
        plan = _proposed(request, player, typed)
        day = days_of(studio, plan, 0, date.today())[0]
    except BadUsage:
        return {"proposed": ()}
    return {
        "proposed": _weeks(say, plan)[:_PROPOSED],
        "day": day,
        "query": urlencode({key: typed[key] for key in _TYPED}),
        **_day_words(say),
    }


def _proposed(request: Request, player: Player, typed: Mapping[str, str]) -> StudentPlan:
    weeks, minutes = (whole(typed[key]) or 0 for key in ("weeks", "minutes"))
    if not 1 <= weeks <= MOST_WEEKS:
        raise BadUsage("routine.weeks", weeks=weeks, most=MOST_WEEKS)
    return proposed_plan(
        studio_of(request), player, start=_date(typed["start"]), weeks=weeks, minutes=minutes,
        level=typed["level"],
    )  # fmt: skip


def _weeks(say: Speech, plan: StudentPlan) -> list[tuple[int, str, str]]:
    """Number, key and dates of each week."""
    return [
        (week.number, say.fact(plan.plan.scale(week)),
         week_dates(say, plan.date_of(week.number * DAYS),
                    plan.date_of(week.number * DAYS + DAYS - 1)))
        for week in plan.plan.weeks
    ]  # fmt: skip


def _day_words(say: Speech) -> dict[str, Any]:
    """What a day's boxes are called, and how long they take."""
    return {
        "block": lambda name: block_name(say, name),
        "duration": lambda seconds: minutes_text(say, seconds),
    }


def _shown(request: Request, plan: StudentPlan) -> dict[str, Any]:
    """One week day by day, and all weeks to choose from."""
    studio, say = studio_of(request), speech_of(request)
    student = speech_about(plan.player.student, say)
    today = plan.day_of(date.today())
    asked = whole(request.query_params.get("week"))
    shown = plan.week_near(date.today()) if asked is None else asked - 1
    days = days_of(studio, plan, shown, date.today())
    return {
        "days": days,
        "today": today,
        "shown": shown,
        "weeks": _weeks(say, plan),
        "backs": [
            (group_heading(student, back.found.group), back, _dates(back, date.today()))
            for back in comebacks(studio, plan.row.student_id)
        ],
        **_day_words(say),
        "heading": lambda back: group_heading(student, back.found.group),
        "level_name": level_name(say, plan.row.level),
    }  # fmt: skip


def _dates(back: Back, today: date) -> list[tuple[date, date | None, bool]]:
    """The days on which something comes back, when it went well, whether that day has passed."""
    return [
        (
            date.fromordinal(step.due),
            None if step.done is None else date.fromordinal(step.done),
            step.due <= today.toordinal(),
        )
        for step in back.comeback.steps
    ]


async def begin(request: Request) -> Response:
    """Make a plan."""
    form = await form_of(request)
    typed = {key: text_of(form, key) for key in _TYPED}
    try:
        await run_in_threadpool(_begin, request, typed)
    except BadUsage as error:
        return await run_in_threadpool(_page, request, error, typed)
    return see(_here(request))


def _begin(request: Request, typed: dict[str, str]) -> None:
    begin_plan(
        studio_of(request), _student(request), start=_date(typed["start"]),
        weeks=whole(typed["weeks"], fact("web.no_number")) or 0,
        minutes=whole(typed["minutes"], fact("web.no_number")) or 0,
        level=typed["level"],
    )  # fmt: skip


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadUsage("usage.date", text=text) from None


def strip(request: Request) -> Response:
    """The scale of a week, or of one of its days, as a line of music: of the plan, or of the one
    that is proposed."""
    query = request.query_params
    if "start" in query:
        player = player_of(studio_of(request), _student(request))
        plan = _proposed(request, player, {key: text_of(query, key) for key in _TYPED})
    else:
        plan = _plan(request)
    width = text_of(query, "width") or "wide"
    week, day = request.path_params["week"] - 1, whole(query.get("day"))
    svg = week_strip(studio_of(request), plan, week, None if day is None else day % DAYS, width)
    return Response(svg, media_type="image/svg+xml", headers={"Cache-Control": "no-store"})


async def undo(request: Request) -> Response:
    """Take the plan back."""
    await form_of(request)
    await run_in_threadpool(take_plan_back, studio_of(request), _student(request))
    return see(_here(request))


async def tick_box(request: Request) -> Response:
    """Fill a box by hand or open it."""
    form = await form_of(request)
    day = whole(form.get("day"))
    if day is None:
        raise BadUsage("web.no_number")
    plan = await run_in_threadpool(_plan, request)
    await run_in_threadpool(
        tick, studio_of(request), plan, day, text_of(form, "item"), date.today()
    )
    return see(f"{_here(request)}?week={day // DAYS + 1}#day-{day}")


async def on_stand(request: Request) -> Response:
    """Put a day's routine on the stand, so that a take follows it."""
    await form_of(request)

    def put() -> int:
        studio, plan = studio_of(request), _plan(request)
        say = speech_for(plan.player.student, speech_of(request))
        routine = day_routine(studio, plan, request.path_params["day"], date.today())
        return drill_on_stand(studio, plan.player, routine, say)

    return see(f"/stands/{await run_in_threadpool(put)}")


def day_sheet(request: Request) -> Response:
    """The routine of a day as PDF."""
    plan = _plan(request)
    day = request.path_params["day"]
    return _sheet(
        request, plan, day_routine(studio_of(request), plan, day, date.today()), f"day-{day + 1}"
    )


def week_sheet(request: Request) -> Response:
    """The routine of a week as PDF."""
    plan, week = _plan(request), request.path_params["week"]
    return _sheet(
        request,
        plan,
        week_routine(studio_of(request), plan, week - 1, date.today()),
        f"week-{week}",
    )


def _sheet(request: Request, plan: StudentPlan, routine: Routine, what: str) -> Response:
    say = speech_for(plan.player.student, speech_of(request))
    return _filed(request, plan, routine.pdf(say), what)


def plan_sheet(request: Request) -> Response:
    """The whole plan as PDF."""
    plan = _plan(request)
    say = speech_for(plan.player.student, speech_of(request))
    return _filed(request, plan, plan.plan.pdf(say), "plan")


def _filed(request: Request, plan: StudentPlan, data: bytes, what: str) -> Response:
    name = Names(studio_of(request)).student(plan.row.student_id).plain
    return filed(data, f"{name}-{what}.pdf", PDF)


def _student(request: Request) -> int:
    return int(request.path_params["student_id"])


def _here(request: Request) -> str:
    return f"/plans/{_student(request)}"


def _plan(request: Request) -> StudentPlan:
    plan = plan_of(studio_of(request), _student(request))
    if plan is None:
        raise NotFound("routine.no_plan")
    return plan


_HERE = "/plans/{student_id:int}"
routes: list[BaseRoute] = [
    Route(_HERE, show),
    Route(_HERE, begin, methods=["POST"]),
    Route(f"{_HERE}/proposal", proposal),
    Route(f"{_HERE}/weeks/{{week:int}}/strip", strip),
    Route(f"{_HERE}/undo", undo, methods=["POST"]),
    Route(f"{_HERE}/tick", tick_box, methods=["POST"]),
    Route(f"{_HERE}/plan.pdf", as_it_is_made(plan_sheet)),
    Route(f"{_HERE}/days/{{day:int}}.pdf", as_it_is_made(day_sheet)),
    Route(f"{_HERE}/days/{{day:int}}/stand", on_stand, methods=["POST"]),
    Route(f"{_HERE}/weeks/{{week:int}}.pdf", as_it_is_made(week_sheet)),
]
