"""What a person sees when something didn't work: one sentence and a way back.

As a page, as a piece of one for htmx, or as ``{"error": sentence}`` for a script.
"""

import logging
from collections.abc import Awaitable, Callable, Mapping
from typing import Any
from urllib.parse import urlsplit

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from handslide.faces.web.pages import page, speech_of, speech_of_browser
from handslide.ground.errors import HandslideError, NotFound, StoreError
from handslide.ground.facts import Fact, fact

_log = logging.getLogger("handslide.studio")
_NO_STORE = {"Cache-Control": "no-store"}
# What is said by the status of an answer.
_WORDS = {
    404: fact("web.missing"),
    405: fact("web.method"),
    408: fact("web.slow"),
    413: fact("web.too_large"),
}
_UNREAD = fact("web.unread")


def wants_json(request: Request) -> bool:
    """True if a script asked and not a person."""
    accept = request.headers.get("accept", "")
    return "application/json" in accept and "text/html" not in accept


def answer(request: Request, status: int, sentence: str, heading: str = "failed") -> Response:
    """The answer with one sentence, in the form that the asker can show.

    ``heading`` of a page: failed, missing, broken.
    """
    if wants_json(request):
        return JSONResponse({"error": sentence}, status, headers=_NO_STORE)
    if request.headers.get("hx-request") == "true":
        return page(request, "complaint.html", status=status, sentence=sentence)
    return page(
        request,
        "error.html",
        status=status,
        heading=heading,
        sentence=sentence,
        back=_back(request),
    )


def _back(request: Request) -> str:
    """The path of the studio's page that led here, or the first page."""
    try:
        parts = urlsplit(request.headers.get("referer", ""))
    except ValueError:
        return "/"
    own = parts.netloc == request.headers.get("host") and parts.path != request.url.path
    if request.method != "GET" and parts.netloc == request.headers.get("host"):
        own = True
    # Two slashes would lead to another host.
    if not own or not parts.path.startswith("/") or parts.path.startswith("//"):
        return "/"
    return parts.path + (f"?{parts.query}" if parts.query else "")


def refusal(request: Request, status: int, why: Fact) -> Response:
    """An answer that says why not."""
    return answer(request, status, speech_of(request).fact(why))


async def on_handslide_error(request: Request, error: Exception) -> Response:
    """The sentence of an error that handslide raised on purpose."""
    assert isinstance(error, HandslideError)
    status = 404 if isinstance(error, NotFound) else 409 if isinstance(error, StoreError) else 400
    return answer(request, status, told(request, error))


def told(request: Request, error: HandslideError) -> str:
    """What an error says, as a sentence in the language of the page, which points at the field."""
    request.state.wrong = error.fact
    return sentence(speech_of(request).fact(error))


def sentence(words: str) -> str:
    """An error's words with a capital, unless they begin with a file's name, and a full stop."""
    words = words.strip()
    if "." not in words.split(" ", 1)[0]:
        words = words[:1].upper() + words[1:]
    return words if words.endswith((".", "!", "?")) else words + "."


async def on_http_error(request: Request, error: Exception) -> Response:
    """An address that isn't there, a wrong method, a form that can't be read."""
    assert isinstance(error, HTTPException)
    words = speech_of(request).fact(_WORDS.get(error.status_code, _UNREAD))
    heading = "missing" if error.status_code == 404 else "failed"
    response = answer(request, error.status_code, words, heading)
    response.headers.update(error.headers or {})
    return response


async def on_overflow(request: Request, error: Exception) -> Response:
    """A number in an address that is larger than any number in the store: nothing is there."""
    if "SQLite" not in str(error):
        raise error
    return await on_http_error(request, HTTPException(404))


def broken(request: Request) -> Response:
    """The answer after an error that nobody foresaw; it works without the store too."""
    why = fact("web.broken")
    try:
        return answer(request, 500, speech_of(request).fact(why), "broken")
    except Exception:
        _log.exception("the page of an error failed")
        words = speech_of_browser(request).fact(why)
        return PlainTextResponse(words, 500, headers=_NO_STORE)


def wrong_host(request: Request) -> Response:
    """The answer to a request that means another host."""
    port = (request.scope.get("server") or ("", 80))[1]
    why = fact("web.host", address=f"http://127.0.0.1:{port}")
    words = speech_of_browser(request).fact(why)
    return PlainTextResponse(words + "\n", 421, headers=_NO_STORE)


def locked(request: Request) -> Response:
    """The answer that makes a browser ask for the password."""
    headers = {**_NO_STORE, "WWW-Authenticate": 'Basic realm="handslide studio", charset="UTF-8"'}
    words = speech_of_browser(request).fact(fact("web.locked"))
    return PlainTextResponse(words + "\n", 401, headers=headers)


def too_many_tries(request: Request) -> Response:
    """The answer to a try that wasn't looked at."""
    words = speech_of_browser(request).fact(fact("web.too_many_tries"))
    headers = {**_NO_STORE, "Retry-After": "10"}
    return PlainTextResponse(words + "\n", 429, headers=headers)


Handler = Callable[[Request, Exception], Awaitable[Response]]
HANDLERS: Mapping[Any, Handler] = {
    HandslideError: on_handslide_error,
    HTTPException: on_http_error,
    OverflowError: on_overflow,
}
