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
from urllib.parse import urlsplit

import pytest
import uvicorn

from handslide.faces.web.app import create_app
from handslide.faces.web.protocol import Protocol

CHROMIUM = os.environ.get("HANDSLIDE_CHROMIUM") or shutil.which("chromium") or ""
# The same pages without windows of its own around them: a third less for the processor to do.
BARE = os.environ.get("HANDSLIDE_CHROMIUM") or shutil.which("chromium-headless-shell") or CHROMIUM
QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
]  # fmt: skip
# NS_BINDING_ABORTED (0x804B0002): Firefox says so of fonts that were on their way when the page was
# left. A font that can't be had says something else.
LEFT_BEHIND = "status=2152398850"
NOTHING = "/static/htmx-LICENSE.txt"
_users = []  # the driver first, while anybody needs it
_kept, _started = ExitStack(), {}  # browsers by program
_tabs = {}  # pages to be given out again, by browser and address
_ports = []  # of servers that have ended
PATIENCE_MS = 15_000
SIZES = {"desk": (1280, 800), "tablet": (820, 1180), "phone": (390, 844)}


def _listener(port):
    """A socket at ``port`` of this machine; 0: the last that a server left, if it is still free."""
    listener = socket.socket()
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("127.0.0.1", port or (_ports.pop() if _ports else 0)))
    except OSError:
        if port:
            raise
        listener.bind(("127.0.0.1", 0))
    return listener


@contextmanager
def serving(studio, app=None, http=Protocol, port=0):
    """The address of a server that shows ``studio`` until the block ends.

    Without a ``port`` it is one that was free before: a browser keeps the scripts of an address.
    """
    listener = _listener(port)
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
        if not thread.is_alive():
            _ports.append(port)


@contextmanager
def driver():
    """What drives browsers: one at a time for all who need it, for two can't be side by side."""
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=PATIENCE_MS)
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
def chromium(microphone=None, *, bare=False):
    """A browser; ``microphone``, a WAV file, is what it hears when a page asks for one.

    ``bare``: the one that shows pages and nothing else, where this machine has it; not for what is
    heard, filmed or timed as people have it.
    """
    program = BARE if bare else CHROMIUM
    if not program or not Path(program).exists():
        pytest.skip("no chromium on this machine (HANDSLIDE_CHROMIUM names another)")
    # Letters as wide as in windows, not on whole pixels.
    extra = ["--font-render-hinting=none"] if bare else []
    if microphone is not None:
        extra += [
            "--use-fake-device-for-media-stream",
            "--use-fake-ui-for-media-stream",
            f"--use-file-for-fake-audio-capture={microphone}",
        ]
    with driver() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=QUIET + extra)
        try:
            yield browser
        finally:
            browser.close()


@pytest.fixture(scope="module")
def browser():
    """A browser without a microphone, one for all modules that follow each other."""
    return _shared(bare=True)


@pytest.fixture(scope="module")
def windowed():
    """The same as people have it: it fills the screen, opens a PDF, makes videos, and its lists and
    keys are as wide as people see them."""
    return _shared(bare=False)


def _shared(*, bare):
    program = BARE if bare else CHROMIUM
    if not (program in _started and _started[program].is_connected()):
        _started[program] = _kept.enter_context(chromium(bare=bare))
    return _started[program]


def close_browser():
    """The browsers that modules share, and what drives it, are no longer there."""
    _started.clear()
    _tabs.clear()
    _kept.close()


@contextmanager
def visiting(browser, address, *, size="desk", scheme="light", expecting="", **options):
    """A page of ``browser`` at ``address``; at the end nothing may have gone wrong in it.

    Errors of scripts, blocked contents and requests to elsewhere fail the test. What a test makes
    go wrong on purpose it names with ``expecting``, a pattern.
    """
    with _tab(browser, address, size, scheme, options) as page:
        trouble, expected = [], re.compile(expecting) if expecting else None
        own = (address, "data:", "blob:", address.replace("http", "ws", 1))

        def failed(error):
            if LEFT_BEHIND not in str(error):
                trouble.append(f"script: {error}")

        def said(message):
            if message.type == "error":
                trouble.append(f"console: {message.text} {urlsplit(message.location['url']).path}")

        def asked(request):
            if not request.url.startswith(own):
                trouble.append(f"asked elsewhere: {request.url}")

        listeners = {"pageerror": failed, "console": said, "request": asked}
        for event, listener in listeners.items():
            page.on(event, listener)
        page.trouble = trouble
        with _noting(page) as changes:
            yield page
        unforeseen = [each for each in trouble if not (expected and expected.search(each))]
        assert unforeseen == [], unforeseen
        for event, listener in listeners.items():
            page.remove_listener(event, listener)
        page.as_new = not changes


@contextmanager
def _tab(browser, address, size, scheme, options):
    """A page as a new browser shows it.

    To open one costs as much as several pages in it. So one that shows nothing any more, has
    forgotten what it was to keep, and to which nothing was done that stays is given out again.
    """
    width, height = SIZES[size]
    if options:
        new = {"viewport": {"width": width, "height": height}, "color_scheme": scheme, **options}
        page = browser.new_context(base_url=address, locale="en", **new).new_page()
    else:
        page = _tabs.pop((browser, address), None)
        if page is None or page.is_closed():
            page = browser.new_context(base_url=address, locale="en").new_page()
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(
            media="null", color_scheme=scheme, reduced_motion="null", forced_colors="null"
        )
    page.set_default_timeout(PATIENCE_MS)
    page.as_new = False
    try:
        yield page
        if page.as_new and not options and _emptied(page):
            for other in [key for key in _tabs if key[0] is browser]:
                _tabs.pop(other).context.close()
            _tabs[browser, address] = page
    finally:
        if page not in _tabs.values():
            page.context.close()


def _emptied(page):
    """Whether the page, alone in its browser, has let go of what it showed and kept."""
    from playwright.sync_api import Error

    if page.context.pages != [page]:
        return False
    page.mouse.move(0, 0)
    try:
        page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
        # Of the same address, for the browser to keep the process that shows it.
        page.goto(NOTHING, wait_until="commit")
    except Error:  # its server is gone, or it never showed anything
        return False
    page.context.clear_cookies()
    page.context.set_offline(False)
    return True


@contextmanager
def _noting(page):
    """The names of what was done to a page that outlasts what it shows."""
    done = []

    def noting(name, real):
        def call(*args, **options):
            done.append(name)
            return real(*args, **options)

        return call

    names = ("add_init_script", "expose_function", "on", "route")
    for name in names:
        setattr(page, name, noting(name, getattr(page, name)))
    try:
        yield done
    finally:
        for name in names:
            delattr(page, name)


def open_whole(page, url):
    """Go to a page, and wait for what its scripts fetch where they fetch something.

    To see that nothing comes any more takes half a second: too long to ask of every page.
    """
    fetching = "/stands/" in url or "/takes/new" in url
    page.goto(url, wait_until="networkidle" if fetching else "load")


def lines_drawn(page):
    """Wait for the lines of music that stand in the window or near it.

    One that is still on its way when its plan or part is taken away comes too late.
    """
    page.wait_for_function(
        """() => [...document.querySelectorAll("[data-strip]")].every((one) => {
          const { top, bottom } = one.getBoundingClientRect();
          return bottom < -300 || top > innerHeight + 300 || one.ariaBusy !== "true";
        })"""
    )


def fits(page):
    """Whether nothing of the page lies beside the window."""
    return page.evaluate("document.documentElement.scrollWidth <= innerWidth")


# How grave a rule's findings are is the rule's own: those of the others would be thrown away.
_AXE = """
(only) => axe.run({
  resultTypes: ["violations"],
  runOnly: only ?? axe._audit.rules
    .filter(({ enabled, impact }) => enabled && ["serious", "critical"].includes(impact))
    .filter(({ tags }) => !tags.some((tag) => axe._audit.tagExclude.includes(tag)))
    .map(({ id }) => id),
}).then(({ violations }) => violations
    .filter(({ impact }) => ["serious", "critical"].includes(impact))
    .map(({ id, help, nodes }) => [id, help, nodes.slice(0, 5).map((one) => one.target)]))
"""
# What depends on the theme.
_COLOURS = ("color-contrast", "link-in-text-block")


def serious_findings(page, only=None):
    """What axe finds wrong with the page, serious or worse: (rule, what it says, where).

    ``only``: names of rules, without the others.
    """
    from axe_playwright_python.sync_playwright import Axe

    # Reading half a megabyte of script takes as long as using it.
    if not page.evaluate("'axe' in window"):
        page.evaluate(Axe().axe_script)
    return [tuple(each) for each in page.evaluate(_AXE, only)]


def serious_in_both_themes(page):
    """:func:`serious_findings` in the light, and of its colours in the dark, the page left in the
    light; without motion, so that no colour is on its way from one to the other."""
    found = []
    for scheme, only in (("light", None), ("dark", _COLOURS)):
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        found += [(scheme, *each) for each in serious_findings(page, only)]
    page.emulate_media(color_scheme="light", reduced_motion="no-preference")
    return found
