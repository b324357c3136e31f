"""What a form of the assistants sent: texts on one line, recordings, the horn that is meant."""

from typing import Any

from starlette.datastructures import FormData, UploadFile

from handslide.faces.web.forms import clean_name
from handslide.ground.errors import NotFound
from handslide.ground.tidy import tidy_line
from handslide.jobs.students import StudentHorn, list_horns_of, main_horn
from handslide.jobs.studio import Studio
from handslide.jobs.tunetakes import Recording

_LONGEST = 300


def chosen_horn(studio: Studio, student_id: int, values: Any) -> StudentHorn:
    """The student's horn that is meant, or else the main one. Raises NotFound."""
    wanted = text_of(values, "horn")
    for horn in list_horns_of(studio, student_id):
        if str(horn.id) == wanted:
            return horn
    if wanted:
        raise NotFound("this horn isn't this student's (any more)")
    return main_horn(studio, student_id)


def text_of(values: Any, key: str) -> str:
    """A typed text on one line; empty when it isn't there."""
    value = values.get(key, "")
    return tidy_line(value)[:_LONGEST] if isinstance(value, str) else ""


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
