"""The server's side of a connection: one that never says what it wants is closed."""

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 20.0


class Protocol(H11Protocol):
    """HTTP/1.1 where the head of a request must have come within ``HEAD_S`` seconds.

    The body has its own limits in `handslide.faces.web.safety`.
    """

    head_s = HEAD_S
    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """A browser has called."""
        super().connection_made(transport)
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Bytes have come: the head may be complete now, or another begin."""
        super().data_received(data)
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is gone."""
        self._rest()
        super().connection_lost(exc)

    def _watch(self) -> None:
        if not self._waits_for_head():
            self._rest()
        elif self._late is None:
            self._late = self.loop.call_later(self.head_s, self._close)

    def _waits_for_head(self) -> bool:
        # A live connection goes on under another protocol.
        mine = self.transport.get_protocol() is self
        busy = self.cycle is not None and not self.cycle.response_complete
        return mine and not busy and self.conn.our_state is h11.IDLE

    def _rest(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _close(self) -> None:
        self._late = None
        if self._waits_for_head() and not self.transport.is_closing():
            self.transport.close()
