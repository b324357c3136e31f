"""What an address or form sent: texts on one line, numbers, recordings, the horn that is meant."""

import math
from typing import Any

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request

from handslide.edges.store.horns import StudentHorn
from handslide.faces.web.forms import clean_name
from handslide.ground.cleantext import clean_line
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import LINE_LETTERS, NUMBER_DIGITS
from handslide.jobs.tune.takes import Recording
from handslide.studio.people.students import list_horns_of, main_horn
from handslide.studio.studio import Studio

_NO_NUMBER = fact("web.no_number")


def chosen_horn(studio: Studio, student_id: int, values: Any) -> StudentHorn:
    """The student's horn that is meant, or else the main one. Raises NotFound."""
    wanted = text_of(values, "horn")
    for horn in list_horns_of(studio, student_id):
        if str(horn.id) == wanted:
            return horn
    if wanted:
        raise NotFound("web.not_their_horn")
    return main_horn(studio, student_id)


def text_of(values: Any, key: str) -> str:
    """A typed text on one line; empty when it isn't there."""
    value = values.get(key, "")
    return clean_line(value)[:LINE_LETTERS] if isinstance(value, str) else ""


def whole(value: object, wrong: Fact = _NO_NUMBER) -> int | None:
    """A whole number from 0 that came as text; None where nothing came.

    Raises BadUsage: ``wrong``.
    """
    text = "" if value is None else str(value)
    if not text:
        return None
    if not text.isascii() or not text.isdecimal() or len(text) > NUMBER_DIGITS:
        raise BadUsage(wrong.kind, **wrong.values)
    return int(text)


def wanted_student(values: Any) -> int | None:
    """The number of the student that an address means, None for nobody. Raises NotFound."""
    try:
        return whole(values.get("student"))
    except BadUsage:
        raise NotFound("people.no_student") from None


def decimal(text: str, wrong: Fact) -> float:
    """A finite number as typed, with a point or a comma.

    Raises BadUsage: ``wrong``.
    """
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadUsage(wrong.kind, **wrong.values)
    return value


def page_number(values: Any) -> int:
    """Which page of a sheet an address asks for, from 1. Raises NotFound."""
    try:
        number = whole(values.get("page"))
    except BadUsage:
        raise NotFound("web.no_page") from None
    return 1 if number is None else number


def read_tempo(text: str) -> float:
    """A tempo as typed, in quarter notes a minute. Raises BadUsage."""
    return decimal(text, fact("web.no_tempo", text=text[:20]))


def read_reach(text: str) -> float | None:
    """The furthest position as typed; None for all of the slide. Raises BadUsage."""
    if not text:
        return None
    return decimal(text, fact("web.no_reach", text=text[:20]))


def texts_of_key(form: FormData, key: str, most: int = 1000) -> list[str]:
    """All texts that were sent under ``key``, in order, at most ``most``."""
    return [item for item in form.getlist(key) if isinstance(item, str)][:most]


def recordings(form: FormData, key: str = "takes") -> list[Recording]:
    """The files that were sent, with names that are safe to show; empty fields are left out."""
    found: list[Recording] = []
    for item in form.getlist(key):
        if isinstance(item, UploadFile) and item.filename:
            found.append((clean_name(item.filename), item.file))
    return found


async def posted_json(request: Request) -> dict[str, Any]:
    """The JSON object that a script sent. Raises BadUsage for anything else."""
    try:
        values = await request.json()
    except (ValueError, RecursionError):
        values = None
    if not isinstance(values, dict):
        raise BadUsage("web.choice")
    return values
