"""What was read from a PDF: its pages with the notes on them, and what a teacher says instead."""

from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.store.scores import ScoreRow
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import whole
from handslide.faces.web.pages import page, see, speech_of, studio_of
from handslide.ground.errors import BadUsage
from handslide.jobs.mark.pdfcorrections import CLEFS, MOST_FLATS, SIGN_KINDS
from handslide.jobs.mark.pdfreport import key_text, read_sections
from handslide.studio.parts.reading import (
    page_png,
    read_pdf_part,
    redo_correction,
    say_clef,
    say_key,
    say_note,
    say_right,
    say_sign,
    say_staff,
    steps_of,
    undo_correction,
)
from handslide.studio.parts.readpage import (
    chosen_at,
    clef_name,
    pages_read,
    said_rows,
    shapes,
    staff_read,
)
from handslide.studio.parts.scores import get_score
from handslide.studio.parts.stand import list_stands
from handslide.studio.studio import Studio

_Said = Callable[[Studio, ScoreRow, FormData], None]


def _row(request: Request) -> ScoreRow:
    return get_score(studio_of(request), request.path_params["score_id"])


def read(request: Request) -> Response:
    """All pages with what was read from them, and what is chosen there."""
    studio, row, say = studio_of(request), _row(request), speech_of(request)
    source = read_pdf_part(studio, row)
    place = request.query_params.get("at", "")
    chosen = chosen_at(say, source, place) if place else None
    return page(
        request,
        "parts/read.html",
        score=row,
        stands=list_stands(studio, score_id=row.id),
        read=source.reading,
        refused=source.refused,
        staff=staff_read(studio, row, source),
        doubtful=len(source.doubtful),
        pages=pages_read(say, studio, row),
        tables=read_sections(say, source, unknown=False),
        chosen=chosen,
        chosen_clef=clef_name(chosen.clef) if chosen else "",
        clefs=tuple(CLEFS),
        keys=[(key, key_text(say, key)) for key in range(-MOST_FLATS, MOST_FLATS + 1)],
        shapes=shapes(say, source),
        kinds=SIGN_KINDS,
        said=said_rows(say, studio, row),
        steps=steps_of(studio, row),
    )


def picture(request: Request) -> Response:
    """A page as it is printed."""
    row = _row(request)
    number = request.path_params["page"]
    tag = f'"{row.digest[:32]}-{number}"'
    headers = {"ETag": tag, "Cache-Control": "private, no-cache"}
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    shown = page_png(studio_of(request), row, number)
    return Response(shown.png, media_type="image/png", headers=headers)


async def say_something(request: Request) -> Response:
    """What is said of a place, a shape, or the whole part."""
    form = await form_of(request)
    row = await run_in_threadpool(_row, request)
    kind = str(form.get("kind", ""))
    if kind not in _SAID:
        raise BadUsage("web.no_correction")
    await run_in_threadpool(_SAID[kind], studio_of(request), row, form)
    place = str(form.get("place", ""))
    at = f"?at={place}#at-{place}" if kind in ("note", "clef", "key") else "#said"
    return see(f"/parts/{row.id}/read{at}")


_SAID: dict[str, _Said] = {
    "note": lambda studio, row, form: say_note(studio, row, _of(form, "place"), _of(form, "value")),
    "clef": lambda studio, row, form: say_clef(studio, row, _of(form, "place"), _of(form, "value")),
    "key": lambda studio, row, form: say_key(studio, row, _of(form, "place"), _of(form, "value")),
    "right": lambda studio, row, form: say_right(studio, row, _of(form, "place")),
    "sign": lambda studio, row, form: say_sign(studio, row, _of(form, "place"), _of(form, "value")),
    "staff": lambda studio, row, form: say_staff(studio, row, whole(form.get("value")) or 0),
}


def _of(form: FormData, name: str) -> str:
    return str(form.get(name, "")).strip()


def undo(request: Request) -> Response:
    """Take back what was said last."""
    row = _row(request)
    undo_correction(studio_of(request), row)
    return see(f"/parts/{row.id}/read#said")


def redo(request: Request) -> Response:
    """Say again what was taken back."""
    row = _row(request)
    redo_correction(studio_of(request), row)
    return see(f"/parts/{row.id}/read#said")


_HERE = "/parts/{score_id:int}/read"
routes: list[BaseRoute] = [
    Route(_HERE, read, methods=["GET"]),
    Route(_HERE, say_something, methods=["POST"]),
    Route(f"{_HERE}/pages/{{page:int}}.png", picture),
    Route(f"{_HERE}/undo", undo, methods=["POST"]),
    Route(f"{_HERE}/redo", redo, methods=["POST"]),
]
