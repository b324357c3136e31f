"""Where tablets come in: a server of its own for each address, as long as a link to it is open."""

import contextlib
import socket
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import uvicorn

from handslide.faces.web.guestpages import guest_app
from handslide.faces.web.links import Link, Links, Wish
from handslide.faces.web.protocol import server_config
from handslide.faces.web.sockets import listen, own_addresses, url_of
from handslide.ground.errors import BadUsage
from handslide.ground.limits import GUEST_CONNECTIONS
from handslide.studio.studio import Studio

if TYPE_CHECKING:
    from handslide.edges.files.certificate import Certificate

PORT = 8481
_START_S = 10.0
# Pages are told that their link has ended before nobody answers them any more.
_LINGER_S = 1.0


class Guests:
    """The tablets of a studio: their links, and the servers at which they come in."""

    def __init__(
        self,
        studio: Studio,
        *,
        certificate: "Certificate | None" = None,
        addresses: Callable[[], tuple[str, ...]] = own_addresses,
        port: int = PORT,
    ) -> None:
        """``certificate`` is the user's own; without one, one is made where it is needed.

        ``addresses`` finds those at which tablets may come in; ``port`` is the first tried.
        """
        self.links = Links()
        self.certificate = certificate
        self.addresses = addresses
        self._studio = studio
        self._port = port
        self._guard = threading.Lock()
        self._servers: dict[tuple[str, bool], _Server] = {}
        self._fingerprints: dict[str, tuple[str, ...]] = {}

    def send(self, wish: Wish, address: str, *, secure: bool) -> Link:
        """A link at ``address``, whose server starts if it doesn't run.

        Raises BadUsage, BadData, OutputError.
        """
        if address not in self.addresses():
            raise BadUsage("send.no_address", address=address)
        with self._guard:
            running = self._servers.get((address, secure))
            if running is not None and running.serves:
                link = self.links.make(wish, running.origin)
                if running.serves:  # It doesn't stop any more while this link is open.
                    return link
                self.links.end(link)
            server = self._server(address, secure=secure)
            try:
                link = self.links.make(wish, server.origin)
                server.start()
            except BadUsage:
                server.stop()
                raise
            self._servers[address, secure] = server
            return link

    def _server(self, address: str, *, secure: bool) -> "_Server":
        files, host = None, address
        fingerprint: tuple[str, ...] = ()
        if secure and self.certificate is not None:
            files = self.certificate.file, self.certificate.key_file
            hosts = self.certificate.hosts
            host = address if address in hosts else hosts[0]
        elif secure:
            # Imported when it is needed: the library is large.
            from handslide.edges.files.certificate import own_certificate

            made = own_certificate(self._studio.folder, address)
            files, fingerprint = (made.file, made.key_file), made.fingerprint
        line = listen(address, self._port)
        origin = url_of(host, line.getsockname()[1], secure=secure)
        self._fingerprints[origin] = fingerprint
        return _Server(self._studio, self.links, line, origin, files)

    def fingerprint(self, link: Link) -> tuple[str, ...]:
        """The SHA-256 of the certificate that was made for a link's device, () for none."""
        return self._fingerprints.get(link.origin, ())

    def close(self) -> None:
        """End all links and stop all servers."""
        self.links.end_all()
        with self._guard:
            for server in self._servers.values():
                server.stop()
            self._servers.clear()


class _Server(uvicorn.Server):
    """Serves tablets in a thread of its own, until its last link has ended."""

    def __init__(
        self,
        studio: Studio,
        links: Links,
        line: socket.socket,
        origin: str,
        files: tuple[Path, Path] | None,
    ) -> None:
        super().__init__(
            server_config(
                guest_app(studio, links, origin),
                connections=GUEST_CONNECTIONS,
                leave_s=1,
                certificate=files,
            )
        )
        self.origin = origin
        self._links = links
        self._line = line
        self._idle_since_s: float | None = None
        self._thread = threading.Thread(target=self._serve_line, name="tablets", daemon=True)

    @property
    def serves(self) -> bool:
        """Whether it runs and isn't about to stop."""
        return self._thread.is_alive() and not self.should_exit

    def start(self) -> None:
        """Begin to serve. Raises BadUsage."""
        self._thread.start()
        end = time.monotonic() + _START_S
        while not self.started and self._thread.is_alive() and time.monotonic() < end:
            time.sleep(0.01)
        if not self.started:
            for link in self._links.rows(self.origin):
                self._links.end(link)
            raise BadUsage("send.not_started", address=self.origin)

    def stop(self) -> None:
        """Serve no more."""
        self.should_exit = True
        if self._thread.is_alive():
            self._thread.join(_START_S)
        self._line.close()

    def _serve_line(self) -> None:
        # uvicorn ends the process where a server can't start.
        with contextlib.suppress(SystemExit):
            self.run(sockets=[self._line])
        self._line.close()

    async def on_tick(self, counter: int) -> bool:
        """Called ten times a second: whether to stop."""
        now_s = time.monotonic()
        if self._links.rows(self.origin):
            self._idle_since_s = None
        elif self._idle_since_s is None:
            self._idle_since_s = now_s
        elif now_s - self._idle_since_s > _LINGER_S:
            self.should_exit = True
        return await super().on_tick(counter)
