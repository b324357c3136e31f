"""A file that takes its time to be made: told as it goes, so that nobody looks at an empty tab.

A script asks for the file's own address and takes lines of JSON: ``{"text", "share"}`` as it goes,
then ``{"ready", "open", "made"}`` or ``{"error"}``. With ``made`` in its address the file that was
made comes at once; where it is forgotten it is made again.
"""

import json
import logging
import queue
import secrets
import threading
import time
from collections.abc import Callable, Iterator
from functools import wraps
from typing import Any

from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from handslide.faces.web.errors import told
from handslide.faces.web.pages import speech_of, studio_of
from handslide.ground.errors import HandslideError
from handslide.ground.facts import fact
from handslide.ground.limits import OPEN_SHEETS_BYTES
from handslide.ground.progress import ProgressCallback, silent
from handslide.studio.cache import CacheKind
from handslide.words.making import FILE_OPEN, FILE_READY, OPEN, READY, stage_share, stage_words

# Steps that follow each other faster are left out: each is drawn, and asks this process to write.
_STEP_S = 0.25
_LINES = "application/x-ndjson"
_MADE: CacheKind[str, Response] = CacheKind(40, lambda file: len(file.body), OPEN_SHEETS_BYTES)
_log = logging.getLogger("handslide.studio")


def made(request: Request, make: Callable[[ProgressCallback], Response]) -> Response:
    """The file that ``make`` gives, or, to a script that waits for it, how far it is."""
    if _LINES not in request.headers.get("accept", ""):
        held = studio_of(request).caches.of(_MADE)
        return held.find(request.query_params.get("made", "")) or make(silent)
    return StreamingResponse(
        _lines(request, make), media_type=_LINES, headers={"Cache-Control": "no-store"}
    )


def as_it_is_made(handler: Callable[[Request], Response]) -> Callable[[Request], Response]:
    """The handler of a file, for a script that waits for it too."""

    @wraps(handler)
    def handle(request: Request) -> Response:
        return made(request, lambda _: handler(request))

    return handle


def _lines(request: Request, make: Callable[[ProgressCallback], Response]) -> Iterator[str]:
    say, studio = speech_of(request), studio_of(request)
    lines: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()

    said: dict[str, float] = {}

    def tell(stage: str, done: int, total: int) -> None:
        now = time.monotonic()
        if done < total and now < said.get(stage, 0.0) + _STEP_S:
            return
        said[stage] = now
        text, share = stage_words(say, stage, done, total), stage_share(stage, done, total)
        lines.put({"text": text, "share": round(share, 3)})

    def work() -> None:
        try:
            file, name = make(tell), secrets.token_hex(8)
            studio.caches.of(_MADE).get(name, lambda: file)
            pdf = file.media_type == "application/pdf"
            ready, to_open = (READY, OPEN) if pdf else (FILE_READY, FILE_OPEN)
            lines.put({"ready": say(ready), "open": say(to_open), "made": name})
        except HandslideError as error:
            lines.put({"error": told(request, error)})
        except Exception:
            _log.exception("a file could not be made")
            lines.put({"error": say.fact(fact("web.broken"))})

    threading.Thread(target=work, daemon=True).start()
    line: dict[str, Any] = {}
    while "ready" not in line and "error" not in line:
        line = lines.get()
        yield json.dumps(line) + "\n"
