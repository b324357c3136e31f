"""What the page of a part asks for while it is open: its route, choices, undo and redo."""

from collections.abc import Awaitable, Callable
from dataclasses import asdict
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.formvalues import posted_json
from handslide.faces.web.pages import speech_of, studio_of
from handslide.ground.errors import BadUsage
from handslide.studio.learning.background import learn_later
from handslide.studio.parts.edits import (
    Edited,
    lock_alike,
    lock_here,
    lock_place,
    look_to,
    redo,
    undo,
    unlock,
    unlock_all,
)
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.standjson import changes_json, route_text
from handslide.studio.people.students import speech_about
from handslide.studio.studio import Studio
from handslide.studio.takes.lasttake import last_take_of

_NO_STORE = {"Cache-Control": "no-store"}
_Action = Callable[[Studio, int, dict[str, Any]], Edited]


def route(request: Request) -> Response:
    """The route of the part on a stand."""
    studio = studio_of(request)
    part = open_part(studio, request.path_params["stand_id"])
    say = speech_about(part.student, speech_of(request))
    text = route_text(studio, say, part)
    return Response(text, media_type="application/json", headers=_NO_STORE)


def last_take(request: Request) -> Response:
    """Where the student's slide was in the last take of the part on a stand; null: no take."""
    studio = studio_of(request)
    part = open_part(studio, request.path_params["stand_id"])
    last = last_take_of(studio, part)
    return JSONResponse(None if last is None else asdict(last), headers=_NO_STORE)


def _editing(action: _Action) -> Callable[[Request], Awaitable[Response]]:
    async def edit(request: Request) -> Response:
        """One edit; answers with what it has changed."""
        values = await posted_json(request)
        stand_id = request.path_params["stand_id"]
        edited = await run_in_threadpool(action, studio_of(request), stand_id, values)
        learn_later(studio_of(request))
        say = speech_about(edited.after.student, speech_of(request))
        return JSONResponse(changes_json(say, edited), headers=_NO_STORE)

    return edit


def _choose(studio: Studio, stand_id: int, values: dict[str, Any]) -> Edited:
    note = _number(values, "i")
    if "partial" not in values:
        return lock_here(studio, stand_id, note)
    valves = values.get("valves", [])
    if not isinstance(valves, list) or not all(isinstance(name, str) for name in valves):
        raise BadUsage("web.choice")
    return lock_place(studio, stand_id, note, valves, _number(values, "partial"))


def _alike(studio: Studio, stand_id: int, values: dict[str, Any]) -> Edited:
    return lock_alike(studio, stand_id, _number(values, "i"))


def _unlock(studio: Studio, stand_id: int, values: dict[str, Any]) -> Edited:
    if values.get("all") is True:
        return unlock_all(studio, stand_id)
    return unlock(studio, stand_id, _number(values, "i"))


def _seen(studio: Studio, stand_id: int, values: dict[str, Any]) -> Edited:
    return look_to(studio, stand_id, _number(values, "i"))


def _undo(studio: Studio, stand_id: int, values: dict[str, Any]) -> Edited:
    return undo(studio, stand_id)


def _redo(studio: Studio, stand_id: int, values: dict[str, Any]) -> Edited:
    return redo(studio, stand_id)


def _number(values: dict[str, Any], key: str) -> int:
    value = values.get(key)
    if not isinstance(value, int) or isinstance(value, bool):
        raise BadUsage("web.choice")
    return value


_ACTIONS: dict[str, _Action] = {
    "choose": _choose,
    "alike": _alike,
    "unlock": _unlock,
    "seen": _seen,
    "undo": _undo,
    "redo": _redo,
}

routes: list[BaseRoute] = [
    Route("/stands/{stand_id:int}/route", route),
    Route("/stands/{stand_id:int}/lasttake", last_take),
    *(
        Route(f"/stands/{{stand_id:int}}/{name}", _editing(action), methods=["POST"])
        for name, action in _ACTIONS.items()
    ),
]
