"""Progress of a student: what got better, what comes next, and the sheet for parents."""

from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.formvalues import whole
from handslide.faces.web.pages import filed, page, speech_of, studio_of
from handslide.faces.web.progress_names import Names
from handslide.ground.errors import BadUsage
from handslide.sheets.progressplot import Words
from handslide.studio.people.students import get_student
from handslide.studio.preferences import preferences
from handslide.studio.progress.file import progress_pdf
from handslide.studio.progress.progress import Filters, StudentProgress, progress_of
from handslide.studio.progress.view import progress_pictures
from handslide.words.progressnames import PROGRESS


def progress(request: Request) -> Response:
    """The page of a student's progress."""
    studio, say = studio_of(request), speech_of(request)
    student = get_student(studio, request.path_params["student_id"])
    problem = ""
    try:
        filters = _filters(request)
    except BadUsage as error:
        filters, problem = Filters(), str(error)
    report = progress_of(studio, student.id, filters)
    names = Names(say, student.names)
    words = Words(*(say(PROGRESS[f"picture.{key}"]) for key in ("high", "low", "further")))
    pictures = progress_pictures(
        report,
        label=names.picture,
        lane=names.valves,
        days=_ends(request, report),
        words=words,
        tuning=say(PROGRESS["tuning.picture"]),
        strip=say(PROGRESS["strip.label"]),
    )
    return page(
        request,
        "progress/progress.html",
        report=report,
        student=student,
        names=names,
        problem=problem,
        pictures=pictures,
        query=_query(request),
        days=_ends(request, report),
    )


def sheet(request: Request) -> Response:
    """The sheet for parents as PDF."""
    studio = studio_of(request)
    report = progress_of(studio, request.path_params["student_id"], _filters(request))
    data = progress_pdf(report, preferences(studio).paper)
    return filed(data, f"{report.student.name}-progress.pdf", "application/pdf")


def _filters(request: Request) -> Filters:
    query = request.query_params
    numbers: dict[str, int | None] = {}
    for key in ("horn", "part"):
        text = query.get(key, "")
        wrong = f"{text[:20]!r} isn't a {key} of this studio: choose one from the list"
        numbers[key] = whole(text, wrong)
    return Filters(
        numbers["horn"], numbers["part"], query.get("from") or None, query.get("to") or None
    )


def _query(request: Request) -> str:
    keys = [(key, request.query_params.get(key)) for key in ("horn", "part", "from", "to")]
    given = [(key, value) for key, value in keys if value]
    return f"?{urlencode(given)}" if given else ""


def _ends(request: Request, report: StudentProgress) -> tuple[str, str]:
    if report.first_day is None or report.last_day is None:
        return "", ""
    say = speech_of(request)
    return say.day(report.first_day), say.day(report.last_day)


routes: list[BaseRoute] = [
    Route("/progress/{student_id:int}", progress, name="progress"),
    Route("/progress/{student_id:int}.pdf", sheet),
]
