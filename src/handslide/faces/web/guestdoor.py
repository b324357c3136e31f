"""Who may come in where tablets do, and what they may ask for: one part, by a link that is open."""

from collections.abc import Mapping

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from handslide.faces.web.assets import FOLDER, plain
from handslide.faces.web.errors import Handler, sentence, wants_json
from handslide.faces.web.links import Link, Links
from handslide.faces.web.pages import speech_of
from handslide.faces.web.password import Turnstile, cookie_of
from handslide.faces.web.safety import Answer, Guard, Rules, foreign, same_origin
from handslide.ground.errors import HandslideError, NotFound
from handslide.ground.facts import Fact, fact

LINK = "handslide.link"
TURNSTILE = "handslide.turnstile"
HERE = "/here"
# What is shown to who has no link (yet): where the code is given, and how that looks.
OPEN_PATHS = frozenset(
    (
        "/", "/join", "/static/tokens.css", "/static/style.css", "/static/guest.css",
        "/static/join.js", "/static/icon.svg",
    )
)  # fmt: skip
OPEN_KINDS = (".woff2", ".ttf")  # faces
_SAFE = ("GET", "HEAD")


class GuestDoor(Guard):
    """The outermost part of what tablets reach at one ``origin``."""

    def __init__(self, app: ASGIApp, rules: Rules, links: Links, origin: str) -> None:
        super().__init__(app, rules)
        self._links = links
        self._origin = origin
        self._turnstile = Turnstile()

    def _host_allowed(self, scope: Scope) -> bool:
        # Nothing but the very address: no name can be made to lead here.
        hosts = Headers(scope=scope).getlist("host")
        return len(hosts) == 1 and hosts[0].lower() == self._origin.partition("://")[2]

    def _own(self, headers: Headers) -> bool:
        return headers.getlist("origin") == [self._origin] and same_origin(headers)

    async def _live(self, scope: Scope, receive: Receive, send: Send) -> None:
        connection = HTTPConnection(scope)
        if self._host_allowed(scope) and self._own(connection.headers):
            scope[LINK], later = self._link(connection)
            # A page whose link has ended is to be told so.
            if scope[LINK] is not None or (scope["path"] == HERE and not later):
                await self._app(scope, receive, send)
                return
        await send({"type": "websocket.close", "code": 1008, "reason": "refused"})

    async def _refusal(self, request: Request, answer: Answer) -> Response | None:
        if not self._host_allowed(request.scope):
            return told(request, 421, fact("send.host", address=self._origin))
        safe = request.method in _SAFE
        if foreign(request.headers) or not (safe or self._own(request.headers)):
            return told(request, 403, fact("send.foreign"))
        link, later = self._link(request)
        request.scope[LINK], request.scope[TURNSTILE] = link, self._turnstile
        path = plain(request.scope["path"])
        if later:
            return told(request, 429, fact("send.wait"), {"Retry-After": "10"})
        if link is None and not _shown_to_all(path):
            return told(request, 403, fact("send.no_link"))
        return None

    def _link(self, connection: HTTPConnection) -> tuple[Link | None, bool]:
        """The link of a request's seat, and whether it wasn't looked at for too many tries."""
        seat = cookie_of(connection.headers, seat_name(self._origin))
        if seat is None:
            return None, False
        client = client_of(connection)
        if not self._turnstile.knows(client) and self._turnstile.take(client) is None:
            return None, True
        link = self._links.of_seat(seat, self._origin)
        if link is not None:
            self._turnstile.let_in(client)
        return link, False

    def _too_large(self, request: Request) -> Response:
        return told(request, 413, fact("send.too_large"))

    def _broken(self, request: Request) -> Response:
        return told(request, 500, fact("send.broken"))


def _shown_to_all(path: str) -> bool:
    face = path.startswith(f"{FOLDER}/") and path.endswith(OPEN_KINDS)
    return face or path in OPEN_PATHS


def seat_name(origin: str) -> str:
    """The name of the cookie at ``origin``: browsers don't tell ports apart."""
    return f"guest{origin.rpartition(':')[2]}"


def client_of(connection: HTTPConnection) -> str:
    """The address that asks."""
    return connection.client.host if connection.client else ""


def link_of(connection: HTTPConnection) -> Link | None:
    """The link by which a request came in."""
    found: Link | None = connection.scope.get(LINK)
    return found


def told(
    request: Request, status: int, why: Fact, headers: Mapping[str, str] | None = None
) -> Response:
    """One sentence, and nothing of the studio around it."""
    words = sentence(speech_of(request).fact(why))
    headers = {"Cache-Control": "no-store", **(headers or {})}
    if wants_json(request):
        return JSONResponse({"error": words}, status, headers=headers)
    return PlainTextResponse(words + "\n", status, headers=headers)


async def _on_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HandslideError)
    return told(request, 404 if isinstance(error, NotFound) else 400, error.fact)


async def _on_http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return told(request, error.status_code, fact("send.nothing_there"), error.headers)


HANDLERS: Mapping[type[Exception], Handler] = {
    HandslideError: _on_error,
    HTTPException: _on_http,
}
