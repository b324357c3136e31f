"""The studio's server: one process, on this machine unless another address is chosen."""

import contextlib
import hashlib
import hmac
import logging
import os
import re
import secrets
import signal
import socket
import ssl
import sys
import threading
import time
import urllib.request
import webbrowser
from collections.abc import Callable
from types import FrameType
from typing import TYPE_CHECKING

import uvicorn
from starlette.types import ASGIApp, Receive, Scope, Send

from handslide.faces.web.app import create_app
from handslide.faces.web.guestserver import Guests
from handslide.faces.web.pages import compile_ahead
from handslide.faces.web.protocol import server_config
from handslide.faces.web.safety import HEADERS, Rules, is_loopback, is_wildcard
from handslide.faces.web.sockets import url_of
from handslide.ground.errors import OutputError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import CONNECTIONS
from handslide.jobs.ahead import start_engraver
from handslide.studio.care.daily import Daily
from handslide.studio.care.running import Running, forget_running, note_running
from handslide.studio.studio import Studio

if TYPE_CHECKING:
    from handslide.edges.files.certificate import Certificate

_KEY_PATH = "/running"
_ASK_S = 2.0
_END_S = 4.0  # longer than the server waits for open connections
_ASKED = re.compile(r"[0-9a-f]{32}")


def answers(running: Running) -> bool:
    """True if the server of ``running`` is there and is the one that was noted."""
    if not running.url.startswith(("http://", "https://")):
        return False
    # Its proof says who it is, not its certificate, which may be for another name.
    anybody = ssl.create_default_context()
    anybody.check_hostname, anybody.verify_mode = False, ssl.CERT_NONE
    # No proxy of the system's may be asked about this machine.
    opener = urllib.request.build_opener(
        urllib.request.ProxyHandler({}), urllib.request.HTTPSHandler(context=anybody)
    )
    try:
        asked = secrets.token_hex(16)
        with opener.open(f"{running.url}{_KEY_PATH}?{asked}", timeout=_ASK_S) as answer:
            told = answer.read(200).decode()
            return hmac.compare_digest(told.encode(), _proof(running.key, asked).encode())
    except (OSError, ValueError):
        return False


def open_browser(url: str) -> None:
    """Show ``url`` in the user's browser, if there is a screen to show it on."""
    on_screen = sys.platform in ("win32", "darwin") or any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER")
    )
    if on_screen:
        # A browser that won't start is no reason to stop: the URL is in the terminal too.
        with contextlib.suppress(webbrowser.Error):
            threading.Thread(target=webbrowser.open, args=(url,), daemon=True).start()


def _proof(key: str, asked: str) -> str:
    """What only who has the key can answer to what was asked."""
    return hmac.new(key.encode(), asked.encode(), hashlib.sha256).hexdigest()


class _KnownByKey:
    """Proves to a second start of the studio that this is the one that runs on its folder.

    The key itself never goes out: it stands in the studio's folder, for its owner alone.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self.key = ""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"] != _KEY_PATH or scope["method"] != "GET":
            await self._app(scope, receive, send)
            return
        asked = scope["query_string"].decode("latin-1")
        status, told = (
            (200, _proof(self.key, asked)) if self.key and _ASKED.fullmatch(asked) else (404, "")
        )
        headers = [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]
        headers += [(b"content-type", b"text/plain"), (b"cache-control", b"no-store")]
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": told.encode()})


def serve(
    studio: Studio,
    line: socket.socket,
    rules: Rules,
    ready: Callable[[str], None],
    certificate: "Certificate | None" = None,
) -> None:
    """Serve ``studio`` at the bound socket ``line`` until Ctrl-C; ``ready`` gets the URL.

    ``certificate`` is for tablets, and for all other machines where ``rules`` let them in.
    """
    url = url_of(rules.address, line.getsockname()[1], secure=rules.secure)
    guests = Guests(studio, certificate=certificate)
    app = _KnownByKey(create_app(studio, rules, guests))
    files = None
    if rules.secure and certificate is not None:
        files = certificate.file, certificate.key_file
    config = server_config(app, connections=CONNECTIONS, leave_s=3, certificate=files)
    server = _Server(config, lambda: ready(url))
    running = None
    # On a full disk there is no note: a second start doesn't find this one, that is all.
    with contextlib.suppress(OutputError):
        running = note_running(studio, url)
        app.key = running.key
    previous = signal.signal(signal.SIGTERM, _end)
    start_engraver()
    compile_ahead()
    try:
        with Daily(studio):
            server.run(sockets=[line])
    except KeyboardInterrupt:
        pass
    finally:
        signal.signal(signal.SIGTERM, previous)
        guests.close()
        line.close()
        if running is not None:
            forget_running(studio, running)
        studio.close()


def _end(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _end_anyhow() -> None:
    time.sleep(_END_S)
    sys.stdout.flush()
    os._exit(0)


class _Server(uvicorn.Server):
    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop; a request that works on in its thread is waited for no longer than `_END_S`.

        What it would have saved is then lost whole, as when the process is killed.
        """
        # That requests are cut short is what the signal asks for: nothing to tell.
        logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)
        threading.Thread(target=_end_anyhow, daemon=True).start()
        super().handle_exit(sig, frame)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self._ready()


def warnings_of(rules: Rules, port: int) -> list[Fact]:
    """What must be said in the terminal when other machines can reach the studio."""
    if rules.public is not None:
        return [fact("web.behind_proxy", host=rules.public)]
    if is_loopback(rules.address):
        return []
    if is_wildcard(rules.address):
        reached = fact("web.reached_at_port", port=port)
    else:
        reached = fact("web.reached_at", url=url_of(rules.address, port, secure=rules.secure))
    if rules.secure:
        return [reached]
    return [reached, fact("web.not_encrypted"), fact("web.no_microphone")]
