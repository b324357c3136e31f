"""Tuning a student's horn: which slide, play it, move it, check again."""

from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, QueryParams
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web import fitting, onenote
from handslide.faces.web.errors import told
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import chosen_horn, recordings, text_of
from handslide.faces.web.pages import page, see, speech_of, studio_of
from handslide.ground.errors import HandslideError, NotFound
from handslide.instrument.tuning import DEFAULT_SE_CENTS
from handslide.studio.people.students import get_student, list_horns_of
from handslide.studio.tuning.tuning import (
    TuneWords,
    advise,
    changes_horn,
    get_step,
    hear_words,
    keep_move,
    tune_steps,
    tuned_horn,
)

_TEXTS = ("note", "hz", "open_hz", "valve_hz", "temp_c", "play_temp_c", "low", "most_mm")
_HEARD = (("hz", "se"), ("open_hz", "open_se"), ("valve_hz", "valve_se"))


def choose(request: Request) -> Response:
    """Which slide is to be tuned."""
    studio = studio_of(request)
    student = get_student(studio, request.path_params["student_id"])
    horn = chosen_horn(studio, student.id, request.query_params)
    return page(
        request,
        "tuning/choose.html",
        student=student,
        horn=horn,
        horns=list_horns_of(studio, student.id),
        steps=tune_steps(tuned_horn(horn)),
    )


def step(request: Request) -> Response:
    """One slide: what to play, and the advice for what was played."""
    return _step_page(request, read_words(request.query_params), request.query_params)


async def hear(request: Request) -> Response:
    """Recordings in; on to the step with what they say."""
    form = await form_of(request)
    return await run_in_threadpool(_hear, request, form)


async def moved(request: Request) -> Response:
    """The slide was moved, and the horn's history is to know."""
    form = await form_of(request)
    return await run_in_threadpool(_moved, request, form)


def _hear(request: Request, form: FormData) -> Response:
    studio, words = studio_of(request), read_words(form)
    student_id, key = request.path_params["student_id"], request.path_params["key"]
    try:
        horn = tuned_horn(chosen_horn(studio, student_id, form), words.temp_c)
        asked = get_step(horn, key)
        words = hear_words(horn, asked, words, recordings(form), form.get("way") == "pair")
    except NotFound:
        raise
    except HandslideError as error:
        return _step_page(request, words, form, told(request, error))
    return see(f"{_path(request)}?{_query(words, form)}")


def _moved(request: Request, form: FormData) -> Response:
    student_id, key = request.path_params["student_id"], request.path_params["key"]
    studio = studio_of(request)
    horn = chosen_horn(studio, student_id, form)
    try:
        version = keep_move(
            studio,
            student_id,
            horn.id,
            key,
            read_words(form),
            mm=text_of(form, "mm"),
            way=text_of(form, "way"),
        )
    except NotFound:
        raise
    except HandslideError as error:
        return _step_page(request, read_words(form), form, told(request, error))
    return see(f"{_path(request)}?{urlencode({'horn': horn.id, 'kept': version.number})}")


def _step_page(
    request: Request, words: TuneWords, values: QueryParams | FormData, problem: str = ""
) -> Response:
    studio = studio_of(request)
    student = get_student(studio, request.path_params["student_id"])
    horn = chosen_horn(studio, student.id, values)
    asked = get_step(tuned_horn(horn), request.path_params["key"])
    advice, sentences = None, []
    if not problem and (words.asked or asked.kind == "low"):
        try:
            advice = advise(tuned_horn(horn, words.temp_c), asked, words)
            sentences = [speech_of(request).fact(fact) for fact in advice.result.facts]
        except HandslideError as error:
            problem = told(request, error)
    return page(
        request,
        "tuning/step.html",
        status=400 if problem and request.method == "POST" else 200,
        student=student,
        horn=horn,
        tuned=tuned_horn(horn),
        step=asked,
        words=words,
        problem=problem,
        advice=advice,
        sentences=sentences,
        changes=changes_horn(horn, asked),
        kept=text_of(values, "kept") if not advice else "",
        way=text_of(values, "way") or ("pair" if asked.pairs and not words.hz else "note"),
    )


def read_words(values: QueryParams | FormData) -> TuneWords:
    """What was typed. A standard error counts as long as the frequency it came with stands."""
    texts: dict[str, Any] = {key: text_of(values, key) for key in _TEXTS}
    errors: dict[str, Any] = {}
    for key, se in _HEARD:
        if texts[key] and texts[key] == text_of(values, f"{key}_heard"):
            errors[se] = _se(text_of(values, se))
    return TuneWords(**texts, **errors)


def _se(text: str) -> float:
    try:
        return min(max(float(text), 0.0), 100.0)
    except ValueError:
        return DEFAULT_SE_CENTS


def _query(words: TuneWords, values: FormData) -> str:
    found = {key: getattr(words, key) for key in _TEXTS}
    for key, se in _HEARD:
        if found[key]:
            found |= {f"{key}_heard": found[key], se: f"{getattr(words, se):g}"}
    found |= {"horn": text_of(values, "horn"), "way": text_of(values, "way")}
    return urlencode({key: value for key, value in found.items() if value})


def _path(request: Request) -> str:
    return request.url.path.rsplit("/", 1)[0]


routes: list[BaseRoute] = [
    Route("/tuning/{student_id:int}", choose, name="tuning"),
    Route("/tuning/{student_id:int}/{key}", step),
    Route("/tuning/{student_id:int}/{key}/hear", hear, methods=["POST"]),
    Route("/tuning/{student_id:int}/{key}/moved", moved, methods=["POST"]),
    *onenote.routes,
    *fitting.routes,
]
