"""Parts: the library, taking in scores, and for whom a part is put on the stand."""

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.engraving.screen import WIDTHS_MM
from handslide.edges.store.scores import ScoreRow
from handslide.faces.web import parts_json, stands
from handslide.faces.web import reading as read
from handslide.faces.web.errors import told
from handslide.faces.web.forms import clean_name, form_of
from handslide.faces.web.formvalues import text_of, texts_of_key, whole
from handslide.faces.web.home import home_page
from handslide.faces.web.making import made
from handslide.faces.web.pages import filed, page, see, speech_of, studio_of
from handslide.faces.web.partlist import Result, grading, part_list
from handslide.faces.web.stands import reading
from handslide.ground.errors import BadUsage, HandslideError
from handslide.ground.limits import STORED_SCORE_BYTES
from handslide.ground.progress import ProgressCallback
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.mark.slideview import slide_view
from handslide.studio.library.parts import choice_of, take_parts
from handslide.studio.parts.reading import read_pdf_part
from handslide.studio.parts.scores import (
    add_score,
    archive_score,
    delete_score,
    get_score,
    rename_score,
    score_parts,
)
from handslide.studio.parts.stand import list_stands, open_stand, open_stands
from handslide.studio.parts.trial import Wish, trial_music, trial_pdf, try_part
from handslide.studio.people.horns import models
from handslide.studio.people.students import list_horns_of, list_students
from handslide.studio.studio import Studio


def library(request: Request) -> Response:
    """All parts, with who has them on the stand; for a student with their grades."""
    return part_list(request, _student_id(request))


async def take_in(request: Request) -> Response:
    """Take in one or several files; each has a result of its own."""
    form = await form_of(request)
    student_id = whole(form.get("student"))
    files = [value for value in form.getlist("files") if isinstance(value, UploadFile)]
    files = [file for file in files if file.filename]
    if not files:
        raise BadUsage("web.no_score")
    results = []
    for file in files:
        data = await file.read(STORED_SCORE_BYTES + 1)
        name = clean_name(file.filename or "")
        results.append(await run_in_threadpool(_take_in, request, data, name))
    failed = all(result.error is not None for result in results)
    if form.get("then") == "go" and (failed or len(results) == 1):
        return await run_in_threadpool(_gone_on, request, student_id, tuple(results))
    status = 400 if failed else 200
    return await run_in_threadpool(part_list, request, student_id, tuple(results), status)


def _gone_on(request: Request, student_id: int | None, results: tuple[Result, ...]) -> Response:
    """After one file was dropped: on to the student's stand, or to the question who it is for."""
    added = results[0].added
    if added is None:
        return home_page(request, [(each.file_name, each.error or "") for each in results])
    if student_id is not None:
        try:
            return see(f"/stands/{open_stand(studio_of(request), student_id, added.score.id)}")
        except HandslideError:
            # What keeps it from the stand is told where it is asked for whom it is.
            return see(f"/parts/{added.score.id}?student={student_id}")
    return see(f"/parts/{added.score.id}")


def _take_in(request: Request, data: bytes, name: str) -> Result:
    try:
        added = add_score(studio_of(request), data, name)
    except HandslideError as error:
        return Result(name, None, told(request, error))
    return Result(name, added, None)


def for_whom(request: Request) -> Response:
    """One part: who gets it on the stand, its title, putting it away."""
    studio = studio_of(request)
    row = get_score(studio, request.path_params["score_id"])
    if row.pdf and read_pdf_part(studio, row).refused is not None:
        return see(f"/parts/{row.id}/read")
    return page(
        request,
        "parts/for_whom.html",
        score=row,
        parts=score_parts(studio, row),
        stands=list_stands(studio, score_id=row.id),
        players=[(each, list_horns_of(studio, each.id)) for each in list_students(studio)],
        chosen=_student_id(request),
        models=models(),
        choice=choice_of(studio, row),
    )


def try_on_horn(request: Request) -> Response:
    """The part marked on one of our horns, for nobody."""
    row, _, marked = _tried(request)
    return page(
        request,
        "parts/trial.html",
        score=row,
        horn=text_of(request.query_params, "horn"),
        models=models(),
        marked=marked,
        slide_of_horn=slide_view(marked.routed.setup),
        query=request.url.query,
    )


def try_music(request: Request) -> Response:
    """Its music, in the width asked for."""
    width = request.query_params.get("width", "wide")
    if width not in WIDTHS_MM:
        raise BadUsage("web.width", name=width, known=", ".join(WIDTHS_MM))
    _, wish, marked = _tried(request)
    svg = trial_music(studio_of(request), wish, marked, width)
    return Response(svg, media_type="image/svg+xml", headers={"Cache-Control": "no-store"})


def try_pdf(request: Request) -> Response:
    """The same as a PDF."""
    studio, say = studio_of(request), speech_of(request)
    _, _, marked = _tried(request)

    def make(tell: ProgressCallback) -> Response:
        file = trial_pdf(studio, say, marked, tell)
        return filed(file.data, file.name, file.media_type)

    return made(request, make)


def _tried(request: Request) -> tuple[ScoreRow, Wish, MarkedPart]:
    studio, asked = studio_of(request), request.query_params
    row = get_score(studio, request.path_params["score_id"])
    part, voice = reading(asked.get("reading"))
    return row, *try_part(studio, row, text_of(asked, "horn"), part, voice)


async def put_on_stands(request: Request) -> Response:
    """Put a part on the stands of the students chosen."""
    form = await form_of(request)
    score_id = request.path_params["score_id"]
    made = await run_in_threadpool(_put_on_stands, studio_of(request), score_id, form)
    return see(f"/stands/{made[0]}" if len(made) == 1 else f"/parts/{score_id}")


def _put_on_stands(studio: Studio, score_id: int, form: FormData) -> list[int]:
    # Who is ticked and whose key was pressed too is one.
    chosen = dict.fromkeys(whole(value) for value in form.getlist("student"))
    wishes = [
        (student, whole(form.get(f"horn-{student}"))) for student in chosen if student is not None
    ]
    part, voice = reading(form.get("reading"))
    return open_stands(studio, score_id, wishes, part, voice)


async def rename(request: Request) -> Response:
    """Another title and composer."""
    form = await form_of(request)
    score_id = request.path_params["score_id"]
    title, composer = str(form.get("title", "")), str(form.get("composer", ""))
    await run_in_threadpool(rename_score, studio_of(request), score_id, title, composer)
    return see(f"/parts/{score_id}")


async def choose_parts(request: Request) -> Response:
    """Which of its parts stand in the list."""
    ticked = texts_of_key(await form_of(request), "part")
    score_id = request.path_params["score_id"]
    await run_in_threadpool(take_parts, studio_of(request), score_id, ticked)
    return see(f"/parts/{score_id}")


def archive(request: Request) -> Response:
    """Put a part away."""
    archive_score(studio_of(request), request.path_params["score_id"])
    return see("/parts")


def restore(request: Request) -> Response:
    """Bring a part back."""
    score_id = request.path_params["score_id"]
    archive_score(studio_of(request), score_id, archived=False)
    return see(f"/parts/{score_id}")


def ask_delete(request: Request) -> Response:
    """What goes when a part is deleted."""
    studio = studio_of(request)
    row = get_score(studio, request.path_params["score_id"])
    return page(
        request, "parts/delete.html", score=row, stands=list_stands(studio, score_id=row.id)
    )


def delete(request: Request) -> Response:
    """Delete a part for good."""
    delete_score(studio_of(request), request.path_params["score_id"])
    return see("/parts")


def _student_id(request: Request) -> int | None:
    return whole(request.query_params.get("student"))


routes: list[BaseRoute] = [
    Route("/parts", library, methods=["GET"]),
    Route("/parts", take_in, methods=["POST"]),
    Route("/parts/grading", grading, methods=["GET", "POST"]),
    Route("/parts/{score_id:int}", for_whom),
    Route("/parts/{score_id:int}/choice", choose_parts, methods=["POST"]),
    Route("/parts/{score_id:int}/try", try_on_horn),
    Route("/parts/{score_id:int}/try/music", try_music),
    Route("/parts/{score_id:int}/try.pdf", try_pdf),
    Route("/parts/{score_id:int}/stands", put_on_stands, methods=["POST"]),
    Route("/parts/{score_id:int}/rename", rename, methods=["POST"]),
    Route("/parts/{score_id:int}/archive", archive, methods=["POST"]),
    Route("/parts/{score_id:int}/restore", restore, methods=["POST"]),
    Route("/parts/{score_id:int}/delete", ask_delete, methods=["GET"]),
    Route("/parts/{score_id:int}/delete", delete, methods=["POST"]),
    *read.routes,
    *parts_json.routes,
    *stands.routes,
]
