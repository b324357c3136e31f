"""The password of a studio that other machines may reach: HTTP Basic, then a cookie.

The cookie is there because not every browser sends the password when a page opens its live
connection. It is good until the server stops.

A try is looked at or put off, but never waits in a line: whoever knows the password is in at once,
however many guess meanwhile. What is bounded is how many tries are looked at, of one address and of
all together.
"""

import asyncio
import base64
import binascii
import hashlib
import hmac
import secrets
import time
from collections import OrderedDict
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import TypeVar

from starlette.datastructures import Headers

from handslide.ground.limits import (
    ADDRESSES_KEPT,
    ALL_TRIES,
    ALL_TRIES_A_SECOND,
    TRIES,
    TRIES_A_SECOND,
)

_Value = TypeVar("_Value")
COOKIE = "studio"
_FIRST_WAIT_S = 0.5
_LONGEST_WAIT_S = 8.0


@dataclass(frozen=True)
class Known:
    """Whether someone may come in; ``cookie`` is the Set-Cookie of someone new.

    ``later``: too many tries were made, and this one was not looked at.
    """

    welcome: bool
    cookie: str | None = None
    later: bool = False


_clock_s = time.monotonic


class _Tries:
    """How many tries are left: so many at once, so many more each second."""

    def __init__(self, most: float, a_second: float) -> None:
        self._most, self._a_second = most, a_second
        self._left, self._at_s = most, _clock_s()
        self.wrong = 0

    def take(self) -> bool:
        """Use one up; False where none is left."""
        now_s = _clock_s()
        self._left = min(self._most, self._left + (now_s - self._at_s) * self._a_second)
        self._at_s = now_s
        if self._left < 1.0:
            return False
        self._left -= 1.0
        return True


class Turnstile:
    """Bounds how many tries are looked at, of one address and of all addresses together."""

    def __init__(self) -> None:
        self._all = _Tries(ALL_TRIES, ALL_TRIES_A_SECOND)
        self._clients: OrderedDict[str, _Tries] = OrderedDict()
        # Who was let in before doesn't depend on how many others guess.
        self._welcome: OrderedDict[str, None] = OrderedDict()

    def take(self, client: str) -> _Tries | None:
        """Use up a try of ``client``: its tries, None where none is left."""
        tries = self._clients.get(client) or _Tries(TRIES, TRIES_A_SECOND)
        _remember(self._clients, client, tries)
        return tries if tries.take() and (self.knows(client) or self._all.take()) else None

    def knows(self, client: str) -> bool:
        """Whether ``client`` was let in before."""
        return client in self._welcome

    def let_in(self, client: str) -> None:
        """Remember that ``client`` was let in."""
        _remember(self._welcome, client, None)


class Door:
    """Asks for the password; each wrong try of a client is answered later than the one before."""

    def __init__(
        self, password: str, first_wait_s: float = _FIRST_WAIT_S, *, secure: bool = False
    ) -> None:
        """``secure``: browsers reach the studio by https only."""
        self._digest = _digest(password.encode())
        self._first_wait_s = first_wait_s
        self._secure = "; Secure" if secure else ""
        self._ticket = secrets.token_urlsafe(32)
        self._turnstile = Turnstile()

    def knows(self, headers: Headers) -> bool:
        """True for the cookie of someone who gave the password before."""
        found = cookie_of(headers, COOKIE)
        return found is not None and hmac.compare_digest(found.encode(), self._ticket.encode())

    async def let_in(self, headers: Headers, client: str) -> Known:
        """Whether the sender of ``headers`` at the address ``client`` may come in."""
        if self.knows(headers):
            return Known(True)
        given = _given(headers)
        if given is None:
            return Known(False)
        tries = self._turnstile.take(client)
        if tries is None:
            return Known(False, later=True)
        if hmac.compare_digest(_digest(given), self._digest):
            tries.wrong = 0
            self._turnstile.let_in(client)
            cookie = f"{COOKIE}={self._ticket}; Path=/; HttpOnly; SameSite=Strict{self._secure}"
            return Known(True, cookie)
        tries.wrong = min(tries.wrong + 1, 10)
        if tries.wrong > 1:
            wait_s = self._first_wait_s * 2.0 ** (tries.wrong - 2)
            await asyncio.sleep(min(wait_s, _LONGEST_WAIT_S))
        return Known(False)


def cookie_of(headers: Headers, name: str) -> str | None:
    """The value of a cookie that came, None for none."""
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return None
    return None if found is None else found.value


def _remember(table: OrderedDict[str, _Value], key: str, value: _Value) -> None:
    table[key] = value
    table.move_to_end(key)
    while len(table) > ADDRESSES_KEPT:
        table.popitem(last=False)


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
