"""Who may speak with the studio, how much may be sent, and what a browser may do with its pages.

The studio serves the browser of its own machine. Any page of the web can make that browser send
requests here, and a name of the web can be made to lead here; neither may reach the studio.
"""

import asyncio
import ipaddress
import logging
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, HTTPConnection, Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from handslide.faces.web import errors
from handslide.faces.web.forms import FORMS
from handslide.faces.web.password import Door
from handslide.ground.facts import fact
from handslide.ground.limits import (
    ARCHIVE_BYTES,
    PATIENCE_S,
    REQUEST_BYTES,
    SCORE_REQUEST_BYTES,
    SILENT_S,
    SLOWEST_BPS,
    TAKE_REQUEST_BYTES,
)
from handslide.ground.wholenumber import whole_number

LOOPBACK = ("127.0.0.1", "localhost", "::1")
# What proxies say of whom they pass on.
_PASSED_ON = ("forwarded", "via", "x-forwarded-for", "x-forwarded-host", "x-real-ip")
_SAFE = ("GET", "HEAD", "OPTIONS")
# The most bytes of a request to paths that begin so; each file has its own limit in its form.
LIMITS: Mapping[str, int] = {
    "/parts": SCORE_REQUEST_BYTES,
    "/takes": TAKE_REQUEST_BYTES,
    "/tuning": TAKE_REQUEST_BYTES,
    "/fitting": TAKE_REQUEST_BYTES,
    "/data": ARCHIVE_BYTES,
}
LIMIT = REQUEST_BYTES

HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": "; ".join(
        (
            "default-src 'none'", "script-src 'self'", "style-src 'self'",
            "img-src 'self' data: blob:", "font-src 'self'", "media-src 'self' blob:",
            "connect-src 'self'", "worker-src 'self' blob:", "form-action 'self'",
            "frame-ancestors 'none'", "base-uri 'none'",
        )
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "microphone=(self), camera=(), geolocation=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}  # fmt: skip

_log = logging.getLogger("handslide.studio")


@dataclass(frozen=True)
class Rules:
    """What is allowed: the ``address`` that was chosen, its password, how slow a sender may be.

    ``public`` is the host (and port) at which a reverse proxy of this machine shows the studio by
    https, None for no such. ``secure``: the studio itself serves https.

    A sender is cut off after ``silent_s`` seconds without a byte, and when fewer than
    ``slowest_bps`` bytes a second have come once ``patience_s`` seconds were spent waiting.
    """

    address: str = "127.0.0.1"
    password: str | None = field(default=None, repr=False)
    public: str | None = None
    secure: bool = False
    silent_s: float = SILENT_S
    patience_s: float = PATIENCE_S
    slowest_bps: float = SLOWEST_BPS
    limit: int = LIMIT
    limits: Mapping[str, int] = field(default_factory=lambda: dict(LIMITS))

    def most_bytes(self, path: str) -> int:
        """The most bytes of a request to ``path``."""
        for prefix, most in self.limits.items():
            if path == prefix or path.startswith(prefix + "/"):
                return most
        return self.limit


class Guard:
    """The outermost part of the application: everything passes it, both ways."""

    def __init__(self, app: ASGIApp, rules: Rules) -> None:
        self._app = app
        self._rules = rules
        self._door = (
            None
            if rules.password is None
            else Door(rules.password, secure=rules.secure or rules.public is not None)
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] == "websocket":
            await self._live(scope, receive, send)
        elif scope["type"] == "http":
            await self._page(scope, receive, send)
        else:
            await self._app(scope, receive, send)

    async def _live(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        allowed = self._host_allowed(scope) and same_origin(headers)
        if allowed and self._door is not None:
            allowed = self._door.knows(headers)
        if allowed:
            await self._app(scope, receive, send)
        else:
            await send({"type": "websocket.close", "code": 1008, "reason": "refused"})

    async def _page(self, scope: Scope, receive: Receive, send: Send) -> None:
        answer = Answer(send)
        body = _Body(scope, receive, self._rules)
        scope[FORMS] = []
        request = Request(scope, body.receive)
        try:
            response = await self._refusal(request, answer)
            if response is None and body.too_long():
                await body.discard()
                response = self._too_large(request)
            if response is not None:
                answer.closing = response.status_code in (401, 403, 408, 413, 421, 429)
                await response(scope, body.receive, answer.send)
                return
            await self._app(scope, body.receive, answer.send)
        except ClientDisconnect:
            pass  # Nobody is left to be answered.
        except Exception:
            if answer.begun:
                raise
            _log.exception("%s %s failed", scope["method"], scope["path"])
            response = self._broken(request)
            await response(scope, body.receive, answer.send)
        finally:
            for form in scope[FORMS]:
                await form.close()

    def _host_allowed(self, scope: Scope) -> bool:
        hosts = Headers(scope=scope).getlist("host")
        public = self._rules.public
        if public is not None and len(hosts) == 1 and hosts[0].lower() == public.lower():
            return True
        return host_allowed(scope, self._rules.address)

    def _client(self, request: Request) -> str:
        """Who asks: behind a proxy of this machine, whom that names last."""
        client = request.client.host if request.client else ""
        if self._rules.public is None or not is_loopback(client):
            return client
        told = ",".join(request.headers.getlist("x-forwarded-for")).rpartition(",")[2].strip()
        return told[:100] or client

    def _too_large(self, request: Request) -> Response:
        return errors.refusal(request, 413, fact("web.too_large"))

    def _broken(self, request: Request) -> Response:
        return errors.broken(request)

    async def _refusal(self, request: Request, answer: "Answer") -> Response | None:
        if not self._host_allowed(request.scope):
            return errors.wrong_host(request)
        if self._door is not None:
            known = await self._door.let_in(request.headers, self._client(request))
            answer.cookie = known.cookie
            if known.later:
                return errors.too_many_tries(request)
            if not known.welcome:
                return errors.locked(request)
        if request.method in _SAFE:
            welcome = not foreign(request.headers)
        else:
            welcome = same_origin(request.headers)
        return None if welcome else errors.refusal(request, 403, fact("web.foreign"))


class Answer:
    """What goes back: every answer carries the headers of safety."""

    def __init__(self, send: Send) -> None:
        self._send = send
        self.begun = False
        self.closing = False
        self.cookie: str | None = None

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.begun = True
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            if self.cookie is not None:
                headers.append("Set-Cookie", self.cookie)
            if self.closing or message["status"] in (408, 413):
                headers["Connection"] = "close"
        await self._send(message)


class _Body:
    """What comes in: counted, and cut off when it is too much or too slow."""

    def __init__(self, scope: Scope, receive: Receive, rules: Rules) -> None:
        self._receive = receive
        self._rules = rules
        self._most = rules.most_bytes(scope["path"])
        declared = Headers(scope=scope).get("content-length", "")
        self._declared = whole_number(declared) or 0
        self._count = 0
        self._waited_s = 0.0
        self._complete = False

    def too_long(self) -> bool:
        return self._declared > self._most

    async def receive(self) -> Message:
        if self._complete:
            return await self._receive()
        began = time.monotonic()
        try:
            message = await asyncio.wait_for(self._receive(), self._rules.silent_s)
        except TimeoutError:
            raise HTTPException(408) from None
        self._waited_s += time.monotonic() - began
        self._count += len(message.get("body", b""))
        self._complete = not message.get("more_body", False)
        if self._count > self._most:
            await self.discard()
            raise HTTPException(413)
        late = self._waited_s > self._rules.patience_s
        if late and not self._complete and self._count < self._waited_s * self._rules.slowest_bps:
            raise HTTPException(408)
        return message

    async def discard(self) -> None:
        """Take in what is still on its way for a moment: a browser that is cut off while it
        sends shows a broken connection and not our sentence.
        """
        end = time.monotonic() + 5.0
        while not self._complete and time.monotonic() < end:
            try:
                message = await asyncio.wait_for(self._receive(), 1.0)
            except TimeoutError:
                return
            self._complete = not message.get("more_body", False)


def host_allowed(scope: Scope, address: str) -> bool:
    """True if the request's Host is this machine's, or the chosen ``address``, and our port.

    A name that someone made lead here (DNS rebinding) isn't. Where the studio listens on all
    addresses, the number at which it was reached is allowed too: a number can't be rebound.
    """
    hosts = Headers(scope=scope).getlist("host")
    here = scope.get("server") or ("127.0.0.1", None)
    if len(hosts) != 1:
        return False
    try:
        name, port = split_host(hosts[0])
    except ValueError:
        return False
    if port is not None and port != here[1]:
        return False
    if name in LOOPBACK or name == address.lower():
        return True
    return is_wildcard(address) and _is_number(name) and name == str(here[0]).lower()


def split_host(host: str) -> tuple[str, int | None]:
    """Name (small letters, without brackets) and port of a Host header. Raises ValueError."""
    parts = urlsplit(f"//{host}")
    if not host or parts.path or parts.query or parts.fragment or "@" in host or not parts.hostname:
        raise ValueError(f"not a host: {host!r}")
    return parts.hostname, parts.port


def at_this_machine(request: HTTPConnection, rules: Rules) -> bool:
    """True if the browser runs on the studio's own machine, as far as that can be told.

    Behind a reverse proxy everybody comes from this machine, so that nobody counts as here.
    """
    if rules.public is not None or any(name in request.headers for name in _PASSED_ON):
        return False
    try:
        name, _ = split_host(request.headers.get("host", ""))
    except ValueError:
        return False
    return request.client is not None and is_loopback(request.client.host) and name in LOOPBACK


def is_wildcard(address: str) -> bool:
    """True if ``address`` stands for all addresses of the machine."""
    return address in ("0.0.0.0", "::")


def is_loopback(address: str) -> bool:
    """True if only this machine reaches ``address``."""
    return address == "localhost" or (
        _is_number(address) and ipaddress.ip_address(address).is_loopback
    )


def _is_number(address: str) -> bool:
    try:
        ipaddress.ip_address(address)
    except ValueError:
        return False
    return True


def same_origin(headers: Headers) -> bool:
    """True if one of the studio's own pages sent the request: its browser says so.

    Origin or Sec-Fetch-Site must be there, and what is there must agree.
    """
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site is None and origin is None:
        return False
    if site is not None and site not in ("same-origin", "none"):
        return False
    if origin is None:
        return True
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and parts.netloc == headers.get("host")


def foreign(headers: Headers) -> bool:
    """True if another site's page wants one of ours as a piece of itself; a link may lead here."""
    site = headers.get("sec-fetch-site", "none")
    if site in ("same-origin", "none"):
        return False
    return (headers.get("sec-fetch-mode"), headers.get("sec-fetch-dest")) != (
        "navigate", "document",
    )  # fmt: skip
