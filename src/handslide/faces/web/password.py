"""The password of a studio that other machines may reach: HTTP Basic, then a cookie.

The cookie is there because not every browser sends the password when a page opens its live
connection. It is good until the server stops.
"""

import asyncio
import base64
import binascii
import hashlib
import hmac
import secrets
from collections import OrderedDict
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers

COOKIE = "studio"
_FIRST_WAIT_S = 0.5
_LONGEST_WAIT_S = 8.0
_MOST_CLIENTS = 1000


@dataclass(frozen=True)
class Known:
    """Whether someone may come in; ``cookie`` is the Set-Cookie of someone new."""

    welcome: bool
    cookie: str | None = None


class Door:
    """Asks for the password; each wrong try of a client makes its next one slower."""

    def __init__(self, password: str, first_wait_s: float = _FIRST_WAIT_S) -> None:
        self._digest = _digest(password.encode())
        self._first_wait_s = first_wait_s
        self._ticket = secrets.token_urlsafe(32)
        self._wrong: OrderedDict[str, int] = OrderedDict()
        self._queue: dict[str, asyncio.Lock] = {}

    def knows(self, headers: Headers) -> bool:
        """True for the cookie of someone who gave the password before."""
        try:
            found = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
        except CookieError:
            return False
        return found is not None and hmac.compare_digest(
            found.value.encode(), self._ticket.encode()
        )

    async def let_in(self, headers: Headers, client: str) -> Known:
        """Whether the sender of ``headers`` at the address ``client`` may come in."""
        if self.knows(headers):
            return Known(True)
        given = _given(headers)
        if given is None:
            return Known(False)
        # One after the other: many tries at once are no faster.
        async with self._queue.setdefault(client, asyncio.Lock()):
            wrong = self._wrong.get(client, 0)
            if wrong:
                await asyncio.sleep(min(self._first_wait_s * 2 ** (wrong - 1), _LONGEST_WAIT_S))
            if hmac.compare_digest(_digest(given), self._digest):
                self._wrong.pop(client, None)
                return Known(True, f"{COOKIE}={self._ticket}; Path=/; HttpOnly; SameSite=Strict")
            self._count_wrong(client, wrong + 1)
        return Known(False)

    def _count_wrong(self, client: str, wrong: int) -> None:
        self._wrong[client] = min(wrong, 10)
        self._wrong.move_to_end(client)
        while len(self._wrong) > _MOST_CLIENTS:
            oldest, _ = self._wrong.popitem(last=False)
            self._queue.pop(oldest, None)


def _given(headers: Headers) -> bytes | None:
    """The password of an Authorization header; the name before it doesn't matter."""
    scheme, _, value = headers.get("authorization", "").partition(" ")
    if scheme.lower() != "basic":
        return None
    try:
        return base64.b64decode(value, validate=True).partition(b":")[2]
    except (binascii.Error, ValueError):
        return b""


def _digest(password: bytes) -> bytes:
    return hashlib.sha256(password).digest()
