"""The teacher's data: settings, archive out and in, backups, recordings, privacy."""

from collections.abc import Iterator
from typing import IO

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, Response, StreamingResponse
from starlette.routing import BaseRoute, Route

from handslide.faces.web.forms import form_of, upload_file
from handslide.faces.web.formvalues import text_of, whole
from handslide.faces.web.pages import file_headers, page, see, speech_of, studio_of
from handslide.ground.errors import BadData, BadUsage, HandslideError
from handslide.ground.facts import fact
from handslide.ground.limits import (
    ARCHIVE_BYTES,
    BACKUP_MONTHS,
    BACKUP_WEEKS,
    BACKUPS_BEFORE,
    GB,
    MOST_BACKUP_DAYS,
)
from handslide.ground.papers import PAPERS
from handslide.studio.care.archive import BLOCK_BYTES, archive_file, archive_name
from handslide.studio.care.archiveimport import (
    add_students,
    forget_archive,
    read_archive,
    replace_all,
    waiting,
)
from handslide.studio.care.backups import (
    backup_path,
    backups_kept,
    keep_backups,
    list_backups,
    look_at_backup,
    make_backup,
    restore_backup,
)
from handslide.studio.care.contents import recordings_of_all, studio_facts
from handslide.studio.care.erase import erase_recordings
from handslide.studio.care.example import add_example, has_example, remove_example
from handslide.studio.people.students import get_student
from handslide.studio.preferences import THEMES, Preferences, prefer, preferences
from handslide.words.catalogues import languages

# What a page may say was done.
_DONE = (
    "settings", "backup", "same", "kept", "restored", "replaced", "added", "forgotten", "erased",
    "example_added", "example_removed",
)  # fmt: skip


def data(request: Request) -> Response:
    """All about the data, on one page."""
    studio = studio_of(request)
    done = request.query_params.get("done", "")
    return page(
        request,
        "data/data.html",
        done=done if done in _DONE else "",
        facts=studio_facts(studio),
        chosen=preferences(studio),
        languages=languages(),
        themes=THEMES,
        papers=tuple(PAPERS),
        backups=list_backups(studio),
        kept=backups_kept(studio),
        most_kept=MOST_BACKUP_DAYS,
        kept_before=BACKUPS_BEFORE,
        weeks=BACKUP_WEEKS,
        months=BACKUP_MONTHS,
        trouble=studio.notices.backup_trouble,
        most_bytes=ARCHIVE_BYTES,
        most_gb=ARCHIVE_BYTES // GB,
        recordings=recordings_of_all(studio),
        example=has_example(studio),
    )


async def settings(request: Request) -> Response:
    """Keep language, theme and paper."""
    form = await form_of(request)
    chosen = Preferences(*(str(form.get(key, "")) for key in ("language", "theme", "paper")))
    await run_in_threadpool(prefer, studio_of(request), chosen)
    return see("/data?done=settings")


async def export(request: Request) -> Response:
    """The archive as a download, from a file without a name that goes with the answer."""
    wanted = "recordings" in await form_of(request)
    file, size = await run_in_threadpool(
        archive_file, studio_of(request), speech_of(request), with_recordings=wanted
    )
    return StreamingResponse(
        _blocks(file),
        media_type="application/zip",
        headers={"Content-Length": str(size), **file_headers(archive_name(), save=True)},
    )


def _blocks(file: IO[bytes]) -> Iterator[bytes]:
    with file:
        while block := file.read(BLOCK_BYTES):
            yield block


async def take_archive(request: Request) -> Response:
    """Read an archive that was sent; it waits for the teacher's word."""
    sent = await upload_file(request, "archive", ARCHIVE_BYTES)
    if sent is None:
        raise BadData("web.no_archive")
    found = await run_in_threadpool(read_archive, studio_of(request), sent[1])
    return see(f"/data/import/{found.token}")


def look_at_archive(request: Request) -> Response:
    """What is in an archive, and what can be done with it."""
    studio = studio_of(request)
    return page(
        request,
        "data/import.html",
        found=waiting(studio, request.path_params["token"]),
        facts=studio_facts(studio),
    )


async def use_archive(request: Request) -> Response:
    """Replace everything by an archive, add its students, or drop it."""
    studio, token = studio_of(request), request.path_params["token"]
    way = (await form_of(request)).get("way")
    if way == "replace":
        await run_in_threadpool(replace_all, studio, token)
        return see("/data?done=replaced")
    if way == "add":
        await run_in_threadpool(add_students, studio, token)
        return see("/data?done=added")
    if way == "forget":
        await run_in_threadpool(forget_archive, studio, token)
        return see("/data?done=forgotten")
    raise BadData("web.archive_way")


async def backup_now(request: Request) -> Response:
    """Make a backup."""
    studio = studio_of(request)
    try:
        made = await run_in_threadpool(make_backup, studio)
    except HandslideError as error:
        studio.notices.backup_trouble = error.fact
        raise
    return see(f"/data?done={'same' if made is None else 'backup'}#backups")


async def keep(request: Request) -> Response:
    """Say how many backups are kept."""
    typed = text_of(await form_of(request), "kept")
    wrong = fact("web.no_backups", text=typed[:20], most=MOST_BACKUP_DAYS)
    number = whole(typed, wrong)
    if number is None:
        raise BadUsage(wrong.kind, **wrong.values)
    await run_in_threadpool(keep_backups, studio_of(request), number)
    return see("/data?done=kept#backups")


def download_backup(request: Request) -> Response:
    """A backup as a download."""
    path = backup_path(studio_of(request), request.path_params["name"])
    return FileResponse(
        path,
        media_type="application/vnd.sqlite3",
        filename=f"studio-{path.name}",
        headers={"Cache-Control": "no-store"},
    )


def restore_page(request: Request) -> Response:
    """What restoring a backup would do."""
    studio = studio_of(request)
    return page(
        request,
        "data/restore.html",
        backup=look_at_backup(studio, request.path_params["name"]),
        facts=studio_facts(studio),
    )


async def restore(request: Request) -> Response:
    """Put a backup in place."""
    await run_in_threadpool(restore_backup, studio_of(request), request.path_params["name"])
    return see("/data?done=restored")


def recordings_page(request: Request) -> Response:
    """Which recordings would go: those of ``student``, or all."""
    student = _student_id(request.query_params.get("student"))
    found = recordings_of_all(studio_of(request))
    if student is not None:
        get_student(studio_of(request), student)
        found = tuple(each for each in found if each.student_id == student)
    return page(request, "data/recordings.html", recordings=found, student=student)


async def delete_recordings(request: Request) -> Response:
    """Delete recordings for good: those of ``student``, or all."""
    student = _student_id((await form_of(request)).get("student"))
    await run_in_threadpool(erase_recordings, studio_of(request), student)
    return see("/data?done=erased#recordings")


def _student_id(typed: object) -> int | None:
    """A student's number, None for all. What can't be one must never mean all."""
    return whole(typed, fact("web.no_student_here"))


async def example(request: Request) -> Response:
    """Put the example in, or take it out."""
    if (await form_of(request)).get("wish") == "add":
        await run_in_threadpool(add_example, studio_of(request))
        return see("/data?done=example_added#example")
    await run_in_threadpool(remove_example, studio_of(request))
    return see("/data?done=example_removed#example")


def privacy(request: Request) -> Response:
    """What is stored, where, and what the teacher must see to."""
    return page(request, "data/privacy.html", facts=studio_facts(studio_of(request)))


routes: list[BaseRoute] = [
    Route("/data", data),
    Route("/data/settings", settings, methods=["POST"]),
    Route("/data/export", export, methods=["POST"]),
    Route("/data/import", take_archive, methods=["POST"]),
    Route("/data/import/{token}", look_at_archive),
    Route("/data/import/{token}", use_archive, methods=["POST"]),
    Route("/data/backups", backup_now, methods=["POST"]),
    Route("/data/backups/kept", keep, methods=["POST"]),
    Route("/data/backups/{name}", download_backup),
    Route("/data/backups/{name}/restore", restore_page),
    Route("/data/backups/{name}/restore", restore, methods=["POST"]),
    Route("/data/recordings/delete", recordings_page),
    Route("/data/recordings/delete", delete_recordings, methods=["POST"]),
    Route("/data/example", example, methods=["POST"]),
    Route("/data/privacy", privacy),
]
