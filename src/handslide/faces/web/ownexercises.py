"""Exercises that the teacher writes: a text on one side, the sheet that it makes on the other."""

import base64
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.store.exercises import ExercisesRow
from handslide.faces.web.errors import told
from handslide.faces.web.forms import form_of, upload
from handslide.faces.web.formvalues import text_of
from handslide.faces.web.pages import filed, page, see, speech_of, studio_of
from handslide.ground.errors import BadData, BadUsage, HandslideError
from handslide.ground.limits import TYPED_BYTES
from handslide.studio.parts.files import plain_name
from handslide.studio.people.students import speech_for
from handslide.studio.practice.exercises import (
    get_exercises,
    keep_exercises,
    own_name,
    put_away_exercises,
    read_own,
    text_of_file,
)
from handslide.studio.practice.sheets import Player, own_sheet, player_of
from handslide.words.exercises import exercise_keys, exercise_signs, first_exercises

_TOML = "application/toml"


def new(request: Request) -> Response:
    """A text to begin with, and the sheet that it makes."""
    return _desk(request, None, first_exercises(speech_of(request)))


def edit(request: Request) -> Response:
    """Exercises that are there."""
    row = _row(request)
    return _desk(request, row, row.text)


async def keep(request: Request) -> Response:
    """Keep a text, as new exercises or in the place of those that are there."""
    form = await form_of(request)
    text = _typed(form)
    row = _row(request) if "own_id" in request.path_params else None
    try:
        kept = await run_in_threadpool(
            keep_exercises, studio_of(request), text, None if row is None else row.id
        )
    except (BadData, BadUsage) as error:
        return await run_in_threadpool(_desk, request, row, text, error)
    return see(f"{_base(request)}/{kept}?kept=1")


async def take_in(request: Request) -> Response:
    """Keep the exercises of a file."""
    file = await upload(request, "file", TYPED_BYTES)
    if file is None:
        raise BadUsage("exercises.no_file")
    text = text_of_file(file.data, file.name)
    try:
        kept = await run_in_threadpool(keep_exercises, studio_of(request), text)
    except BadUsage as error:
        return await run_in_threadpool(_desk, request, None, text, error)
    return see(f"{_base(request)}/{kept}?kept=1")


async def preview(request: Request) -> Response:
    """The sheet that a text makes, alone."""
    form = await form_of(request)
    text = _typed(form)
    return await run_in_threadpool(_preview, request, text)


def _preview(request: Request, text: str) -> Response:
    return page(request, "practice/own_preview.html", **_sheet(request, _player(request), text))


def file(request: Request) -> Response:
    """The text as a file for handslide's commands, and for other teachers."""
    row = _row(request)
    return filed(row.text.encode(), f"{plain_name(row.title)}.toml", _TOML, save=True)


async def away(request: Request) -> Response:
    """Put exercises away, or take them out again."""
    form = await form_of(request)
    row, back = _row(request), bool(text_of(form, "back"))
    await run_in_threadpool(put_away_exercises, studio_of(request), row.id, away=not back)
    return see(f"/practice/{request.path_params['student_id']}#own-exercises")


def _desk(
    request: Request, row: ExercisesRow | None, text: str, wrong: HandslideError | None = None
) -> Response:
    player = _player(request)
    return page(
        request,
        "practice/own.html",
        status=200 if wrong is None else 400,
        row=row,
        kind="" if row is None else own_name(row.id),
        text=text,
        wrong=wrong,
        kept="kept" in request.query_params,
        keys=exercise_keys(speech_of(request)),
        signs=exercise_signs(speech_of(request)),
        **_sheet(request, player, text),
    )


def _sheet(request: Request, player: Player, text: str) -> dict[str, Any]:
    """The pages that a text makes as addresses of pictures, or what is wrong with it."""
    say = speech_for(player.student, speech_of(request))
    shown: dict[str, Any] = {"player": player, "problem": "", "pages": (), "size": (1, 1)}
    try:
        made = own_sheet(studio_of(request), player, read_own(text), say)
        pages = tuple(map(_data_address, made.pictures))
    except HandslideError as error:
        return shown | {"problem": told(request, error)}
    return shown | {"pages": pages, "size": made.paper_mm}


def _data_address(png: bytes) -> str:
    return f"data:image/png;base64,{base64.b64encode(png).decode()}"


def _typed(form: FormData) -> str:
    """The text with its lines, which a form sends with two signs at the end of each."""
    return str(form.get("text", "")).replace("\r\n", "\n")


def _player(request: Request) -> Player:
    return player_of(studio_of(request), request.path_params["student_id"])


def _row(request: Request) -> ExercisesRow:
    return get_exercises(studio_of(request), request.path_params["own_id"])


def _base(request: Request) -> str:
    return f"/practice/{request.path_params['student_id']}/own"


_HERE = "/practice/{student_id:int}/own"
_ONE = f"{_HERE}/{{own_id:int}}"
routes: list[BaseRoute] = [
    Route(f"{_HERE}/new", new),
    Route(f"{_HERE}/new", keep, methods=["POST"]),
    Route(f"{_HERE}/file", take_in, methods=["POST"]),
    Route(f"{_HERE}/preview", preview, methods=["POST"]),
    Route(_ONE, edit),
    Route(_ONE, keep, methods=["POST"]),
    Route(f"{_ONE}/file", file),
    Route(f"{_ONE}/away", away, methods=["POST"]),
]
