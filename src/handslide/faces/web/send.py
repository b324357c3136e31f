"""Sending a part to a tablet: asking first, the code to scan, which links are open, ending them."""

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.typesetting.qrcode import qr_code
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import text_of, whole
from handslide.faces.web.guestpages import stands_still
from handslide.faces.web.guestserver import Guests
from handslide.faces.web.links import Link, Wish
from handslide.faces.web.pages import page, see, studio_of
from handslide.faces.web.safety import Rules, is_loopback, is_wildcard
from handslide.faces.web.sockets import url_of
from handslide.ground.errors import NotFound
from handslide.ground.facts import fact
from handslide.ground.limits import LEAST_LINK_MINUTES, LESSON_MINUTES, MOST_LINK_MINUTES
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.stand import get_stand
from handslide.studio.studio import Studio

_NO_NUMBER = fact("send.no_number")


def _guests(request: Request) -> Guests:
    found: Guests = request.app.state.guests
    return found


def ask(request: Request) -> Response:
    """What is to open on the tablet, and for how long."""
    part, guests = open_part(studio_of(request), request.path_params["stand_id"]), _guests(request)
    whole_studio = _with_password(request, part.stand.id)
    return page(
        request,
        "send/ask.html",
        part=part,
        addresses=guests.addresses(),
        own_certificate=guests.certificate is not None,
        stage=request.query_params.get("what") == "stage",
        minutes=LESSON_MINUTES,
        least=LEAST_LINK_MINUTES,
        most=MOST_LINK_MINUTES,
        password_url=whole_studio,
        password_code=None if whole_studio is None else qr_code(whole_studio),
        links=_rows(request),
    )


def _with_password(request: Request, stand_id: int) -> str | None:
    """Where who knows the password opens this part, None where other machines don't come in."""
    rules: Rules = request.app.state.rules
    if rules.public is not None:
        return f"https://{rules.public}/stands/{stand_id}"
    if is_loopback(rules.address):
        return None
    address = rules.address
    if is_wildcard(address):
        address = next(iter(_guests(request).addresses()), "")
    port = (request.scope.get("server") or ("", 0))[1]
    return f"{url_of(address, port, secure=rules.secure)}/stands/{stand_id}" if address else None


async def send(request: Request) -> Response:
    """Make a link, and let tablets in."""
    stand = await run_in_threadpool(
        get_stand, studio_of(request), request.path_params["stand_id"]
    )  # fmt: skip
    form, guests = await form_of(request), _guests(request)
    stage = form.get("what") == "stage"
    wish = Wish(
        stand,
        stage=stage,
        records=stage and form.get("records") is not None,
        minutes=whole(text_of(form, "minutes"), _NO_NUMBER) or LESSON_MINUTES,
    )
    # A browser gives its microphone to https only.
    secure = stage or guests.certificate is not None or form.get("secure") is not None
    address = text_of(form, "address")
    link = await run_in_threadpool(guests.send, wish, address, secure=secure)
    return see(f"/send/{link.number}")


def _rows(request: Request) -> list[dict[str, Any]]:
    """The links that are open, with the names that a list needs; what is gone ends its link."""
    studio, links = studio_of(request), _guests(request).links
    for link in links.rows():
        if not stands_still(studio, link):
            links.end(link)
    return [_row(studio, link) for link in links.rows()]


def _row(studio: Studio, link: Link) -> dict[str, Any]:
    stand = link.wish.stand
    return {
        "link": link,
        "score_id": stand.score_id,
        "student_id": stand.student_id,
        "until": link.ends_at.strftime("%H:%M"),
        "since": None if link.opened_at is None else link.opened_at.strftime("%H:%M"),
    }


def links(request: Request) -> Response:
    """All links that are open."""
    return page(request, "send/links.html", links=_rows(request))


def code(request: Request) -> Response:
    """The code of a link to scan, until a device was there."""
    return _code(request, "send/code.html")


def state(request: Request) -> Response:
    """The same, as the piece of the page that changes; one that has ended asks no more.

    What stands there already isn't sent again: a camera or a finger may be on it.
    """
    try:
        link = _open_link(request)
    except NotFound:
        return page(request, "send/ended.html")
    if request.query_params.get("shows") == _shown(link):
        return Response(status_code=204)
    return _code(request, "send/state.html")


def _open_link(request: Request) -> Link:
    guests = _guests(request)
    link = guests.links.of_number(request.path_params["number"])
    if not stands_still(studio_of(request), link):
        guests.links.end(link)
        raise NotFound("send.ended")
    return link


def _shown(link: Link) -> str:
    """What the page of a link has on it."""
    return "device" if link.url is None else "code"


def _code(request: Request, template: str) -> Response:
    link = _open_link(request)
    return page(
        request,
        template,
        **_row(studio_of(request), link),
        shows=_shown(link),
        code=None if link.url is None else qr_code(link.url),
        fingerprint=_guests(request).fingerprint(link),
    )


def end(request: Request) -> Response:
    """End a link at once."""
    guests = _guests(request)
    guests.links.end(guests.links.of_number(request.path_params["number"]))
    return see("/send")


def end_all(request: Request) -> Response:
    """End all links at once."""
    _guests(request).links.end_all()
    return see("/send")


routes: list[BaseRoute] = [
    Route("/send", links, name="send"),
    Route("/send/end", end_all, methods=["POST"]),
    Route("/send/stand/{stand_id:int}", ask),
    Route("/send/stand/{stand_id:int}", send, methods=["POST"]),
    Route("/send/{number:int}", code),
    Route("/send/{number:int}/state", state),
    Route("/send/{number:int}/end", end, methods=["POST"]),
]
