"""Fitting a student's horn note by note: play what is asked for, and see the map narrow."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student
from handslide.faces.web.errors import sentence, told
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import chosen_horn, text_of, texts_of_key
from handslide.faces.web.pages import page, see, speech_of, studio_of
from handslide.ground.errors import BadData, HandslideError, NotFound
from handslide.instrument.fitting.lesson import Band
from handslide.instrument.fitting.rows import FitRow, PlannedNote
from handslide.jobs.mark.slideview import measures_of, slide_view
from handslide.sheets.placemap import MapBand, MapRow, map_width_mm, place_map_svg
from handslide.studio.people.students import get_student, list_horns_of, setup_for, speech_about
from handslide.studio.tuning.fitlesson import (
    FitLesson,
    changed_marks,
    fit_lesson,
    lesson_choice,
    take_note,
)
from handslide.studio.tuning.fitting import (
    FitChoice,
    FitDraft,
    FitReport,
    fit_draft,
    keep_fit,
    planned_text,
    read_choice,
    read_planned,
    read_row,
    row_text,
)
from handslide.studio.tuning.notelist import heard_groups
from handslide.studio.tuning.onenote import note_svg
from handslide.words.speech import Speech

_CHOICE = ("mark", "mark_mm", "near_mm", "temp_c", "thermometer")


@dataclass(frozen=True, slots=True)
class _Carried:
    """What the page carries along: the notes so far and those that were passed over."""

    rows: tuple[FitRow, ...] = ()
    skipped: tuple[PlannedNote, ...] = ()


def begin(request: Request) -> Response:
    """The first note of a lesson."""
    student, horn = _who(request, request.query_params)
    try:
        return _lesson_page(request, student, horn, _choice(student, horn, request.query_params))
    except NotFound:
        raise
    except HandslideError as error:
        return begin_page(request, told(request, error))


def begin_page(request: Request, problem: str) -> Response:
    """The lesson as it begins by itself, and why it can't begin as was asked."""
    student, horn = _who(request, request.query_params)
    choice = lesson_choice(student, horn)
    values = request.query_params
    typed = {key: text_of(values, key) or usual for key, usual in _as_typed(choice).items()}
    return _lesson_page(request, student, horn, choice, problem=problem, typed=typed)


async def note(request: Request) -> Response:
    """A note was heard, taken back or passed over; or it is enough."""
    form = await form_of(request)
    return await run_in_threadpool(_note, request, form)


async def keep(request: Request) -> Response:
    """The fitted horn is to be the student's."""
    form = await form_of(request)
    return await run_in_threadpool(_keep, request, form)


def _note(request: Request, form: FormData) -> Response:
    student, horn = _who(request, form)
    choice, carried = _choice(student, horn, form), _carried(form)
    wish, asked = text_of(form, "do"), text_of(form, "asked")
    try:
        if wish == "enough":
            return _result_page(request, student, horn, choice, carried)
        if wish == "back":
            carried = _Carried(carried.rows[:-1])
        elif wish == "skip" and asked:
            carried = _Carried(carried.rows, (*carried.skipped, read_planned(asked)))
        elif wish == "heard" and asked:
            rows, why = take_note(
                student, horn, choice, carried.rows, read_planned(asked),
                text_of(form, "hz"), text_of(form, "se"),
            )  # fmt: skip
            carried = _Carried(rows, carried.skipped)
            if why is not None:
                said = sentence(speech_of(request).fact(why))
                return _lesson_page(request, student, horn, choice, carried, said)
    except NotFound:
        raise
    except HandslideError as error:
        return _lesson_page(request, student, horn, choice, carried, told(request, error))
    return _lesson_page(request, student, horn, choice, carried)


def _keep(request: Request, form: FormData) -> Response:
    student, horn = _who(request, form)
    choice, carried = _choice(student, horn, form), _carried(form)
    draft = FitDraft((), (), carried.rows)

    def again(problem: str) -> Response:
        return _lesson_page(request, student, horn, choice, carried, problem)

    return kept_or(again, request, horn, choice, draft)


def kept_or(
    again: Callable[[str], Response],
    request: Request,
    horn: StudentHorn,
    choice: FitChoice,
    draft: FitDraft,
) -> Response:
    """Keep the fitted horn and go to it; or the page ``again`` with what is wrong."""
    try:
        keep_fit(studio_of(request), request.path_params["student_id"], horn.id, choice, draft)
    except NotFound:
        raise
    except HandslideError as error:
        return again(told(request, error))
    return see(f"/horns/{horn.id}")


def _who(request: Request, values: Any) -> tuple[Student, StudentHorn]:
    studio = studio_of(request)
    student = get_student(studio, request.path_params["student_id"])
    return student, chosen_horn(studio, student.id, values)


def _choice(student: Student, horn: StudentHorn, values: Any) -> FitChoice:
    if not any(key in values for key in _CHOICE):
        return lesson_choice(student, horn)
    return choice_of(horn, values)


def choice_of(horn: StudentHorn, values: Any) -> FitChoice:
    """How the horn is fitted, as a form or an address says. Raises as `read_choice`."""
    closed = text_of(values, "mark") == "closed"
    return read_choice(
        horn,
        "0" if closed else text_of(values, "mark_mm"),
        text_of(values, "temp_c"),
        thermometer=text_of(values, "thermometer") != "no",
        near="" if closed else text_of(values, "near_mm"),
    )


def _carried(form: FormData) -> _Carried:
    return _Carried(
        tuple(read_row(text) for text in texts_of_key(form, "row")),
        tuple(read_planned(text) for text in texts_of_key(form, "skipped")),
    )


def _lesson_page(
    request: Request,
    student: Student,
    horn: StudentHorn,
    choice: FitChoice,
    carried: _Carried = _Carried(),
    problem: str = "",
    typed: dict[str, str] | None = None,
) -> Response:
    say = speech_about(student, speech_of(request))
    try:
        step = fit_lesson(student, horn, choice, carried.rows, carried.skipped)
    except BadData as error:
        if not carried.rows:
            raise
        # Rows that nobody played: the lesson begins anew, and says why.
        problem, carried = problem or told(request, error), _Carried()
        step = fit_lesson(student, horn, choice, ())
    asked = step.asked
    return page(
        request,
        "fitting/lesson.html",
        status=400 if problem else 200,
        student=student,
        about=say,
        horn=horn,
        horns=list_horns_of(studio_of(request), student.id),
        choice=choice,
        settings_open=typed is not None,
        typed=_as_typed(choice) if typed is None else typed,
        problem=problem,
        step=step,
        note=None if asked is None else asked.note,
        planned="" if step.planned is None else planned_text(step.planned),
        staff=None if asked is None else note_svg(student, horn, asked.note.pitch, say),
        why="" if asked is None else say.fact(asked.why),
        place=_place_json(step),
        left_out=[(say.fact(item.row.told), say.fact(item.why)) for item in step.fit.left_out],
        so_far=heard_groups(student, horn, carried.rows, step.fit.left_out, say),
        marks=", ".join(say.number(1000.0 * mark_m, 0) for mark_m in choice.marks_m),
        travel_mm=1000.0 * horn.description.travel_m,
        **map_values(say, student, horn, step.bands, asked.note.extension_m if asked else None),
        **_carried_values(carried),
    )


def _as_typed(choice: FitChoice) -> dict[str, str]:
    """A choice as it would be typed, by the names of the fields."""
    return {
        "mark": "at" if choice.marks_m else "closed",
        "mark_mm": f"{choice.mark_mm:g}",
        "near_mm": f"{choice.near_mm:g}" if choice.near_mm else "",
        "temp_c": f"{choice.temp_c:g}",
        "thermometer": "yes" if choice.thermometer else "no",
    }


def _result_page(
    request: Request, student: Student, horn: StudentHorn, choice: FitChoice, carried: _Carried
) -> Response:
    say = speech_about(student, speech_of(request))
    report = fit_draft(horn, choice, FitDraft((), (), carried.rows))
    step = fit_lesson(student, horn, choice, carried.rows)
    left_out = report.fitted.fit.left_out
    return page(
        request,
        "fitting/result.html",
        student=student,
        about=say,
        horn=horn,
        choice=choice,
        step=step,
        report=report,
        changes=changed_marks(student, horn, report),
        noticed=[say.fact(one) for one in report.fitted.fit.noticed],
        left_out=[(say.fact(item.row.told), say.fact(item.why)) for item in left_out],
        **map_values(say, student, horn, step.bands, None, report),
        **_carried_values(carried),
    )


def _carried_values(carried: _Carried) -> dict[str, Any]:
    return {
        "rows": [row_text(row) for row in carried.rows],
        "skipped": [planned_text(one) for one in carried.skipped],
    }


def _place_json(step: FitLesson) -> dict[str, Any] | None:
    """Where the hand is held, as a place that scripts/slide.js shows."""
    if step.asked is None:
        return None
    note = step.asked.note
    mm = 1000.0 * note.extension_m
    return {
        "valves": list(note.valves),
        "extension_mm": round(mm, 2),
        "partial": note.partial,
        "position": None,
        "mark": f"{mm:.0f}" if mm else "1",
    }


def map_values(
    say: Speech,
    student: Student,
    horn: StudentHorn,
    bands: Sequence[Band],
    hand_m: float | None,
    report: FitReport | None = None,
) -> dict[str, Any]:
    """The slide and the map under it, valve set by valve set."""
    setup = setup_for(student, horn)
    slide = measures_of(setup)
    before = {}
    if report is not None:
        before = {(one.pitch, one.valves, one.partial): one.before_mm for one in report.places}
    sets = []
    for valves, of_set in groupby(bands, lambda band: band.valves):
        rows = [
            MapRow(str(partial), tuple(_map_band(say, band, before) for band in of_partial))
            for partial, of_partial in groupby(of_set, lambda band: band.partial)
        ]
        hand_mm = None if hand_m is None else 1000.0 * hand_m
        sets.append((valves, place_map_svg(slide, rows, hand_mm)))
    return {
        "slide_horn": slide_view(setup),
        "sets": sets,
        "bands": bands,
        "map_percent": round(100.0 * map_width_mm(slide) / slide.width_mm, 3),
    }


def _map_band(say: Speech, band: Band, before: dict[Any, float | None]) -> MapBand:
    key = f"{'+'.join(band.valves)}-{band.partial}-{band.pitch.name}"
    return MapBand(
        key, say.note(band.pitch), 1000.0 * band.extension_m, band.half_width_mm, band.fine,
        before.get((band.pitch, band.valves, band.partial)),
    )  # fmt: skip


routes: list[BaseRoute] = [
    Route("/fitting/{student_id:int}", begin, name="fitting"),
    Route("/fitting/{student_id:int}/note", note, methods=["POST"]),
    Route("/fitting/{student_id:int}/kept", keep, methods=["POST"]),
]
