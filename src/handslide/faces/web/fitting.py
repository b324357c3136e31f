"""Fitting a student's horn to a whole list: what to play, what was heard, what is known now."""

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student
from handslide.faces.web import fitlesson
from handslide.faces.web.errors import sentence, told
from handslide.faces.web.fitlesson import begin_page, choice_of, kept_or, map_values
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import chosen_horn, recordings, text_of, texts_of_key
from handslide.faces.web.pages import page, speech_of, studio_of
from handslide.ground.errors import HandslideError, NotFound
from handslide.instrument.fitting.lesson import bands
from handslide.instrument.fitting.rows import PlannedNote
from handslide.jobs.tune.fit import TakeRows
from handslide.studio.people.students import get_student, speech_about
from handslide.studio.tuning.fitting import (
    FitChoice,
    FitDraft,
    FitReport,
    first_draft,
    fit_draft,
    hear_takes,
    planned_text,
    read_planned,
    read_row,
    row_text,
    take_typed,
)
from handslide.studio.tuning.notelist import listed_groups
from handslide.words.speech import Speech


def play(request: Request) -> Response:
    """The notes to play."""
    studio, values = studio_of(request), request.query_params
    horn = chosen_horn(studio, request.path_params["student_id"], values)
    try:
        choice = choice_of(horn, values)
        draft = first_draft(horn, choice)
    except HandslideError as error:
        return begin_page(request, told(request, error))
    return _play_page(request, horn, choice, draft)


async def played(request: Request) -> Response:
    """Takes or typed frequencies in; they join the notes so far. Fitted when asked for."""
    form = await form_of(request)
    return await run_in_threadpool(_played, request, form)


async def keep(request: Request) -> Response:
    """The fitted horn is to be the student's."""
    form = await form_of(request)
    return await run_in_threadpool(_keep, request, form)


def _played(request: Request, form: FormData) -> Response:
    studio = studio_of(request)
    horn = chosen_horn(studio, request.path_params["student_id"], form)
    choice, draft = choice_of(horn, form), _draft(form)
    draft, heard, problems = hear_takes(horn, choice, draft, recordings(form))
    said = tuple(sentence(speech_of(request).fact(problem)) for problem in problems)
    report = None
    try:
        draft = take_typed(horn, draft)
        if text_of(form, "do") == "fit" and not said:
            report = fit_draft(horn, choice, draft)
    except NotFound:
        raise
    except HandslideError as error:
        said = (*said, told(request, error))
    return _play_page(request, horn, choice, draft, said, report, heard)


def _keep(request: Request, form: FormData) -> Response:
    horn = chosen_horn(studio_of(request), request.path_params["student_id"], form)
    choice, draft = choice_of(horn, form), _draft(form)

    def again(problem: str) -> Response:
        return _play_page(request, horn, choice, draft, (problem,))

    return kept_or(again, request, horn, choice, draft)


def _play_page(
    request: Request,
    horn: StudentHorn,
    choice: FitChoice,
    draft: FitDraft,
    problems: tuple[str, ...] = (),
    report: FitReport | None = None,
    heard: tuple[TakeRows, ...] = (),
) -> Response:
    student = get_student(studio_of(request), request.path_params["student_id"])
    say = speech_about(student, speech_of(request))
    following = () if report is None else report.planned
    left_out = () if report is None else report.fitted.fit.left_out
    out = [one.row for one in left_out]
    lines = [(note, text) for note, text in draft.lines if note not in following]
    heard_so_far = draft.rows, left_out
    notes = [note for note, _ in lines]
    drawn = {} if report is None else _map(say, student, horn, report)
    return page(
        request,
        "fitting/play.html",
        status=400 if problems else 200,
        student=student,
        about=say,
        horn=horn,
        choice=choice,
        following=[_line(note) for note in following],
        # What is to be played now bears no sign of how it went before.
        next_groups=listed_groups(student, horn, following, say, ((), ())),
        lines=[_line(note, text) for note, text in lines],
        groups=listed_groups(student, horn, notes, say, heard_so_far, len(following) + 1),
        rows=[
            (row, row_text(row), "" if row.label is None else say.fact(row.label), row in out)
            for row in draft.rows
        ],
        noticed=[] if report is None else [say.fact(one) for one in report.fitted.fit.noticed],
        left_out=[(say.fact(item.row.told), say.fact(item.why)) for item in left_out],
        problems=problems,
        report=report,
        heard=heard,
        **drawn,
    )


def _map(say: Speech, student: Student, horn: StudentHorn, report: FitReport) -> dict[str, Any]:
    """The map of what a whole list has shown, with the places of before."""
    return map_values(say, student, horn, bands(report.fitted.places), None, report)


def _line(note: PlannedNote, typed: str = "") -> dict[str, Any]:
    return {"note": note, "text": planned_text(note), "typed": typed}


def _draft(form: FormData) -> FitDraft:
    """What the page carried: the list with what was typed, and the notes that stay ticked."""
    planned = tuple(read_planned(text) for text in texts_of_key(form, "planned"))
    typed = tuple(text.strip()[:40] for text in texts_of_key(form, "hz")[: len(planned)])
    rows = tuple(read_row(text) for text in texts_of_key(form, "row"))
    return FitDraft(planned, typed, rows)


routes: list[BaseRoute] = [
    *fitlesson.routes,
    Route("/fitting/{student_id:int}/play", play),
    Route("/fitting/{student_id:int}/play", played, methods=["POST"]),
    Route("/fitting/{student_id:int}/keep", keep, methods=["POST"]),
]
