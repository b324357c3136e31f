"""What a tablet gets by a link: one part, its music, places and slide; listening; its takes.

No address here has a number in it: which part is meant, the link says.
"""

import asyncio
from collections.abc import Coroutine
from dataclasses import replace
from functools import partial
from itertools import count
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from handslide.faces.web.assets import assets
from handslide.faces.web.forms import form_of, upload_file
from handslide.faces.web.formvalues import text_of
from handslide.faces.web.guestdoor import (
    HANDLERS,
    HERE,
    TURNSTILE,
    GuestDoor,
    client_of,
    link_of,
    seat_name,
)
from handslide.faces.web.links import Link, Links
from handslide.faces.web.live import listen_to, slides
from handslide.faces.web.pages import page, see, speech_of, studio_of
from handslide.faces.web.password import Turnstile
from handslide.faces.web.safety import Rules
from handslide.faces.web.stands import music_answer, say_of
from handslide.faces.web.takes import held
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import (
    GUEST_REQUEST_BYTES,
    GUEST_TAKE_BYTES,
    GUEST_TAKES,
)
from handslide.jobs.mark.slideview import rig_view
from handslide.sheets.slide import lens_svg
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.parts.stand import get_stand
from handslide.studio.parts.standjson import route_json
from handslide.studio.studio import Studio
from handslide.studio.takes.hearing import hearing, start_hearing
from handslide.studio.takes.live import LiveStart
from handslide.studio.takes.onmusic import take_on_music
from handslide.studio.takes.page import report_page
from handslide.studio.takes.sound import may_keep
from handslide.studio.takes.takes import get_take

# Close codes of our own: the link has ended; this device listens already.
ENDED, LISTENS = 4403, 4429
_LOOK_EVERY_S = 0.25
# And each so many times, whether its part is still there.
_LOOKS = 8
# Of a route: what the page shows and plays, and none of what the teacher decides.
_SHOWN = ("seal", "horn", "a4_hz", "tempo_qpm", "notes", "played", "beats")
# And of a take on its music: without the numbers by which the studio knows them.
_TOLD = ("on_music", "hits", "notes")


def guest_app(studio: Studio, links: Links, origin: str) -> Starlette:
    """The application that tablets reach at ``origin`` by ``links``."""
    rules = Rules(limit=GUEST_REQUEST_BYTES, limits={"/take": GUEST_TAKE_BYTES})
    app = Starlette(
        routes=[*ROUTES, *assets()],
        middleware=[Middleware(GuestDoor, rules=rules, links=links, origin=origin)],
        exception_handlers=HANDLERS,
    )
    app.state.studio = studio
    app.state.links = links
    app.state.origin = origin
    return app


def _links(connection: HTTPConnection) -> Links:
    found: Links = connection.app.state.links
    return found


def _seated(connection: HTTPConnection) -> Link:
    """The link of who asks, whose part is still the one that it was made for. Raises NotFound."""
    link = link_of(connection)
    if link is None:
        raise NotFound("send.no_link")
    if not stands_still(studio_of(connection), link):
        _links(connection).end(link)
        raise NotFound("send.ended")
    return link


def stands_still(studio: Studio, link: Link) -> bool:
    """Whether the part that a link was made for is still there, and no other has its number."""
    meant = link.wish.stand
    try:
        now = get_stand(studio, meant.id)
    except NotFound:
        return False
    return (now.student_id, now.horn_id, now.score_id, now.created_at) == (
        meant.student_id, meant.horn_id, meant.score_id, meant.created_at,
    )  # fmt: skip


def _part(request: Request) -> OpenPart:
    return open_part(studio_of(request), _seated(request).wish.stand.id)


def here(request: Request) -> Response:
    """The part of the link, or where its code is given."""
    if link_of(request) is None:
        return _ask(request, 200, None)
    link, part = _seated(request), _part(request)
    secure = link.origin.startswith("https:")
    if not link.wish.stage:
        return page(request, "guest/page.html", link=link, part=part, secure=secure)
    return page(
        request,
        "guest/stage.html",
        link=link,
        part=part,
        rig=rig_view(part.routed.setup, say_of(request, part).names),
        lens_svg=lens_svg,
        records=link.wish.records,
        kept=may_keep(studio_of(request), part.student.id),
    )


def _ask(request: Request, status: int, why: Fact | None) -> Response:
    return page(request, "guest/join.html", status=status, why=why)


async def join(request: Request) -> Response:
    """Take a code in: it is good once, and gives this device its seat."""
    turnstile: Turnstile = request.scope[TURNSTILE]
    client = client_of(request)
    if turnstile.take(client) is None:
        return _ask(request, 429, fact("send.wait"))
    form = await form_of(request)
    origin = request.app.state.origin
    found = _links(request).seat(text_of(form, "code"), origin)
    if found is None:
        # A device that has a seat keeps it, whatever code it sends.
        return _ask(request, 403, fact("send.wrong_code")) if link_of(request) is None else see("/")
    turnstile.let_in(client)
    link, seat = found
    response = see("/")
    response.set_cookie(
        seat_name(origin),
        seat,
        max_age=60 * link.wish.minutes,
        httponly=True,
        samesite="strict",
        secure=origin.startswith("https:"),
    )
    return response


def music(request: Request) -> Response:
    """The engraved music, in the width asked for."""
    return music_answer(request, _part(request), None)


def route(request: Request) -> Response:
    """The notes with their places, and how they are played."""
    part = _part(request)
    whole = route_json(say_of(request, part), part)
    shown = {key: whole[key] for key in _SHOWN}
    return JSONResponse(shown, headers={"Cache-Control": "no-store"})


async def send_take(request: Request) -> Response:
    """Take in what was recorded on the tablet, if it may be sent."""
    link = await run_in_threadpool(_seated, request)
    if not link.wish.records:
        raise BadUsage("send.no_takes")
    if len(link.takes) >= GUEST_TAKES:
        raise BadUsage("send.many_takes", count=GUEST_TAKES)
    if link.sending or not await run_in_threadpool(_last_is_heard, request, link):
        raise BadUsage("send.one_by_one")
    link.sending = True
    try:
        sent = await upload_file(request, "audio", GUEST_TAKE_BYTES)
        if sent is None:
            raise BadUsage("takes.no_file")
        stand = link.wish.stand
        key = await run_in_threadpool(
            start_hearing,
            studio_of(request),
            stand.student_id,
            held(sent[1]),
            name="take.wav",
            source="microphone",
            stand_id=stand.id,
        )
        link.takes.append(key)
    finally:
        link.sending = False
    return await run_in_threadpool(heard_take, request)


def _last_is_heard(request: Request, link: Link) -> bool:
    return not link.takes or hearing(studio_of(request), link.takes[-1]).done


def heard_take(request: Request) -> Response:
    """What became of the take that this device sent last."""
    link = _seated(request)
    if not link.takes:
        raise NotFound("takes.not_waiting")
    state = hearing(studio_of(request), link.takes[-1])
    said: dict[str, Any] = {"share": round(state.share, 2), "done": state.done}
    if state.error is not None:
        say = speech_of(request)
        said["error"] = say.sentence(say.fact(state.error))
    elif state.take_id is not None:
        say = say_of(request, _part(request))
        take = get_take(studio_of(request), state.take_id)
        shown = take_on_music(studio_of(request), take, say)
        report = report_page(take, say)
        first = [f"{line.what}: {line.text}" for line in report.practice[:1]]
        words = [*(report.nothing or [shown["summary"]]), *first]
        said["report"] = {key: shown[key] for key in _TOLD} | {"summary": " ".join(words)}
    return JSONResponse(said, headers={"Cache-Control": "no-store"})


async def listen(websocket: WebSocket) -> None:
    """The live view: of this link's part and student, whatever is asked for."""
    try:
        link = await run_in_threadpool(_seated, websocket)
    except NotFound:
        await _refuse(websocket, ENDED)
        return
    if not link.wish.stage or link.listening:
        await _refuse(websocket, LISTENS)
        return
    stand = link.wish.stand

    def whose(start: LiveStart) -> LiveStart:
        return replace(start, student_id=stand.student_id, stand_id=stand.id)

    link.listening = True
    try:
        # One of the live views stays for the teacher.
        begin = partial(slides, whose=whose)
        await _while_open(websocket, link, listen_to(websocket, begin, kept=1))
    finally:
        link.listening = False


async def stay(websocket: WebSocket) -> None:
    """Open as long as the link is: so the page knows at once when it ends."""
    link = link_of(websocket)
    if link is None or not await run_in_threadpool(stands_still, studio_of(websocket), link):
        await _refuse(websocket, ENDED)
        return
    await websocket.accept()
    await _while_open(websocket, link, _until_gone(websocket))


async def _until_gone(websocket: WebSocket) -> None:
    while (await websocket.receive())["type"] != "websocket.disconnect":
        pass


async def _while_open(
    websocket: WebSocket, link: Link, work: Coroutine[Any, Any, None]
) -> None:  # fmt: skip
    """Do ``work`` until it is done, and no longer than the link is open and its part there."""
    task, studio = asyncio.ensure_future(work), studio_of(websocket)
    try:
        for look in count(1):
            if task.done() or not link.open:
                break
            await asyncio.wait({task}, timeout=_LOOK_EVERY_S)
            if look % _LOOKS == 0 and not await run_in_threadpool(stands_still, studio, link):
                _links(websocket).end(link)
        if task.done():
            await task
            return
    finally:
        task.cancel()
    await asyncio.wait({task})
    await _close(websocket, ENDED)


async def _refuse(websocket: WebSocket, code: int) -> None:
    # A browser learns the code of a connection only if it was accepted.
    await websocket.accept()
    await _close(websocket, code)


async def _close(websocket: WebSocket, code: int) -> None:
    try:
        await websocket.close(code)
    except (RuntimeError, WebSocketDisconnect):
        return


# All that there is: what isn't here isn't there for a tablet.
ROUTES: tuple[BaseRoute, ...] = (
    Route("/", here),
    Route("/join", join, methods=["POST"]),
    Route("/music", music),
    Route("/route", route),
    Route("/take", send_take, methods=["POST"]),
    Route("/take", heard_take),
    WebSocketRoute("/live", listen),
    WebSocketRoute(HERE, stay),
)
