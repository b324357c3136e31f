"""Horns of students: their values and history, a form for them, the file of each version."""

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.store.horns import HornVersion, StudentHorn
from handslide.faces.web.forms import form_of, upload
from handslide.faces.web.formvalues import decimal, whole
from handslide.faces.web.pages import filed, page, see, speech_of, studio_of
from handslide.ground.errors import BadData, BadUsage, HandslideError
from handslide.ground.facts import fact
from handslide.ground.limits import TYPED_BYTES
from handslide.jobs.mark.slideview import slide_drawing
from handslide.studio.home.overview import why_unread
from handslide.studio.people.hornfacts import (
    Change,
    HornFacts,
    changes_between,
    closed_text,
    horn_facts,
)
from handslide.studio.people.horns import (
    HornValues,
    add_horn,
    archive_horn,
    change_horn,
    horn_file,
    import_horn,
    make_main,
    model_slides,
    models,
    restore_version,
)
from handslide.studio.people.students import get_horn, get_student, list_horns_of, list_versions
from handslide.words.charts import landmarks
from handslide.words.horns import horn_title

# A horn more.


def new(request: Request) -> Response:
    """Choose one of our horns, or a horn file."""
    return _choose(request, {"base": "tenor-f", "title": ""})


def _choose(
    request: Request, typed: dict[str, str], wrong: HandslideError | None = None
) -> Response:
    student = get_student(studio_of(request), request.path_params["student_id"])
    return page(
        request,
        "horns/new.html",
        status=200 if wrong is None else 400,
        student=student,
        models=models(),
        slides=model_slides(),
        typed=typed,
        wrong=wrong,
    )


async def add(request: Request) -> Response:
    """Give the student the chosen horn."""
    studio, student_id = studio_of(request), request.path_params["student_id"]
    form = await form_of(request)
    typed = {key: str(form.get(key, "")) for key in ("base", "title")}
    try:
        title = typed["title"] or speech_of(request).named("horn", typed["base"], "")
        file = await upload(request, "file", TYPED_BYTES)
        if file is not None:
            horn = await run_in_threadpool(
                import_horn, studio, student_id, file.data, file.name, title=typed["title"]
            )
        else:
            horn = await run_in_threadpool(add_horn, studio, student_id, typed["base"], title=title)
    except (BadData, BadUsage) as error:
        return _choose(request, typed, error)
    return see(f"/horns/{horn.id}")


# One horn.


def horn(request: Request) -> Response:
    """A horn's values and its history."""
    return _show(request)


def _show(request: Request, wrong: HandslideError | None = None) -> Response:
    studio, horn_id = studio_of(request), request.path_params["horn_id"]
    found = get_horn(studio, horn_id)
    versions = list_versions(studio, horn_id)
    facts, unread = _facts(request, found, found.version)
    return page(
        request,
        "horns/horn.html",
        status=200 if wrong is None else 400,
        student=get_student(studio, found.student_id),
        horn=found,
        only=len(list_horns_of(studio, found.student_id)) < 2,
        facts=facts,
        drawing="" if facts is None else slide_drawing(facts.horn),
        landmarks="" if facts is None else landmarks(speech_of(request), facts.horn),
        built=_built(request, facts),
        unread=unread,
        history=_history(versions),
        wrong=wrong,
    )


def _facts(
    request: Request, horn: StudentHorn, version: HornVersion
) -> tuple[HornFacts | None, str | None]:
    """The numbers of a version, or the sentence why it can't be read."""
    try:
        return horn_facts(horn, version), None
    except HandslideError as error:
        return None, speech_of(request).fact(why_unread(error))


def _built(request: Request, facts: HornFacts | None) -> str:
    """What a horn is built as: in the language of the page where it is one of ours."""
    if facts is None:
        return ""
    return horn_title(speech_of(request), facts.description)


def _history(
    versions: tuple[HornVersion, ...],
) -> list[tuple[HornVersion, tuple[Change, ...] | None]]:
    """Each version, newest first, with what it changed (None: nothing to compare with)."""
    rows: list[tuple[HornVersion, tuple[Change, ...] | None]] = []
    for version, before in zip(versions, (*versions[1:], None)):
        changes = None
        if before is not None:
            try:
                changes = changes_between(before, version)
            except HandslideError:
                changes = None
        rows.append((version, changes))
    return rows


def version(request: Request) -> Response:
    """A version beside the one before it."""
    studio, horn_id = studio_of(request), request.path_params["horn_id"]
    number = request.path_params["number"]
    found = get_horn(studio, horn_id)
    by_number = {one.number: one for one in list_versions(studio, horn_id)}
    if number not in by_number:
        raise BadData("people.no_version", number=number, newest=max(by_number))
    before = by_number.get(number - 1)
    facts, unread = _facts(request, found, by_number[number])
    return page(
        request,
        "horns/version.html",
        student=get_student(studio, found.student_id),
        horn=found,
        shown=by_number[number],
        newest=max(by_number),
        facts=facts,
        drawing="" if facts is None else slide_drawing(facts.horn),
        landmarks="" if facts is None else landmarks(speech_of(request), facts.horn),
        built=_built(request, facts),
        unread=unread,
        before=None if before is None else _facts(request, found, before)[0],
    )


def file(request: Request) -> Response:
    """A version as a horn file."""
    studio = studio_of(request)
    found = get_horn(studio, request.path_params["horn_id"])
    wanted = whole(request.query_params.get("version"))
    name, data = horn_file(found, speech_of(request), wanted, studio=studio)
    return filed(data, name, "application/toml", save=True)


# Changing it.


def edit(request: Request) -> Response:
    """The form with a horn's values."""
    found = get_horn(studio_of(request), request.path_params["horn_id"])
    try:
        typed = _of_horn(found)
    except HandslideError as error:
        # Nothing to fill a form with: the history on its page leads on.
        return _show(request, error)
    return _form(request, found, typed)


def _of_horn(horn: StudentHorn) -> dict[str, Any]:
    description = horn.version.description
    return {
        "title": horn.title,
        "a4_hz": f"{horn.a4_hz:g}",
        "temp_c": "" if horn.temp_c is None else f"{horn.temp_c:g}",
        "travel_mm": f"{1000.0 * description.travel_m:.6g}",
        "bell_mm": "" if description.bell_m is None else f"{1000.0 * description.bell_m:.6g}",
        "lip_up_cents": f"{description.lip_up_cents:g}",
        "measured_temp_c": f"{description.temp_c:g}",
        "closed": closed_text(description.closed),
        "valves": [(valve.name, closed_text(valve.closed)) for valve in description.valves],
        "words": "",
    }


def _form(
    request: Request,
    horn: StudentHorn,
    typed: dict[str, Any],
    wrong: HandslideError | None = None,
) -> Response:
    facts, _ = _facts(request, horn, horn.version)
    return page(
        request,
        "horns/form.html",
        status=200 if wrong is None else 400,
        facts=facts,
        drawing="" if facts is None else slide_drawing(facts.horn),
        student=get_student(studio_of(request), horn.student_id),
        horn=horn,
        typed=typed,
        wrong=wrong,
    )


async def change(request: Request) -> Response:
    """Keep changed values as a new version."""
    studio = studio_of(request)
    found = get_horn(studio, request.path_params["horn_id"])
    typed = _typed(await form_of(request))
    try:
        values = _values(typed)
        await run_in_threadpool(change_horn, studio, found.id, values, typed["words"])
    except (BadData, BadUsage) as error:
        return _form(request, found, typed, error)
    return see(f"/horns/{found.id}")


def _typed(form: FormData) -> dict[str, Any]:
    names = (
        "title", "a4_hz", "temp_c", "travel_mm", "lip_up_cents", "measured_temp_c", "closed",
        "words", "bell_mm",
    )  # fmt: skip
    typed: dict[str, Any] = {name: str(form.get(name, "")).strip() for name in names}
    valves = [str(name) for name in form.getlist("valve")]
    closed = [str(text) for text in form.getlist("valve_closed")]
    typed["valves"] = list(zip(valves, closed))
    return typed


def _values(typed: dict[str, Any]) -> HornValues:
    temp = typed["temp_c"]
    return HornValues(
        title=typed["title"],
        a4_hz=_number("web.no_a4", typed["a4_hz"]),
        temp_c=_number("web.no_air", temp) if temp else None,
        travel_mm=_number("web.no_travel", typed["travel_mm"]),
        lip_up_cents=_number("web.no_lipping", typed["lip_up_cents"]),
        bell_mm=_number("web.no_bell", typed["bell_mm"]) if typed["bell_mm"] else None,
        closed=typed["closed"],
        valves=tuple(typed["valves"]),
        measured_temp_c=_number("web.no_measured_air", typed["measured_temp_c"] or "25"),
    )


def _number(kind: str, text: str) -> float:
    return decimal(text, fact(kind, text=text))


async def restore(request: Request) -> Response:
    """Put a former version in use again."""
    horn_id = request.path_params["horn_id"]
    wrong = fact("web.no_version")
    number = whole((await form_of(request)).get("number"), wrong)
    if number is None:
        raise BadUsage("web.no_version")
    try:
        await run_in_threadpool(restore_version, studio_of(request), horn_id, number)
    except BadData as error:
        return _show(request, error)
    return see(f"/horns/{horn_id}")


def main(request: Request) -> Response:
    """Make a horn the student's main one."""
    found = make_main(studio_of(request), request.path_params["horn_id"])
    return see(f"/students/{found.student_id}")


async def archive(request: Request) -> Response:
    """Put a horn into the archive, or take it out."""
    studio, horn_id = studio_of(request), request.path_params["horn_id"]
    archived = (await form_of(request)).get("archived", "1") == "1"
    try:
        found = await run_in_threadpool(archive_horn, studio, horn_id, archived=archived)
    except BadData as error:
        return _show(request, error)
    return see(f"/students/{found.student_id}")


routes: list[BaseRoute] = [
    Route("/students/{student_id:int}/horns/new", new),
    Route("/students/{student_id:int}/horns/new", add, methods=["POST"]),
    Route("/horns/{horn_id:int}", horn),
    Route("/horns/{horn_id:int}/versions/{number:int}", version),
    Route("/horns/{horn_id:int}/file", file),
    Route("/horns/{horn_id:int}/edit", edit),
    Route("/horns/{horn_id:int}/edit", change, methods=["POST"]),
    Route("/horns/{horn_id:int}/restore", restore, methods=["POST"]),
    Route("/horns/{horn_id:int}/main", main, methods=["POST"]),
    Route("/horns/{horn_id:int}/archive", archive, methods=["POST"]),
]
