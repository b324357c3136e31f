"""Progress of a student: what got better, what comes next, and the sheet for parents."""

from functools import partial
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.store.students import Student
from handslide.faces.web.errors import told
from handslide.faces.web.formvalues import whole
from handslide.faces.web.making import as_it_is_made
from handslide.faces.web.pages import filed, page, speech_of, studio_of
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.studio.home.desk import heap_of
from handslide.studio.people.namesakes import Names
from handslide.studio.people.students import get_student, speech_about, speech_for
from handslide.studio.preferences import preferences
from handslide.studio.progress.file import progress_pdf
from handslide.studio.progress.progress import Filters, progress_of
from handslide.studio.progress.view import ends_of_time, progress_pictures
from handslide.words.progress import (
    change_words,
    group_heading,
    high_low,
    interval_words,
    more_words,
)
from handslide.words.speech import Speech

_NO_SUCH = {"horn": "progress.no_such_horn", "part": "progress.no_such_part"}


class _Names:
    """What the page says of what was found; notes are named as the student knows them."""

    def __init__(self, say: Speech) -> None:
        self.group = partial(group_heading, say)
        self.off = partial(high_low, say)
        self.change = partial(change_words, say)
        self.interval = partial(interval_words, say)
        self.more = partial(more_words, say)
        self._say = say

    def sentence(self, found: Fact) -> str:
        """A finding as a sentence."""
        return self._say.sentence(self._say.fact(found))


def progress(request: Request) -> Response:
    """The page of a student's progress."""
    studio = studio_of(request)
    student = get_student(studio, request.path_params["student_id"])
    problem = ""
    try:
        filters = _filters(request)
    except BadUsage as error:
        filters, problem = Filters(), told(request, error)
    report = progress_of(studio, student.id, filters)
    say = _speech(request, student)
    return page(
        request,
        "progress/progress.html",
        report=report,
        student=student,
        names=_Names(say),
        problem=problem,
        pictures=progress_pictures(report, say),
        dots=partial(heap_of, report),
        query=_query(request),
        days=ends_of_time(report, say),
    )


def sheet(request: Request) -> Response:
    """The sheet for parents as PDF."""
    studio = studio_of(request)
    report = progress_of(studio, request.path_params["student_id"], _filters(request))
    say = speech_for(report.student, speech_of(request))
    data = progress_pdf(report, say, preferences(studio).paper)
    name = Names(studio).student(report.student.id).plain
    return filed(data, f"{name}-progress.pdf", "application/pdf")


def _filters(request: Request) -> Filters:
    query = request.query_params
    numbers: dict[str, int | None] = {}
    for key, kind in _NO_SUCH.items():
        text = query.get(key, "")
        numbers[key] = whole(text, fact(kind, text=text[:20]))
    return Filters(
        numbers["horn"], numbers["part"], query.get("from") or None, query.get("to") or None
    )


def _query(request: Request) -> str:
    keys = [(key, request.query_params.get(key)) for key in ("horn", "part", "from", "to")]
    given = [(key, value) for key, value in keys if value]
    return f"?{urlencode(given)}" if given else ""


def _speech(request: Request, student: Student) -> Speech:
    """Speech in the language of the page, with notes named as the student knows them."""
    return speech_about(student, speech_of(request))


routes: list[BaseRoute] = [
    Route("/progress/{student_id:int}", progress, name="progress"),
    Route("/progress/{student_id:int}.pdf", as_it_is_made(sheet)),
]
