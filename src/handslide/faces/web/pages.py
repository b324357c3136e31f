"""How a page is made: a template with the texts, the language and the look of this studio."""

import json
import math
import re
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context, select_autoescape
from jinja2.meta import find_referenced_templates
from jinja2.runtime import Context
from markupsafe import Markup
from starlette.convertors import IntegerConvertor, register_url_convertor
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse

from handslide import __version__
from handslide.edges.store.scores import ScoreRow
from handslide.edges.store.students import Student
from handslide.faces.web.assets import base
from handslide.ground.errors import HandslideError
from handslide.ground.facts import Fact
from handslide.studio.home.desk import kept_lesson
from handslide.studio.people.namesakes import Names
from handslide.studio.preferences import preferences
from handslide.studio.studio import Studio
from handslide.words.catalogues import SOURCE, languages
from handslide.words.hints import STUDIO
from handslide.words.messages import Message
from handslide.words.places import valve_name
from handslide.words.speech import Speech, speech

# The sections of the navigation and where each begins.
SECTIONS = (
    ("students", "/"), ("parts", "/parts"), ("charts", "/charts"), ("takes", "/takes"),
    ("data", "/data"),
)  # fmt: skip
# First words of paths that lie in a section of another name.
_ELSEWHERE = {
    "": "students", "horns": "students", "tuning": "students", "fitting": "students",
    "progress": "students", "practice": "students", "plans": "students", "stands": "parts",
    "learning": "parts", "send": "parts", "give": "parts",
}  # fmt: skip
_PIECE_LETTERS = 8000
# The templates from the door to a part on a stand, and of what is done there next.
_WAY_IN = (
    "home.html", "parts/library.html", "parts/for_whom.html", "parts/stand.html",
    "parts/lists.html", "parts/note.html", "students/student.html", "takes/stage.html",
)  # fmt: skip
LESSON_COOKIE = "lesson"
WRONG_HEADER = "X-Handslide-Wrong"
# What an error knows besides that which was typed.
_NOT_TYPED = {"horn", "file", "least", "most", "low", "high", "unit", "key"}
_RANGE = re.compile(r"bytes=(\d{0,15})-(\d{0,15})")


class _RowNumber(IntegerConvertor):
    # Python refuses to read thousands of digits; what the store can hold has 18 for certain.
    regex = "[0-9]{1,18}"


register_url_convertor("int", _RowNumber())


def studio_of(request: HTTPConnection) -> Studio:
    """The studio that this server shows."""
    studio: Studio = request.app.state.studio
    return studio


def speech_of(request: HTTPConnection) -> Speech:
    """Speech in the language of the studio, or, until one is chosen, of the browser."""
    found: Speech | None = getattr(request.state, "speech", None)
    if found is None:
        chosen = preferences(studio_of(request)).language
        found = speech(chosen, face=STUDIO) if chosen else speech_of_browser(request)
        request.state.speech = found
    return found


def speech_of_browser(request: HTTPConnection) -> Speech:
    """Speech in the language that the browser asks for, where there is no studio to ask."""
    for wish in request.headers.get("accept-language", "").split(","):
        code = wish.split(";")[0].strip()[:2].lower()
        if code in languages():
            return speech(code, face=STUDIO)
    return speech(SOURCE, face=STUDIO)


@cache
def templates() -> Environment:
    """The environment of all templates; everything that is put in is escaped."""
    environment = Environment(
        loader=PackageLoader("handslide.faces.web"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["valve_name"] = _valve_name
    environment.filters["who"] = _who
    environment.filters["titled"] = _titled
    environment.filters["on_stand"] = _on_stand
    environment.globals["static"] = base()
    return environment


def compile_ahead() -> threading.Thread:
    """Compile the templates of the way from the door to a part, in a thread of its own: the first
    who comes to a page would wait for it."""
    thread = threading.Thread(target=_compile, args=(templates(), _WAY_IN), daemon=True)
    thread.start()
    return thread


def _compile(environment: Environment, names: Sequence[str]) -> None:
    assert environment.loader is not None
    waiting, seen = [*names], set[str]()
    while waiting:
        name = waiting.pop(0)
        if name not in seen:
            seen.add(name)
            environment.get_template(name)
            text, _, _ = environment.loader.get_source(environment, name)
            named = find_referenced_templates(environment.parse(text))
            waiting[:0] = [one for one in named if one is not None]


@pass_context
def _valve_name(context: Context, name: str) -> str:
    return valve_name(context["say"], name)


@pass_context
def _who(context: Context, student: Student | int) -> str:
    """A student's name, told apart from others of this name."""
    names: Names = context["called"]
    return names.student(student if isinstance(student, int) else student.id).words(context["say"])


@pass_context
def _titled(context: Context, score: ScoreRow | int) -> str:
    """A score's title, told apart from others of this title."""
    names: Names = context["called"]
    return names.score(score if isinstance(score, int) else score.id).words(context["say"])


@pass_context
def _on_stand(context: Context, stand_id: int) -> str:
    """What is on a stand: the score's title and, where the student has several, which part."""
    names: Names = context["called"]
    return names.on_stand(stand_id).words(context["say"])


def page(request: Request, template: str, *, status: int = 200, **values: Any) -> Response:
    """A page or a piece of one from ``template``. ``say`` is the speech; ``here`` is the path."""
    wrong = _wrong_values(request, values)
    shared = _of_all_pages(request)
    text = templates().get_template(template).render(shared, wrong_values=wrong, **values)
    headers = {"Cache-Control": "no-store"}
    if wrong:
        # For scripts, which put the sentence of an error to the field that it is about.
        headers[WRONG_HEADER] = wrong
    return HTMLResponse(text, status_code=status, headers=headers)


def _wrong_values(request: Request, values: Mapping[str, Any]) -> str:
    """JSON of what was typed and refused, as far as the error knows it; empty without an error."""
    errors = [one.fact for one in values.values() if isinstance(one, HandslideError)]
    wrong = errors[0] if errors else getattr(request.state, "wrong", None)
    if wrong is None:
        return ""
    # ASCII, as a header must be; numbers beyond JSON's are nothing that can be pointed at.
    typed = [
        one[:200] if isinstance(one, str) else one
        for one in _typed(wrong)
        if not isinstance(one, float) or math.isfinite(one)
    ]
    return json.dumps(typed)


def _typed(told: Fact) -> list[str | float]:
    """What a fact says of what was typed: that of a fact within it before its own."""
    inner: list[str | float] = []
    own: list[str | float] = []
    for key, value in told.values.items():
        if isinstance(value, Fact):
            inner += _typed(value)
        elif isinstance(value, bool) or key in _NOT_TYPED:
            continue
        elif isinstance(value, str | int | float):
            own.append(value)
    return inner or own


def page_as_it_comes(request: Request, template: str, **values: Any) -> Response:
    """The same, sent piece by piece: what the template walks through may be made meanwhile."""
    texts = (
        templates()
        .get_template(template)
        .generate(_of_all_pages(request), wrong_values=_wrong_values(request, values), **values)
    )
    return StreamingResponse(
        _large_enough(texts), media_type="text/html", headers={"Cache-Control": "no-store"}
    )


def _large_enough(texts: Iterable[str]) -> Iterator[str]:
    held: list[str] = []
    for text in texts:
        held.append(text)
        if sum(map(len, held)) > _PIECE_LETTERS:
            yield "".join(held)
            held = []
    yield "".join(held)


def _of_all_pages(request: Request) -> dict[str, Any]:
    say = speech_of(request)
    return {
        "say": say,
        **sayers(say),
        "called": Names(studio_of(request)),
        "theme": preferences(studio_of(request)).theme,
        "lesson": kept_lesson(studio_of(request), request.cookies.get(LESSON_COOKIE, "")),
        "here": request.url.path,
        "sections": SECTIONS,
        "section": section_of(request.url.path),
        "version": __version__,
        "full": studio_of(request).store.full,
        "open_links": _open_links(request),
    }


def _open_links(request: Request) -> int:
    """How many tablets may come in now; every page of the teacher says so."""
    guests = getattr(request.app.state, "guests", None)
    return 0 if guests is None else len(guests.links.rows())


def sayers(say: Speech) -> dict[str, Callable[..., str]]:
    """What a template says its texts with; without values placeholders stay, for scripts.

    A text with ``{name}`` is ``_``; one that depends on ``count`` is ``n_``; ``p_`` and ``np_``
    begin with a context, for what is one word in English and two in another language.
    """

    def told(message: Message, values: Mapping[str, Any]) -> str:
        if not values:
            return say.pattern(message)
        # What a macro has escaped is plain text again: the page escapes the whole.
        plain = {
            key: value.unescape() if isinstance(value, Markup) else value
            for key, value in values.items()
        }
        return say(message, **plain)

    return {
        "_": lambda text, **values: told(Message(text), values),
        "n_": lambda one, many, **values: told(Message(one, many), values),
        "p_": lambda context, text, **values: told(Message(text, context=context), values),
        "np_": lambda context, one, many, **values: told(Message(one, many, context), values),
    }


def section_of(path: str) -> str:
    """The section of the navigation that ``path`` lies in, or the path's first word."""
    first = path.split("/")[1] if "/" in path else ""
    return _ELSEWHERE.get(first, first)


def filed(data: bytes, name: str, media_type: str, *, save: bool = False) -> Response:
    """A file for the browser to show, or (``save``) to put among the downloads under ``name``."""
    return Response(data, media_type=media_type, headers=file_headers(name, save=save))


def file_headers(name: str, *, save: bool = False) -> dict[str, str]:
    """What says how a file is called (RFC 6266, RFC 8187) and that the browser keeps no copy."""
    way = "attachment" if save else "inline"
    plain = re.fullmatch(r"[\w.-]+", name, re.ASCII)
    called = f'filename="{name}"' if plain else f"filename*=UTF-8''{quote(name, safe='')}"
    return {
        "Content-Disposition": f"{way}; {called}",
        "Cache-Control": "no-store",
    }


def ranged(
    request: Request,
    size: int,
    read: Callable[[int, int], bytes],
    media_type: str,
    headers: Mapping[str, str],
) -> Response:
    """A sound for the browser: whole, or the piece that it asks for (RFC 9110).

    ``read`` gets a place among the ``size`` bytes and how many are wanted from there.
    """
    headers = {**headers, "Accept-Ranges": "bytes"}
    asked = request.headers.get("range")
    first, last = byte_range(asked, size)
    if first > last:
        return Response(status_code=416, headers=headers | {"Content-Range": f"bytes */{size}"})
    if asked is not None:
        headers["Content-Range"] = f"bytes {first}-{last}/{size}"
    status = 200 if asked is None else 206
    return Response(read(first, last - first + 1), status, headers=headers, media_type=media_type)


def byte_range(asked: str | None, size: int) -> tuple[int, int]:
    """First and last byte of what was asked; first beyond last where it can't be had."""
    if asked is None:
        return 0, size - 1
    match = _RANGE.fullmatch(asked.strip())
    if match is None or not (match[1] or match[2]):
        return 1, 0
    if not match[1]:
        return max(size - int(match[2]), 0), size - 1 if int(match[2]) else -1
    first = int(match[1])
    last = min(int(match[2]), size - 1) if match[2] else size - 1
    return (first, last) if first < size else (1, 0)


def see(url: str) -> Response:
    """Go on to another page after something was done."""
    return RedirectResponse(url, status_code=303)
