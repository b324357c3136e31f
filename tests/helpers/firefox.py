"""Debian's Firefox for the browser tests, driven by the same calls without a patched build.

Run as a program this file is what the driver starts in Firefox's place: it starts Firefox, and
carries the messages between the two. Wishes that this Firefox doesn't know (it has no override of
media features; themes are a preference here; an older one takes no locale and collects no bodies of
answers) are granted on the way, without effect.
"""

import asyncio
import json
import os
import re
import shutil
import stat
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest

FIREFOX = os.environ.get("HANDSLIDE_FIREFOX") or shutil.which("firefox-esr") or ""
# What an older Firefox may not know, and what it is said to have answered.
SPARED = ("emulation.", "network.addDataCollector", "network.removeDataCollector",
          "browser.setDownloadBehavior")  # fmt: skip
NOTHING = {"collector": "none"}
# Nothing is looked up elsewhere, sounds play unasked, the microphone is a tone of its own.
PREFERENCES = {
    "app.update.auto": False,
    "browser.safebrowsing.malware.enabled": False,
    "browser.safebrowsing.phishing.enabled": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "media.autoplay.default": 0,
    "media.navigator.permission.disabled": True,
    "media.navigator.streams.fake": True,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
}
_THEMES = {"dark": 0, "light": 1}
_OWN, _DRIVEN = b"script-src 'self'", b"script-src 'self' 'unsafe-eval'"


def driven(app):
    """The studio with a policy that lets the driver's expressions run: an older Firefox holds them
    for the page's own. Chromium's tests keep the policy as it is."""

    async def answered(scope, receive, send):
        async def sent(message):
            if message["type"] == "http.response.start":
                headers = [
                    (name, value.replace(_OWN, _DRIVEN)) for name, value in message["headers"]
                ]
                message = {**message, "headers": headers}
            await send(message)

        await app(scope, receive, sent)

    return answered


@contextmanager
def firefox(folder, scheme="light", **preferences):
    """A Firefox in one theme, whose microphone is faked; ``folder`` is for what starts it."""
    if not FIREFOX or not Path(FIREFOX).exists():
        pytest.skip("no Firefox on this machine (HANDSLIDE_FIREFOX names another than Debian's)")
    from browser import driver

    start = Path(folder) / "firefox"
    start.write_text(f'#!/bin/sh\nexec "{sys.executable}" "{Path(__file__).resolve()}" "$@"\n')
    start.chmod(start.stat().st_mode | stat.S_IXUSR)
    theme = {"layout.css.prefers-color-scheme.content-override": _THEMES[scheme]}
    with driver() as playwright:
        browser = playwright.firefox.launch(
            channel="moz-firefox",
            executable_path=start,
            env={**os.environ, "HANDSLIDE_FIREFOX": FIREFOX},
            firefox_user_prefs={**PREFERENCES, **theme, **preferences},
        )
        try:
            yield browser
        finally:
            browser.close()


async def _ask(driver, browser, spared):
    """Hand on what is asked for, and keep in mind what may stay without effect."""
    async for message in driver:
        if any(method in message[:200] for method in SPARED):
            spared.add(json.loads(message)["id"])
        await browser.send(message)


async def _answer(browser, driver, spared):
    """Hand on the answers; that something is unknown that may be is none."""
    async for message in browser:
        if "unknown command" in message[:500]:
            answer = json.loads(message)
            if answer.get("id") in spared:
                granted = {"type": "success", "id": answer["id"], "result": NOTHING}
                message = json.dumps(granted)
        await driver.send(message)


async def _between(arguments):
    from websockets.asyncio.client import connect
    from websockets.asyncio.server import serve

    process = subprocess.Popen(
        [FIREFOX, *arguments], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True
    )
    for line in process.stderr:
        if found := re.search(r"WebDriver BiDi listening on (ws://\S+)", line):
            break
    else:
        raise SystemExit("Firefox ended before it listened")
    options = {"max_size": None, "compression": None, "ping_interval": None}

    async def serve_one(driver):
        async with connect(found[1] + driver.request.path, **options) as browser:
            spared = set()
            ways = [_ask(driver, browser, spared), _answer(browser, driver, spared)]
            tasks = [asyncio.create_task(each) for each in ways]
            await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in tasks:
                task.cancel()

    async with serve(serve_one, "127.0.0.1", 0, **options) as server:
        port = server.sockets[0].getsockname()[1]
        print(f"WebDriver BiDi listening on ws://127.0.0.1:{port}", file=sys.stderr, flush=True)
        # What Firefox says on must be read, or it stands still one day.
        await asyncio.to_thread(process.stderr.read)
    return process.wait()


if __name__ == "__main__":
    raise SystemExit(asyncio.run(_between(sys.argv[1:])))
