"""The server's side of a connection: one that drips or does nothing is closed."""

import asyncio
from pathlib import Path
from typing import Any

import h11
import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from handslide.ground.limits import HEAD_S, REST_S, UNREAD_S


class Protocol(H11Protocol):
    """HTTP/1.1 with patience of its own.

    The head of a request must have come within ``head_s`` seconds, what is left of a request that
    was answered already within ``rest_s``, and a browser must read of its answer within
    ``unread_s``, however many bytes drip meanwhile. The body has its own limits in
    `handslide.faces.web.safety`.
    """

    head_s = HEAD_S
    rest_s = REST_S
    unread_s = UNREAD_S
    _late: asyncio.TimerHandle | None = None
    _late_for = ""
    _unread: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """A browser has called."""
        super().connection_made(transport)
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Bytes have come: the head may be complete now, or another begin."""
        super().data_received(data)
        self._watch()

    def on_response_complete(self) -> None:
        """An answer is on its way; the request may still be coming."""
        super().on_response_complete()
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is gone."""
        self._rest()
        self._read_on()
        super().connection_lost(exc)

    def pause_writing(self) -> None:
        """The browser reads more slowly than it is answered."""
        super().pause_writing()
        if self._unread is None:
            self._unread = self.loop.call_later(self.unread_s, self._abort)

    def resume_writing(self) -> None:
        """The browser has read."""
        super().resume_writing()
        self._read_on()

    def _watch(self) -> None:
        waits = self._waits_for()
        if waits != self._late_for:
            self._rest()
        if waits and self._late is None:
            patience_s = self.head_s if waits == "head" else self.rest_s
            self._late_for = waits
            self._late = self.loop.call_later(patience_s, self._close)

    def _waits_for(self) -> str:
        """``head``, ``rest``, or nothing."""
        # A live connection goes on under another protocol.
        if self.transport.get_protocol() is not self:
            return ""
        answered = self.cycle is None or self.cycle.response_complete
        if not answered:
            return ""
        if self.conn.our_state is h11.IDLE:
            return "head"
        return "rest" if self.conn.their_state is h11.SEND_BODY else ""

    def _rest(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None
        self._late_for = ""

    def _read_on(self) -> None:
        if self._unread is not None:
            self._unread.cancel()
            self._unread = None

    def _close(self) -> None:
        self._late = None
        if self._waits_for() and not self.transport.is_closing():
            self.transport.close()

    def _abort(self) -> None:
        # Closing would wait for what is never read.
        self._unread = None
        self.transport.abort()


def server_config(
    app: ASGIApp, *, connections: int, leave_s: int, certificate: tuple[Path, Path] | None
) -> uvicorn.Config:
    """How every server of ours runs: for at most so many ``connections`` at once.

    ``leave_s`` is how long a page may take to end when the server stops; ``certificate`` are its
    file and that of its key.
    """
    return uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        http=Protocol,
        loop="asyncio",
        lifespan="off",
        proxy_headers=False,
        server_header=False,
        ws_max_size=1_000_000,
        limit_concurrency=connections,
        timeout_graceful_shutdown=leave_s,
        ssl_certfile=None if certificate is None else certificate[0],
        ssl_keyfile=None if certificate is None else certificate[1],
    )
