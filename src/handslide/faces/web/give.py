"""Give to the student: what the file will hold is told first, then one press makes it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from urllib.parse import parse_qsl, urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.drills.routine import DAYS
from handslide.edges.store.students import Student
from handslide.faces.web.charts import read_wish
from handslide.faces.web.drillpages import read_drill
from handslide.faces.web.errors import told
from handslide.faces.web.formvalues import text_of, whole
from handslide.faces.web.lessonpages import read_lesson
from handslide.faces.web.making import made
from handslide.faces.web.pages import filed, page, speech_of, studio_of
from handslide.faces.web.sheetpages import asked_player
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.progress import ProgressCallback
from handslide.instrument.markstyle import SHOWN
from handslide.jobs.handout.handout import LOOKS
from handslide.jobs.mark.slideview import slide_view
from handslide.studio.charts.charts import wished_setup
from handslide.studio.giving.chart import chart_to_give, give_chart, student_of
from handslide.studio.giving.give import GiveWishes, give_speech
from handslide.studio.giving.part import give_part, measures_wished, part_to_give
from handslide.studio.giving.sheets import (
    Sheet,
    count_of,
    give_sheet,
    sheet_title,
    sheet_to_give,
)
from handslide.studio.giving.take import give_take, setup_for_take, take_to_give
from handslide.studio.parts.files import StandFile
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.people.students import get_student, speech_about
from handslide.studio.practice.plans import StudentPlan, day_routine, plan_of, week_routine
from handslide.studio.practice.sheets import Player, drill_for, lesson_for
from handslide.studio.takes.takes import get_take
from handslide.words.catalogues import languages
from handslide.words.routine import week_title
from handslide.words.speech import Speech

# What these pages ask by themselves; all else of an address is what is given.
_MINE = ("set", "save", "named", "large", "look", "language", "made")


def part(request: Request) -> Response:
    """What the file of a part will hold, and what can be chosen of it."""
    opened, values, problem = _open(request), request.query_params, ""
    wishes, span = GiveWishes(), (text_of(values, "from"), text_of(values, "to"))
    try:
        wishes = _part_wishes(opened, values)
    except BadUsage as error:
        problem = told(request, error)
    gift = part_to_give(studio_of(request), opened, wishes, speech_of(request))
    names = opened.marked.measures
    return _page(
        request,
        "give/part.html",
        opened.student,
        wishes,
        problem=problem,
        part=opened,
        gift=gift,
        span=span,
        shown=SHOWN,
        show=wishes.show or opened.student.show,
        measures={
            note.measure_index: names.name(note.measure_index) for note in opened.marked.part.notes
        }.items(),
        horn=slide_view(opened.routed.setup),
        base=f"/give/stand/{opened.stand.id}",
    )


def part_file(request: Request) -> Response:
    """The file of a part, to save."""
    opened, say = _open(request), speech_of(request)
    wishes, studio = _part_wishes(opened, request.query_params), studio_of(request)

    def make(tell: ProgressCallback) -> Response:
        return _saved(give_part(studio, opened, wishes, say, tell))

    return made(request, make)


def chart(request: Request) -> Response:
    """What the file of a chart will hold."""
    studio, wish, problem, wishes = studio_of(request), read_wish(request), "", GiveWishes()
    try:
        wishes = _wishes(request.query_params)
    except BadUsage as error:
        problem = told(request, error)
    return _page(
        request,
        "give/chart.html",
        student_of(studio, wish),
        wishes,
        problem=problem,
        wish=wish,
        gift=chart_to_give(studio, wish, wishes, speech_of(request)),
        kept=[row for row in request.query_params.multi_items() if row[0] not in _MINE],
        horn=slide_view(wished_setup(studio, wish)),
        base="/give/chart",
    )


def chart_file(request: Request) -> Response:
    """The file of a chart, to save."""
    wish, wishes = read_wish(request), _wishes(request.query_params)
    studio, say = studio_of(request), speech_of(request)
    return made(request, lambda _: _saved(give_chart(studio, wish, wishes, say)))


def take(request: Request) -> Response:
    """What the file of a take will hold; whether the recording is in it."""
    studio, values, problem = studio_of(request), request.query_params, ""
    found, wishes = get_take(studio, request.path_params["take_id"]), GiveWishes()
    recording = "recording" in values
    try:
        wishes = _wishes(values)
    except BadUsage as error:
        problem = told(request, error)
    return _page(
        request,
        "give/take.html",
        get_student(studio, found.student_id),
        wishes,
        problem=problem,
        take=found,
        gift=take_to_give(studio, found, wishes, speech_of(request), recording=recording),
        recording=recording,
        consent="consent" in values,
        horn=slide_view(setup_for_take(studio, found)),
        base=f"/give/take/{found.id}",
    )


def take_file(request: Request) -> Response:
    """The file of a take, to save."""
    studio, values, say = studio_of(request), request.query_params, speech_of(request)
    found, wishes = get_take(studio, request.path_params["take_id"]), _wishes(values)
    ticked = {key: key in values for key in ("recording", "consent")}
    return made(request, lambda _: _saved(give_take(studio, found, wishes, say, **ticked)))


def drill(request: Request) -> Response:
    """What the file of a drill sheet will hold."""
    return _sheet_page(request, _asked_drill(request))


def drill_file(request: Request) -> Response:
    """The file of a drill sheet, to save."""
    return _sheet_file(request, _asked_drill)


def lesson(request: Request) -> Response:
    """What the file of a lesson sheet will hold."""
    return _sheet_page(request, _asked_lesson(request))


def lesson_file(request: Request) -> Response:
    """The file of a lesson sheet, to save."""
    return _sheet_file(request, _asked_lesson)


def routine(request: Request) -> Response:
    """What the file of a plan's week, or of one of its days, will hold."""
    asked = _asked_routine(request)
    plan, week, day = _plan_week(request)
    dates = [plan.date_of(week * DAYS + at) for at in range(DAYS)]
    title = week_title(speech_of(request), week + 1)
    return _sheet_page(request, asked, dates, day=day, week_title=title)


def routine_file(request: Request) -> Response:
    """The file of a plan's week, or of one of its days, to save."""
    return _sheet_file(request, _asked_routine)


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """A sheet that is given: for whom, how, ``what`` it is, which address asks for it and where its
    page is, and the score it is about."""

    player: Player
    wishes: GiveWishes
    sheet: Sheet
    what: str
    query: str
    here: str
    back: str
    score_id: int | None = None


def _asked_drill(request: Request) -> _Asked:
    studio, values = studio_of(request), request.query_params
    player, wishes = asked_player(request, values), _wishes(values)
    asked, say = read_drill(request, player, values), _say(request, player, wishes)
    own = replace(asked.wishes, student=player.student.name if wishes.named else "")
    made = drill_for(studio, player, asked.kind.name, own, asked.seed, say, asked.about)
    here = f"/practice/{player.student.id}/drill"
    back = f"{here}?{asked.query}"
    return _Asked(player, wishes, made.sheet, "drill", asked.query, here, back)


def _asked_lesson(request: Request) -> _Asked:
    studio, values = studio_of(request), request.query_params
    player, wishes = asked_player(request), _wishes(values)
    asked, say = read_lesson(request, player), _say(request, player, wishes)
    if asked.stand is None:
        raise BadUsage("practice.no_part")
    made = lesson_for(
        studio, player, asked.stand, asked.level, asked.seed, say,
        around=asked.around, named=wishes.named,
    )  # fmt: skip
    here = f"/practice/{player.student.id}/lesson"
    score_id = open_part(studio, asked.stand).score.id
    back = f"{here}?{asked.query}"
    return _Asked(player, wishes, made.sheet, "lesson", asked.query, here, back, score_id)


def _asked_routine(request: Request) -> _Asked:
    studio, wishes = studio_of(request), _wishes(request.query_params)
    plan, week, day = _plan_week(request)
    if day is None:
        made = week_routine(studio, plan, week, date.today())
    else:
        made = day_routine(studio, plan, week * DAYS + day, date.today())
    here = f"/plans/{plan.player.student.id}"
    query = urlencode({"week": week + 1})
    what = "week" if day is None else "day"
    return _Asked(plan.player, wishes, made, what, query, here, f"{here}?{query}")


def _plan_week(request: Request) -> tuple[StudentPlan, int, int | None]:
    """The plan, a week of it from 0, and the day of that, None for all of them."""
    plan = plan_of(studio_of(request), request.path_params["student_id"])
    if plan is None:
        raise NotFound("routine.no_plan")
    week, day = (whole(request.query_params.get(key)) for key in ("week", "day"))
    week = plan.week_near(date.today()) if week is None else week - 1
    plan.week_of(week * DAYS)
    if day is not None and not 0 <= day < DAYS:
        raise BadUsage("web.choice")
    return plan, week, day


def _say(request: Request, player: Player, wishes: GiveWishes) -> Speech:
    return give_speech(player.student, wishes, speech_of(request))


def _sheet_page(
    request: Request, asked: _Asked, dates: Sequence[date] = (), **values: Any
) -> Response:
    """``dates`` of a week, to choose one of them."""
    player, sheet = asked.player, asked.sheet
    say = speech_about(player.student, speech_of(request))
    kept = parse_qsl(asked.query, keep_blank_values=True)
    return _page(
        request,
        "give/sheet.html",
        player.student,
        asked.wishes,
        problem="",
        title=sheet_title(sheet, say),
        count=count_of(sheet),
        gift=sheet_to_give(studio_of(request), player, sheet, asked.wishes, say),
        kept=[row for row in kept if row[0] not in _MINE],
        asked=asked,
        dates=dates,
        horn=slide_view(sheet.setup),
        base=f"/give{asked.here}",
        **values,
    )


def _sheet_file(request: Request, ask: Callable[[Request], _Asked]) -> Response:
    studio = studio_of(request)

    def make(tell: ProgressCallback) -> Response:
        tell("engraving", 0, 1)
        asked = ask(request)
        say = _say(request, asked.player, asked.wishes)
        return _saved(give_sheet(studio, asked.player, asked.sheet, asked.wishes, say))

    return made(request, make)


def _saved(file: StandFile) -> Response:
    return filed(file.data, file.name, file.media_type, save=True)


def _open(request: Request) -> OpenPart:
    return open_part(studio_of(request), request.path_params["stand_id"])


def _part_wishes(part: OpenPart, values: Mapping[str, Any]) -> GiveWishes:
    span = (whole(values.get(key)) for key in ("from", "to"))
    return _wishes(
        values,
        measures=measures_wished(part, *span),
        others="set" not in values or "others" in values,
        show=text_of(values, "show") or None,
    )


def _wishes(values: Mapping[str, Any], **more: Any) -> GiveWishes:
    """What a form chose of any file. Raises BadUsage."""
    return GiveWishes(
        named="named" in values,
        large="large" in values,
        look=text_of(values, "look") or LOOKS[0],
        language=text_of(values, "language") or None,
        **more,
    )


def _page(
    request: Request, template: str, student: Student | None, wishes: GiveWishes, **values: Any
) -> Response:
    """The page of a file to give, or, to a form that was changed, what the file will hold."""
    polled = request.headers.get("hx-request") == "true"
    return page(
        request,
        template.replace(".html", "_contents.html") if polled else template,
        student=student,
        wishes=wishes,
        looks=LOOKS,
        languages=languages(),
        language=give_speech(student, wishes, speech_of(request)).language.code,
        **values,
    )


_PRACTICE = "/give/practice/{student_id:int}"
_STAND, _TAKE = "/give/stand/{stand_id:int}", "/give/take/{take_id:int}"
_PLAN = "/give/plans/{student_id:int}"
routes: list[BaseRoute] = [
    Route(_STAND, part),
    Route(f"{_STAND}/file", part_file),
    Route("/give/chart", chart),
    Route("/give/chart/file", chart_file),
    Route(f"{_PRACTICE}/drill", drill),
    Route(f"{_PRACTICE}/drill/file", drill_file),
    Route(f"{_PRACTICE}/lesson", lesson),
    Route(f"{_PRACTICE}/lesson/file", lesson_file),
    Route(_PLAN, routine),
    Route(f"{_PLAN}/file", routine_file),
    Route(_TAKE, take),
    Route(f"{_TAKE}/file", take_file),
]
