"""A real browser at a real server: chromium without a window, uvicorn on a free port.

Tests that use these fixtures carry ``pytest.mark.browser``; without chromium they are skipped.
"""

import os
import re
import shutil
import socket
import threading
import time
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest
import uvicorn

from handslide.faces.web.app import create_app
from handslide.faces.web.protocol import Protocol

CHROMIUM = os.environ.get("HANDSLIDE_CHROMIUM") or shutil.which("chromium") or ""
QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
]  # fmt: skip
# NS_BINDING_ABORTED (0x804B0002): Firefox says so of fonts that were on their way when the page was
# left. A font that can't be had says something else.
LEFT_BEHIND = "status=2152398850"
_users = []  # the driver first, while anybody needs it
_kept, _started = ExitStack(), []
SIZES = {"desk": (1280, 800), "tablet": (820, 1180), "phone": (390, 844)}


@contextmanager
def serving(studio, app=None, http=Protocol, port=0):
    """The address of a server that shows ``studio`` until the block ends; any free ``port``."""
    listener = socket.socket()
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listener.bind(("127.0.0.1", port))
    port = listener.getsockname()[1]
    config = uvicorn.Config(
        app or create_app(studio), log_level="warning", lifespan="off", http=http
    )
    server = uvicorn.Server(config)
    # uvicorn sets its signal handlers in the main thread only.
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    for _ in range(500):
        if server.started:
            break
        time.sleep(0.02)
    assert server.started, "the server didn't start in ten seconds"
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(10)
        listener.close()


@contextmanager
def driver():
    """What drives browsers: one at a time for all who need it, for two can't be side by side."""
    from playwright.sync_api import sync_playwright

    if not _users:
        _users.append(sync_playwright().start())
    _users.append(_users[0])
    try:
        yield _users[0]
    finally:
        _users.pop()
        if len(_users) == 1:
            _users.pop().stop()


@contextmanager
def chromium(microphone=None):
    """A browser; ``microphone``, a WAV file, is what it hears when a page asks for one."""
    if not CHROMIUM or not Path(CHROMIUM).exists():
        pytest.skip("no chromium on this machine (HANDSLIDE_CHROMIUM names another)")
    extra = []
    if microphone is not None:
        extra = [
            "--use-fake-device-for-media-stream",
            "--use-fake-ui-for-media-stream",
            f"--use-file-for-fake-audio-capture={microphone}",
        ]
    with driver() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET + extra)
        try:
            yield browser
        finally:
            browser.close()


@pytest.fixture(scope="module")
def browser():
    """A browser without a microphone, one for all modules that follow each other."""
    if not (_started and _started[0].is_connected()):
        close_browser()
        _started.append(_kept.enter_context(chromium()))
    return _started[0]


def close_browser():
    """The browser that modules share, and what drives it, are no longer there."""
    _started.clear()
    _kept.close()


@contextmanager
def visiting(browser, address, *, size="desk", scheme="light", expecting="", **options):
    """A page of ``browser`` at ``address``; at the end nothing may have gone wrong in it.

    Errors of scripts, blocked contents and requests to elsewhere fail the test. What a test makes
    go wrong on purpose it names with ``expecting``, a pattern.
    """
    width, height = SIZES[size]
    context = browser.new_context(
        base_url=address,
        viewport={"width": width, "height": height},
        color_scheme=scheme,
        locale="en",
        **options,
    )
    page = context.new_page()
    page.set_default_timeout(15_000)
    trouble = []
    page.on(
        "pageerror",
        lambda error: None if LEFT_BEHIND in str(error) else trouble.append(f"script: {error}"),
    )
    page.on(
        "console",
        lambda said: trouble.append(f"console: {said.text}") if said.type == "error" else None,
    )
    page.on(
        "request",
        lambda request: (
            None
            if request.url.startswith((address, "data:", "blob:", address.replace("http", "ws", 1)))
            else trouble.append(f"asked elsewhere: {request.url}")
        ),
    )
    page.trouble = trouble
    try:
        yield page
        expected = re.compile(expecting) if expecting else None
        unforeseen = [each for each in trouble if not (expected and expected.search(each))]
        assert unforeseen == [], unforeseen
    finally:
        context.close()


def open_whole(page, url):
    """Go to a page, and wait for what its scripts fetch where they fetch something.

    To see that nothing comes any more takes half a second: too long to ask of every page.
    """
    fetching = "/stands/" in url or "/takes/new" in url
    page.goto(url, wait_until="networkidle" if fetching else "load")


def fits(page):
    """Whether nothing of the page lies beside the window."""
    return page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def serious_findings(page):
    """What axe finds wrong with the page, serious or worse: (rule, what it says, where)."""
    from axe_playwright_python.sync_playwright import Axe

    # Reading half a megabyte of script takes as long as using it.
    if not page.evaluate("'axe' in window"):
        page.evaluate(Axe().axe_script)
    found = page.evaluate(
        """axe.run({ resultTypes: ['violations'] }).then(({ violations }) => violations
          .filter(({ impact }) => ['serious', 'critical'].includes(impact))
          .map(({ id, help, nodes }) => [id, help, nodes.slice(0, 5).map((one) => one.target)]))"""
    )
    return [tuple(each) for each in found]


def serious_in_both_themes(page):
    """:func:`serious_findings` in the light and in the dark, the page left in the light; without
    motion, so that no colour is on its way from one to the other."""
    found = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        found += [(scheme, *each) for each in serious_findings(page)]
    page.emulate_media(color_scheme="light", reduced_motion="no-preference")
    return found
