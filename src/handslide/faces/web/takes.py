"""Takes: the list, sending one, waiting for it, its report, its sound."""

import os
from collections.abc import Callable
from datetime import datetime
from functools import partial
from itertools import groupby
from pathlib import PurePath
from typing import BinaryIO

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, QueryParams
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from handslide.edges.store.stands import StandRow
from handslide.faces.web import live
from handslide.faces.web.forms import form_of, upload_file
from handslide.faces.web.formvalues import text_of, whole
from handslide.faces.web.making import as_it_is_made
from handslide.faces.web.pages import filed, page, ranged, see, speech_of, studio_of
from handslide.ground.errors import BadUsage, NotFound, TakeError
from handslide.ground.facts import fact
from handslide.ground.limits import TAKE_REQUEST_BYTES
from handslide.jobs.mark.slideview import rig_view
from handslide.sheets.slide import lens_svg
from handslide.studio.care.erase import erase_recording, erase_take
from handslide.studio.home.signs import signs_of
from handslide.studio.parts.stand import get_stand, list_stands
from handslide.studio.people.students import (
    get_horn,
    get_student,
    list_horns_of,
    list_students,
    main_horn,
    setup_for,
    speech_about,
)
from handslide.studio.preferences import preferences
from handslide.studio.takes.changes import since_before
from handslide.studio.takes.hearing import hearing, start_hearing
from handslide.studio.takes.onmusic import take_on_music
from handslide.studio.takes.page import report_page, take_pictures
from handslide.studio.takes.sound import keep_recording, may_keep, sound_bytes, sound_facts
from handslide.studio.takes.takes import (
    get_take,
    list_takes,
    rename_take,
    take_pdf,
)
from handslide.words.speech import Speech
from handslide.words.takepage import FREE_PLAYING
from handslide.words.takes import summary_line

ON_A_PAGE = 15
# A short take is heard while the browser waits; a longer one has a page that shows how far it is.
_AT_ONCE_S = 2.0
_FRESH = {"Cache-Control": "no-store, private"}


def takes(request: Request) -> Response:
    """The takes of a student or of all, by day, and the form to send one."""
    studio, say = studio_of(request), speech_of(request)
    student_id = _wished(request.query_params, "student")
    after = max(_wished(request.query_params, "after") or 0, 0)
    student = None if student_id is None else get_student(studio, student_id)
    lines = list_takes(studio, student_id, most=ON_A_PAGE + 1, after=after)
    days = [
        (day, list(those))
        for day, those in groupby(lines[:ON_A_PAGE], key=lambda line: say.day(line.recorded_at))
    ]
    return page(
        request,
        "takes/list.html",
        students=list_students(studio),
        student=student,
        stands=() if student_id is None else list_stands(studio, student_id=student_id),
        days=days,
        older=after + ON_A_PAGE if len(lines) > ON_A_PAGE else None,
        newer=max(after - ON_A_PAGE, 0) if after else None,
        signs=signs_of(studio, [line.id for line in lines[:ON_A_PAGE]]),
        summary_line=summary_line,
        clock=_clock,
        long=_long,
    )


def stands(request: Request) -> Response:
    """The parts on a student's stand as options of the form."""
    studio, student_id = studio_of(request), _wished(request.query_params, "student")
    found = () if student_id is None else list_stands(studio, student_id=student_id)
    return page(request, "takes/stands.html", stands=found)


def new(request: Request) -> Response:
    """The stage: a take is recorded, and the slide followed, over the whole window."""
    studio = studio_of(request)
    student_id, stand_id = (
        _wished(request.query_params, "student"),
        _wished(request.query_params, "stand"),
    )
    if stand_id is not None:
        student_id = get_stand(studio, stand_id).student_id
    if student_id is None:
        return _ask_whose(request)
    student = get_student(studio, student_id)
    stand = None if stand_id is None else get_stand(studio, stand_id)
    horn = main_horn(studio, student.id) if stand is None else get_horn(studio, stand.horn_id)
    beside = list_stands(studio, student_id=student.id)
    return page(
        request,
        "takes/stage.html",
        students=list_students(studio),
        student=student,
        stands=beside,
        line=next((each for each in beside if each.id == stand_id), None),
        stand_id=stand_id,
        rig=rig_view(setup_for(student, horn), speech_about(student, speech_of(request)).names),
        lens_svg=lens_svg,
        kept=may_keep(studio, student.id),
    )


def _ask_whose(request: Request) -> Response:
    """Before the stage: whose slide is listened to, and beside which part."""
    studio = studio_of(request)
    stands: dict[int, list[StandRow]] = {}
    for stand in list_stands(studio):
        stands.setdefault(stand.student_id, []).append(stand)
    people = [
        (student, list_horns_of(studio, student.id), stands.get(student.id, []))
        for student in list_students(studio)
    ]
    return page(request, "takes/whose.html", people=people)


async def send(request: Request) -> Response:
    """Take in a recording and begin to hear it."""
    studio = studio_of(request)
    sent = await upload_file(request, "audio", TAKE_REQUEST_BYTES)
    form = await form_of(request)
    if sent is None:
        raise BadUsage("takes.no_file")
    name, file = sent
    say = speech_of(request)
    student_id = _wished(form, "student")
    if student_id is None:
        raise BadUsage("takes.whose")
    key = await run_in_threadpool(
        start_hearing,
        studio,
        student_id,
        held(file),
        name=name,
        title=text_of(form, "title") or ("" if PurePath(name).stem else say(FREE_PLAYING)),
        source="microphone" if form.get("source") == "microphone" else "file",
        stand_id=_wished(form, "stand"),
    )
    state = await run_in_threadpool(hearing, studio, key, _AT_ONCE_S)
    if state.error is not None:
        raise TakeError(state.error.kind, **state.error.values)
    return see(f"/takes/waiting/{key}" if state.take_id is None else f"/takes/{state.take_id}")


def held(file: BinaryIO) -> BinaryIO:
    """The same upload, open until it is heard: the request closes its own when it ends.

    It is a file without a name: the system deletes it with its last user, even a killed one.
    """
    descriptor = file.fileno()
    file.flush()
    return os.fdopen(os.dup(descriptor), "rb")


def waiting(request: Request) -> Response:
    """How far a take is heard; goes on to its report by itself."""
    state = hearing(studio_of(request), request.path_params["key"])
    polled = request.headers.get("hx-request") == "true"
    if state.take_id is not None:
        url = f"/takes/{state.take_id}"
        return Response(headers={"HX-Redirect": url}) if polled else see(url)
    template = "takes/waiting_state.html" if polled else "takes/waiting.html"
    error = None if state.error is None else speech_of(request).fact(state.error)
    return page(request, template, state=state, error=error)


def take(request: Request) -> Response:
    """The report of a take."""
    studio, take_id = studio_of(request), request.path_params["take_id"]
    found = get_take(studio, take_id)
    student = get_student(studio, found.student_id)
    say = speech_about(student, speech_of(request))
    return page(
        request,
        "takes/take.html",
        take=found,
        report=report_page(found, say, since_before(studio, found)),
        student=student,
        pictures=take_pictures(studio, found, say),
        sound=sound_facts(studio, take_id),
        may_keep=may_keep(studio, found.student_id),
        clock=_clock,
        long=_long,
        signed=_signed(say),
    )


def heard(request: Request) -> Response:
    """A take on its music, for the stage and its own page."""
    studio = studio_of(request)
    found = get_take(studio, request.path_params["take_id"])
    say = speech_about(get_student(studio, found.student_id), speech_of(request))
    shown = take_on_music(studio, found, say)
    sound = sound_facts(studio, found.id) is not None
    return JSONResponse(shown | {"take": found.id, "sound": sound}, headers=_FRESH)


def pdf(request: Request) -> Response:
    """The page for the student."""
    studio, take_id = studio_of(request), request.path_params["take_id"]
    data = take_pdf(studio, take_id, speech_of(request), preferences(studio).paper)
    return filed(data, f"take-{take_id}.pdf", "application/pdf")


def audio(request: Request) -> Response:
    """The sound of a take, whole or the piece that the browser asks for."""
    studio, take_id = studio_of(request), request.path_params["take_id"]
    facts = sound_facts(studio, take_id)
    if facts is None:
        raise NotFound("takes.sound_gone")
    read = partial(sound_bytes, studio, take_id)
    return ranged(request, facts.size, read, facts.media_type, _FRESH)


async def rename(request: Request) -> Response:
    """Give a take another title."""
    take_id = request.path_params["take_id"]
    form = await form_of(request)
    await run_in_threadpool(rename_take, studio_of(request), take_id, text_of(form, "title"))
    return see(f"/takes/{take_id}")


def keep(request: Request) -> Response:
    """Keep the sound of a take."""
    take_id = request.path_params["take_id"]
    keep_recording(studio_of(request), take_id)
    return see(f"/takes/{take_id}#sound")


def drop(request: Request) -> Response:
    """Delete the sound of a take."""
    take_id = request.path_params["take_id"]
    erase_recording(studio_of(request), take_id)
    return see(f"/takes/{take_id}#sound")


def delete(request: Request) -> Response:
    """Delete a take for good."""
    studio, take_id = studio_of(request), request.path_params["take_id"]
    student_id = get_take(studio, take_id).student_id
    erase_take(studio, take_id)
    return see(f"/takes?student={student_id}")


# Reading what was asked and writing numbers.


def _wished(values: QueryParams | FormData, name: str) -> int | None:
    return whole(text_of(values, name), fact("takes.not_in_list"))


def _clock(moment: str) -> str:
    return datetime.fromisoformat(moment).astimezone().strftime("%H:%M")


def _long(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def _signed(say: Speech) -> Callable[..., str]:
    def signed(value: float, digits: int = 0) -> str:
        text = say.number(value, digits)
        return text if value <= 0 or float(f"{value:.{digits}f}") == 0 else f"+{text}"

    return signed


routes: list[BaseRoute] = [
    Route("/takes", takes, name="takes"),
    Route("/takes", send, methods=["POST"]),
    Route("/takes/new", new, name="take_new"),
    Route("/takes/stands", stands),
    Route("/takes/waiting/{key}", waiting),
    Route("/takes/{take_id:int}", take, name="take"),
    Route("/takes/{take_id:int}/heard", heard),
    Route("/takes/{take_id:int}.pdf", as_it_is_made(pdf)),
    Route("/takes/{take_id:int}/audio", audio),
    Route("/takes/{take_id:int}/rename", rename, methods=["POST"]),
    Route("/takes/{take_id:int}/keep", keep, methods=["POST"]),
    Route("/takes/{take_id:int}/drop", drop, methods=["POST"]),
    Route("/takes/{take_id:int}/delete", delete, methods=["POST"]),
    *live.routes,
]
