"""Tuning a student's horn as a lesson: which slide, note by note, move it, check again."""

from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, QueryParams
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student
from handslide.faces.web import fitting, onenote
from handslide.faces.web.errors import told
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import chosen_horn, recordings, text_of
from handslide.faces.web.pages import page, see, speech_of, studio_of
from handslide.ground.errors import HandslideError, NotFound
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.instrument.tuning import DEFAULT_SE_CENTS
from handslide.sheets.tuningslide import TuningMove, tuning_rule_svg, tuning_slide_svg
from handslide.studio.people.students import get_student, list_horns_of, speech_about
from handslide.studio.tuning.onenote import note_svg
from handslide.studio.tuning.tuning import (
    MOST_SE_CENTS,
    TuneAdvice,
    TuneStep,
    TuneWords,
    advise,
    changes_horn,
    get_step,
    hear_words,
    heard_text,
    keep_move,
    lesson_notes,
    read_heard,
    tune_steps,
    tuned_horn,
)
from handslide.words.speech import Speech

_TEXTS = ("note", "hz", "open_hz", "valve_hz", "temp_c", "play_temp_c", "low", "most_mm")
_HEARD = (("hz", "se"), ("open_hz", "open_se"), ("valve_hz", "valve_se"))
_MOST_NOTES = 12


def choose(request: Request) -> Response:
    """Which slide is to be tuned."""
    studio = studio_of(request)
    student = get_student(studio, request.path_params["student_id"])
    horn = chosen_horn(studio, student.id, request.query_params)
    tuned = tuned_horn(horn)
    return page(
        request,
        "tuning/choose.html",
        student=student,
        horn=horn,
        horns=list_horns_of(studio, student.id),
        tuned=tuned,
        steps=tune_steps(tuned),
        drawn=_drawn(speech_of(request), TuningMove()),
    )


def step(request: Request) -> Response:
    """One slide: what to play, and the advice for what was played."""
    return _step_page(request, request.query_params)


def so_far(request: Request) -> Response:
    """The drawing of a slide with where it will probably stop, as far as that is known."""
    studio, values = studio_of(request), request.query_params
    student = get_student(studio, request.path_params["student_id"])
    horn = chosen_horn(studio, student.id, values)
    asked = get_step(tuned_horn(horn), request.path_params["key"])
    span = None
    try:
        words = read_words(values)
        if words.heard or (words.open_hz and words.valve_hz):
            advice = advise(tuned_horn(horn, words.temp_c), asked, words)
            span = advice.span_mm
    except HandslideError:
        # What is wrong with the notes is said at the end, where it can be mended.
        span = None
    say = speech_of(request)
    drawn = _drawn(say, TuningMove(span_mm=span))
    return page(request, "tuning/drawn.html", step=asked, drawn=drawn)


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
        return _step_page(request, form, told(request, error))
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
        return _step_page(request, form, told(request, error))
    return see(f"{_path(request)}?{urlencode({'horn': horn.id, 'kept': version.number})}")


def _step_page(request: Request, values: QueryParams | FormData, problem: str = "") -> Response:
    studio, say = studio_of(request), speech_of(request)
    student = get_student(studio, request.path_params["student_id"])
    horn = chosen_horn(studio, student.id, values)
    tuned = tuned_horn(horn)
    asked = get_step(tuned, request.path_params["key"])
    advice, sentences, words = None, [], TuneWords()
    try:
        words = read_words(values)
        if words.asked or asked.kind == "low":
            advice = advise(tuned_horn(horn, words.temp_c), asked, words)
            sentences = [{"kind": f.kind, "text": say.fact(f)} for f in advice.result.facts]
    except HandslideError as error:
        problem = problem or told(request, error)
    out_mm = None if advice is None else advice.out_mm
    about = speech_about(student, say)
    played = _notes(student, horn, asked, text_of(values, "check"), about)
    check = None if advice is None else _check_note(words, asked)
    kept_on = {key: getattr(words, key) for key in ("temp_c", "play_temp_c")}
    on = {"horn": str(horn.id), **{key: value for key, value in kept_on.items() if value}}
    again = on if check is None else on | {"check": check.name}
    steps = tune_steps(tuned)
    return page(
        request,
        "tuning/step.html",
        status=400 if problem and request.method == "POST" else 200,
        student=student,
        horn=horn,
        tuned=tuned,
        step=asked,
        following=next(iter(steps[steps.index(asked) + 1 :]), None),
        words=words,
        carried=_carried(words, horn),
        heard=_offs(words, advice, about),
        problem=problem,
        advice=advice,
        sentences=sentences,
        drawn=_drawn(say, TuningMove(out_mm)),
        notes=played,
        low_staff=_low_staff(student, horn, asked, advice, about),
        again=urlencode(again),
        check=None if check is None else about.note(check),
        course={
            "student": student.id,
            "a4_hz": horn.a4_hz,
            "url": f"/tuning/{student.id}/{asked.key}",
            "on": on,
            "notes": [note["ask"] for note in played],
        },
        changes=changes_horn(horn, asked),
        moved_mm=text_of(values, "mm"),
        moved_way=text_of(values, "way"),
        kept=text_of(values, "kept") if not advice else "",
    )


def _notes(
    student: Student, horn: StudentHorn, asked: TuneStep, check: str, about: Speech
) -> list[dict[str, Any]]:
    """The notes of the lesson with their drawings; ``ask`` is what a script listens for."""
    return [
        {
            "name": about.note(note.pitch),
            "valves": note.valves,
            "part": note.part,
            "staff": note_svg(student, horn, note.pitch, about),
            "ask": {"name": note.pitch.name, "part": note.part, "hz": round(note.hz, 4)},
        }
        for note in lesson_notes(tuned_horn(horn), asked, check)
    ]


def _low_staff(
    student: Student, horn: StudentHorn, asked: TuneStep, advice: TuneAdvice | None, about: Speech
) -> str:
    """The note that a slide is pulled for, on a staff; empty for other steps."""
    if advice is None or asked.kind != "low":
        return ""
    return note_svg(student, horn, parse_pitch(advice.result.more["note"]), about)


def _offs(words: TuneWords, advice: TuneAdvice | None, about: Speech) -> list[tuple[str, str, int]]:
    """The notes that were heard, with the cents that each lies off, and how many these are.

    Empty where one note decided.
    """
    offs = [] if advice is None else advice.result.more.get("notes_cents", [])
    return [
        (about.note(note.pitch), about.spelled_number(off, "+.0f"), abs(round(off)))
        for note, off in zip(words.heard, offs)
    ]


def _check_note(words: TuneWords, asked: TuneStep) -> Pitch | None:
    """Which note is to be heard again once the slide was moved: the best of those heard.

    An octave of the first is in tune by nature; others are better than none.
    """
    heard = [note.pitch for note in words.heard]
    if words.note and not heard:
        heard = [parse_pitch(words.note)]
    octaves = [note for note in asked.notes if (note.midi - asked.notes[0].midi) % 12 == 0]
    return next((note for note in (*octaves, *asked.notes) if note in heard), None)


def _drawn(say: Speech, move: TuningMove) -> dict[str, str]:
    """The two drawings of a tuning slide: the whole of it, and its edge on a rule."""
    label = say.named("tuning_drawn", "now")
    if move.span_mm is not None:
        label = _span_words(say, *sorted(round(end) for end in move.span_mm))
    elif move.out_mm:
        way = "out" if move.out_mm > 0.0 else "in"
        mm = abs(move.out_mm)
        label = say.named("tuning_drawn", way, mm=say.number(mm, 1 if mm % 1 else 0))
    rule = tuning_rule_svg(
        move,
        label=label,
        towards=say.named("tuning_rule", "in"),
        away=say.named("tuning_rule", "out"),
    )
    return {"slide": tuning_slide_svg(move), "rule": rule, "words": label}


def _span_words(say: Speech, least: int, most: int) -> str:
    """Where the slide will probably stop, in whole mm, out positive."""
    if least >= 0:
        return say.named("tuning_drawn", "maybe_out", low=least, high=most)
    if most <= 0:
        return say.named("tuning_drawn", "maybe_in", low=-most, high=-least)
    return say.named("tuning_drawn", "maybe_both", low=-least, high=most)


def read_words(values: QueryParams | FormData) -> TuneWords:
    """What was typed or heard. A standard error counts as long as its frequency stands.

    Raises BadUsage for heard notes that can't be read.
    """
    texts: dict[str, Any] = {key: text_of(values, key) for key in _TEXTS}
    errors: dict[str, Any] = {}
    for key, se in _HEARD:
        if texts[key] and texts[key] == text_of(values, f"{key}_heard"):
            errors[se] = _se(text_of(values, se))
    heard = [item for item in values.getlist("heard") if isinstance(item, str)][:_MOST_NOTES]
    return TuneWords(**texts, **errors, heard=tuple(read_heard(text[:60]) for text in heard))


def _se(text: str) -> float:
    try:
        return min(max(float(text), 0.0), MOST_SE_CENTS)
    except ValueError:
        return DEFAULT_SE_CENTS


def _carried(words: TuneWords, horn: StudentHorn) -> list[tuple[str, str]]:
    """What a form carries along of all that is known so far."""
    found = [(key, getattr(words, key)) for key in _TEXTS]
    for key, se in _HEARD:
        if getattr(words, key):
            found += [(f"{key}_heard", getattr(words, key)), (se, f"{getattr(words, se):g}")]
    found += [("heard", heard_text(note)) for note in words.heard]
    return [("horn", str(horn.id)), *((key, value) for key, value in found if value)]


def _query(words: TuneWords, values: FormData) -> str:
    found = {key: getattr(words, key) for key in _TEXTS}
    for key, se in _HEARD:
        if found[key]:
            found |= {f"{key}_heard": found[key], se: f"{getattr(words, se):g}"}
    found |= {"horn": text_of(values, "horn")}
    return urlencode({key: value for key, value in found.items() if value})


def _path(request: Request) -> str:
    return request.url.path.rsplit("/", 1)[0]


routes: list[BaseRoute] = [
    Route("/tuning/{student_id:int}", choose, name="tuning"),
    Route("/tuning/{student_id:int}/{key}", step),
    Route("/tuning/{student_id:int}/{key}/so-far", so_far),
    Route("/tuning/{student_id:int}/{key}/hear", hear, methods=["POST"]),
    Route("/tuning/{student_id:int}/{key}/moved", moved, methods=["POST"]),
    *onenote.routes,
    *fitting.routes,
]
