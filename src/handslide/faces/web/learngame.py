"""The game "Which would you write?": its page, and what the page asks for while it is played."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.formvalues import posted_json
from handslide.faces.web.pages import page, speech_of, studio_of
from handslide.ground.errors import BadUsage
from handslide.studio.choosing.consent import collects
from handslide.studio.learning.cards import WIDTHS_MM
from handslide.studio.learning.dealing import begin_game, find_game, stands_to_ask

_NO_STORE = {"Cache-Control": "no-store"}
_BASE = "/learning/game"


def game(request: Request) -> Response:
    """The page; its questions come by themselves."""
    studio = studio_of(request)
    return page(
        request, "learning/game.html", agreed=collects(studio), stands=stands_to_ask(studio)
    )


async def begin(request: Request) -> Response:
    """Begin a game: its key."""
    width = (await posted_json(request)).get("width")
    if width not in WIDTHS_MM:
        raise BadUsage("web.width", name=str(width), known=", ".join(WIDTHS_MM))
    key = await run_in_threadpool(begin_game, studio_of(request), speech_of(request), width)
    return JSONResponse({"key": key}, headers=_NO_STORE)


def card(request: Request) -> Response:
    """A question by its number, from 0; null where nothing is left to ask for now."""
    number = request.path_params["number"]
    found = find_game(studio_of(request), request.path_params["key"]).card(number)
    shown = None if found is None else {"number": number, **found.shown}
    return JSONResponse(shown, headers=_NO_STORE)


async def answer(request: Request) -> Response:
    """Keep an answer."""
    values = await posted_json(request)
    number, picked = values.get("number"), values.get("picked")
    if type(number) is not int or type(picked) is not int:
        raise BadUsage("web.choice")
    asked = find_game(studio_of(request), request.path_params["key"])
    await run_in_threadpool(asked.answer, number, picked)
    return JSONResponse({}, headers=_NO_STORE)


async def undo(request: Request) -> Response:
    """Take the last answer back: the number of its question, null where there is none."""
    asked = find_game(studio_of(request), request.path_params["key"])
    number = await run_in_threadpool(asked.undo)
    return JSONResponse({"number": number}, headers=_NO_STORE)


def end(request: Request) -> Response:
    """What came of it, as a piece of the page. ``why``: nothing is left to ask, or ended."""
    asked = find_game(studio_of(request), request.path_params["key"])
    why = request.query_params.get("why", "")
    return page(request, "learning/game_end.html", score=asked.score, why=why)


_HERE = f"{_BASE}/{{key}}"
routes: list[BaseRoute] = [
    Route(_BASE, game),
    Route(f"{_BASE}/begin", begin, methods=["POST"]),
    Route(f"{_HERE}/{{number:int}}", card),
    Route(f"{_HERE}/answer", answer, methods=["POST"]),
    Route(f"{_HERE}/undo", undo, methods=["POST"]),
    Route(f"{_HERE}/end", end),
]
