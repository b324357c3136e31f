"""Whole folders of parts: looked into, corrected, taken in.

A folder of this machine is named, seen and taken in by a browser on this machine only; what a
browser sends can be seen by whoever may use the studio.
"""

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from handslide.edges.store.folders import FolderRow
from handslide.faces.web.errors import refusal, told
from handslide.faces.web.forms import clean_name, form_of
from handslide.faces.web.formvalues import posted_json, texts_of_key, whole
from handslide.faces.web.pages import page, see, studio_of
from handslide.faces.web.safety import at_this_machine
from handslide.ground.errors import HandslideError
from handslide.ground.facts import fact
from handslide.ground.limits import FOLDER_SHOWN, FORM_FIELDS, LOOK_AGAIN_S, STORED_SCORE_BYTES
from handslide.ground.wholenumber import whole_number
from handslide.studio.library.folders import (
    begin_sent,
    correct_file,
    forget_folder,
    forget_gone,
    get_folder,
    keep_sent,
    leave_out,
    list_folders,
    look_at_file,
    look_into,
    name_folder,
)
from handslide.studio.library.shelf import look_again, shelf_of, sort_wanted, take_in
from handslide.words import library as words

_PAGE = "/parts/folders"
_MOMENT_S = 0.3
_DEEPEST = 20  # folders within one that is sent


def folders(request: Request) -> Response:
    """All folders, with what is new in them."""
    studio, here = studio_of(request), _here(request)
    look_again(studio, only_if_due=True)
    shelf = shelf_of(studio)
    # Where nothing has changed it takes a moment, and the page needn't be made again.
    shelf.wait(_MOMENT_S)
    job = shelf.job
    return page(
        request,
        "parts/folders.html",
        here=here,
        folders=[look_into(studio, row.id) for row in list_folders(studio, sent_only=not here)],
        troubles=dict(shelf.troubles),
        last=shelf.last,
        job=job,
        changes=shelf.changes,
        waits=job is not None and job.stage != "looking",
        most=FOLDER_SHOWN,
        words=words,
        look_again_s=round(LOOK_AGAIN_S),
    )


def state(request: Request) -> Response:
    """What is being done; where it is done with which the page was made, or something has come of
    it since, the whole page again. It looks again by itself."""
    studio = studio_of(request)
    shelf = shelf_of(studio)
    look_again(studio, only_if_due=True)
    job, changes = shelf.job, shelf.changes
    seen, waits = whole(request.query_params.get("seen")), "waits" in request.query_params
    answer = page(
        request,
        "parts/folder_state.html",
        job=job,
        words=words,
        changes=changes if seen is None else seen,
        waits=waits,
        look_again_s=round(LOOK_AGAIN_S),
    )
    if job is None and (waits or (seen is not None and seen != changes)):
        answer.headers["HX-Refresh"] = "true"
    return answer


async def name(request: Request) -> Response:
    """Look into a folder of this machine."""
    if not _here(request):
        return _elsewhere(request)
    typed = (await form_of(request)).get("folder")
    studio = studio_of(request)
    found = await run_in_threadpool(name_folder, studio, typed if isinstance(typed, str) else "")
    await run_in_threadpool(look_again, studio)
    return see(f"{_PAGE}#folder-{found}")


def look(request: Request) -> Response:
    """Look into all folders again."""
    look_again(studio_of(request))
    return see(_PAGE)


def stop(request: Request) -> Response:
    """Stop what is being done."""
    shelf = shelf_of(studio_of(request))
    shelf.stop()
    shelf.wait(2.0)
    return see(_PAGE)


async def take(request: Request) -> Response:
    """Take in the files that are ticked; those that were shown and aren't, are left out."""
    row = _folder(request)
    if isinstance(row, Response):
        return row
    form = await form_of(request)
    shown = [whole_number(one) for one in str(form.get("shown", "")).split(",")]
    ticked = [whole(one) for one in texts_of_key(form, "file", FORM_FIELDS)]
    await run_in_threadpool(_take, request, row, shown, ticked)
    return see(f"{_PAGE}#folder-{row.id}")


def _take(
    request: Request, row: FolderRow, shown: list[int | None], ticked: list[int | None]
) -> None:
    studio = studio_of(request)
    known, chosen = ({one for one in numbers if one is not None} for numbers in (shown, ticked))
    wanted, unwanted = sort_wanted(studio, row.id, known | chosen, chosen)
    take_in(studio, row.id, wanted)
    leave_out(studio, unwanted)


def forget(request: Request) -> Response:
    """Forget a folder; what was taken in stays."""
    row = _folder(request)
    if isinstance(row, Response):
        return row
    forget_folder(studio_of(request), row.id)
    shelf_of(studio_of(request)).forget(row.id)
    return see(_PAGE)


def gone(request: Request) -> Response:
    """Forget the files that are gone."""
    row = _folder(request)
    if isinstance(row, Response):
        return row
    forget_gone(studio_of(request), row.id)
    return see(f"{_PAGE}#folder-{row.id}")


def file_page(request: Request) -> Response:
    """The parts of a file, to be corrected."""
    row, file = look_at_file(studio_of(request), request.path_params["file_id"])
    if not (row.sent or _here(request)):
        return _elsewhere(request)
    return page(request, "parts/folder_file.html", folder=row, file=file, words=words)


async def correct(request: Request) -> Response:
    """Which of a file's parts are a slide player's."""
    studio, file_id = studio_of(request), request.path_params["file_id"]
    row, _ = await run_in_threadpool(look_at_file, studio, file_id)
    if not (row.sent or _here(request)):
        return _elsewhere(request)
    ticked = texts_of_key(await form_of(request), "part")
    await run_in_threadpool(correct_file, studio, file_id, ticked)
    return see(f"{_PAGE}#folder-{row.id}")


# Sent by a browser.


async def begin(request: Request) -> Response:
    """A folder is about to be sent."""
    title = (await posted_json(request)).get("title")
    studio = studio_of(request)
    made = await run_in_threadpool(begin_sent, studio, title if isinstance(title, str) else "")
    return JSONResponse({"folder": made}, headers={"Cache-Control": "no-store"})


async def send(request: Request) -> Response:
    """Some files of a folder that is being sent, each with its path in it as its name."""
    studio, folder_id = studio_of(request), request.path_params["folder_id"]
    await run_in_threadpool(get_folder, studio, folder_id)
    form = await form_of(request)
    errors = []
    for sent in form.getlist("files"):
        if not isinstance(sent, UploadFile):
            continue
        names = [clean_name(one) for one in (sent.filename or "").replace("\\", "/").split("/")]
        data = await sent.read(STORED_SCORE_BYTES + 1)
        try:
            await run_in_threadpool(keep_sent, studio, folder_id, names[-_DEEPEST:], data)
        except HandslideError as error:
            errors.append({"file": names[-1], "error": told(request, error)})
    return JSONResponse({"errors": errors}, headers={"Cache-Control": "no-store"})


def _here(request: Request) -> bool:
    return at_this_machine(request, request.app.state.rules)


def _elsewhere(request: Request) -> Response:
    return refusal(request, 403, fact("library.elsewhere"))


def _folder(request: Request) -> FolderRow | Response:
    """The folder that is meant, or the refusal of one of this machine to a browser elsewhere."""
    row = get_folder(studio_of(request), request.path_params["folder_id"])
    return row if row.sent or _here(request) else _elsewhere(request)


routes: list[BaseRoute] = [
    Route(_PAGE, folders, methods=["GET"]),
    Route(_PAGE, name, methods=["POST"]),
    Route(f"{_PAGE}/state", state),
    Route(f"{_PAGE}/look", look, methods=["POST"]),
    Route(f"{_PAGE}/stop", stop, methods=["POST"]),
    Route(f"{_PAGE}/{{folder_id:int}}/take", take, methods=["POST"]),
    Route(f"{_PAGE}/{{folder_id:int}}/forget", forget, methods=["POST"]),
    Route(f"{_PAGE}/{{folder_id:int}}/gone", gone, methods=["POST"]),
    Route(f"{_PAGE}/files/{{file_id:int}}", file_page, methods=["GET"]),
    Route(f"{_PAGE}/files/{{file_id:int}}", correct, methods=["POST"]),
    Route("/parts/sent", begin, methods=["POST"]),
    Route("/parts/sent/{folder_id:int}", send, methods=["POST"]),
]
