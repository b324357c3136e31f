"""The live view: blocks of sound come in over a websocket, where the slide is goes out."""

import asyncio
import json
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Protocol, TypeVar

from starlette.routing import BaseRoute, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from handslide.faces.web.pages import speech_of
from handslide.faces.web.safety import same_origin
from handslide.ground.errors import BadUsage, HandslideError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import LIVE_BLOCK_S, LIVE_BYTES, LIVE_VIEWS
from handslide.ground.pitch import from_midi
from handslide.studio.people.students import get_student, speech_about
from handslide.studio.studio import Studio
from handslide.studio.takes.live import (
    Live,
    LiveStart,
    parse_start,
    tune_fact,
)
from handslide.words.places import place_out
from handslide.words.speech import Speech

_SEND_EVERY_S = 0.04
_FIRST_S, _SILENT_S = 10.0, 60.0
# Close codes of our own: what was sent can't be used; too many listen; the server's own mistake.
REFUSED, TOO_MANY, BROKEN = 4400, 4429, 1011
Result = TypeVar("Result")

_listening: set[WebSocket] = set()
# Threads of its own: pages that take long must not hold up what sounds now.
_threads = ThreadPoolExecutor(LIVE_VIEWS, thread_name_prefix="live")


class View(Protocol):
    """What listens to a page: wishes and blocks of samples in, what to show out."""

    def ask(self, text: str) -> None:
        """A wish of the page."""

    def push(self, data: bytes) -> dict[str, Any] | None:
        """What to show after a block of samples; None if nothing new."""

    def message(self, shown: dict[str, Any], say: Speech) -> dict[str, Any]:
        """The same in words, with what is said once."""


Begin = Callable[[Studio, str], tuple[int, View]]
"""Of a page's first message: the student's number and who listens."""


class _Slides:
    """The live view of where the slide is."""

    def __init__(self, studio: Studio, start: LiveStart) -> None:
        self._view = Live(studio, start)
        self.ask, self.push = self._view.ask, self._view.push

    def message(self, shown: dict[str, Any], say: Speech) -> dict[str, Any]:
        return _message(shown, say) | {"passed": self._view.take_passed()}


async def live(websocket: WebSocket) -> None:
    """One live view, from the first message to its end."""
    await for_own_page(websocket, slides)


async def for_own_page(websocket: WebSocket, begin: Begin) -> None:
    """A view for a page of this very server, and for no other's."""
    if not _same_origin(websocket):
        await websocket.close(1008)
        return
    await listen_to(websocket, begin)


def slides(
    studio: Studio, first: str, whose: Callable[[LiveStart], LiveStart] = lambda start: start
) -> tuple[int, View]:
    """The live view of where the slide is; ``whose`` makes of what was asked for what it may be."""
    start = whose(parse_start(first))
    return start.student_id, _Slides(studio, start)


async def listen_to(websocket: WebSocket, begin: Begin, kept: int = 0) -> None:
    """A view of a caller who may have one; ``kept`` of them stay for others."""
    await websocket.accept()
    if len(_listening) >= LIVE_VIEWS - kept:
        await _end(websocket, TOO_MANY, fact("live.too_many", count=LIVE_VIEWS))
        return
    _listening.add(websocket)
    try:
        await _listen(websocket, begin)
    except WebSocketDisconnect:
        pass
    except TimeoutError:
        await _end(websocket, REFUSED, fact("live.silent"))
    except HandslideError as error:
        await _end(websocket, REFUSED, error.fact)
    except Exception:
        logging.getLogger(__name__).exception("a live view broke")
        await _end(websocket, BROKEN, fact("live.broken"))
    finally:
        _listening.discard(websocket)


async def _listen(websocket: WebSocket, begin: Begin) -> None:
    async with asyncio.timeout(_FIRST_S):
        first = await _receive(websocket)
    if not isinstance(first, str):
        raise BadUsage("live.begin")
    studio = websocket.app.state.studio
    student_id, view = await _in_thread(lambda: begin(studio, first))
    student = await _in_thread(lambda: get_student(studio, student_id))
    say = speech_about(student, speech_of(websocket))
    loop = asyncio.get_running_loop()
    due = loop.time()
    while True:
        async with asyncio.timeout(_SILENT_S):
            message = await _receive(websocket)
        if isinstance(message, str):
            view.ask(message)
            continue
        if len(message) > LIVE_BYTES:
            raise BadUsage("live.long_block", most_s=LIVE_BLOCK_S)
        shown = await _in_thread(lambda block=message: view.push(block))  # type: ignore[misc]
        now = loop.time()
        if shown is not None and now >= due:
            # A message that was a little late doesn't make the next one late.
            due = max(due, now - _SEND_EVERY_S) + _SEND_EVERY_S
            told = view.message(shown, say)
            await websocket.send_text(json.dumps(told, ensure_ascii=False))


def _message(shown: dict[str, Any], say: Speech) -> dict[str, Any]:
    """What to show, and how it is said: the note aimed at, its place, how high it sounds."""
    midi, tune, place = shown["midi"], tune_fact(shown), shown["place"]
    if place is not None:
        words = place_out(say, place["position"], place["valves"], place["extension_mm"])
        place = place | {"words": words}
    return shown | {
        "note": None if midi is None else say.note(from_midi(midi)),
        "place": place,
        "text": None if tune is None else say.fact(tune),
    }


async def _receive(websocket: WebSocket) -> str | bytes:
    message = await websocket.receive()
    if message["type"] == "websocket.disconnect":
        raise WebSocketDisconnect(message.get("code") or 1000)
    text = message.get("text")
    return text if text is not None else message.get("bytes") or b""


async def _in_thread(work: Callable[[], Result]) -> Result:
    return await asyncio.get_running_loop().run_in_executor(_threads, work)


async def _end(websocket: WebSocket, code: int, told: Fact) -> None:
    """Say why and close; a client that is gone already is nobody's trouble."""
    try:
        error = {"kind": told.kind, "text": speech_of(websocket).fact(told)}
        await websocket.send_text(json.dumps({"error": error}, ensure_ascii=False))
        await websocket.close(code)
    except (RuntimeError, WebSocketDisconnect):
        return


def _same_origin(websocket: WebSocket) -> bool:
    """Whether a page of this very server asks: a browser always says whose page it is."""
    return "origin" in websocket.headers and same_origin(websocket.headers)


routes: list[BaseRoute] = [WebSocketRoute("/live", live, name="live")]
