"""Students: one page about each, a form for their values, a page of their own on a phone."""

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.files.profiles import BY_HORN
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student, StudentValues
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import read_reach, wanted_student
from handslide.faces.web.pages import page, see, speech_of, studio_of
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadData, BadUsage, HandslideError
from handslide.ground.notenames import LANGUAGES
from handslide.ground.pitch import Pitch
from handslide.instrument.markstyle import COUNTINGS, NUMERALS, SHOWN, VALVE_SIGNS, parse_style
from handslide.studio.care.erase import erase_preview, erase_student
from handslide.studio.home.desk import last_lesson, three_things
from handslide.studio.home.overview import (
    card_of,
    count_recordings,
    count_takes,
    last_takes,
    mark_examples,
    readable,
)
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.horns import enrol, model, models
from handslide.studio.people.students import (
    archive_student,
    change_student,
    get_student,
    list_horns_of,
    main_horn,
    profiles,
    speech_about,
    valves_of,
)
from handslide.words.catalogues import languages

REACHES = (6.0, 5.5, 5.0, 4.5, 4.0, 3.0)
_FIRST_HORN = "tenor-f"
_TAKES_SHOWN = 6
_USUAL_MARKS = ("", COUNTINGS[0], NUMERALS[0])


# Reading the form. What was typed goes back into it when something isn't possible.


def _typed(form: FormData) -> dict[str, Any]:
    names = (
        "name", "about", "horn", "reach", "language", "clef", "names", "signs", "counting",
        "numerals", "profile", "show", "consent_note", "consent_on",
    )  # fmt: skip
    typed: dict[str, Any] = {name: str(form.get(name, "")) for name in names}
    typed["valves"] = [str(value) for value in form.getlist("valves")]
    typed["offered"] = [str(value) for value in form.getlist("offered")]
    typed["keep_recordings"] = "keep_recordings" in form
    return typed


def _values(typed: dict[str, Any], valves: tuple[str, ...]) -> StudentValues:
    """The values of a form. Without scripts the valves offered may be another horn's: all then."""
    fits = set(typed["offered"]) == set(valves)
    return StudentValues(
        name=typed["name"],
        about=typed["about"],
        reach=read_reach(typed["reach"]),
        learned=tuple(typed["valves"]) if fits else None,
        clef=typed["clef"] or None,
        names=typed["names"],
        marks=_marks(typed),
        profile=typed["profile"],
        show=typed["show"],
        consent_note=typed["consent_note"] or None,
        consent_on=typed["consent_on"] or None,
        keep_recordings=typed["keep_recordings"],
        language=typed["language"] or None,
    )


def _marks(typed: dict[str, Any]) -> str:
    chosen = (typed["signs"], typed["counting"], typed["numerals"])
    return " ".join(word for word in chosen if word not in _USUAL_MARKS)


def _blank() -> dict[str, Any]:
    valves = [valve.name for valve in model(_FIRST_HORN).valves]
    return {
        "name": "", "about": "", "horn": _FIRST_HORN, "reach": "", "valves": valves,
        "offered": valves, "language": "", "clef": "", "names": "", "signs": "",
        "counting": "open", "numerals": "arabic", "profile": BY_HORN, "show": "all",
        "consent_note": "", "consent_on": "", "keep_recordings": False,
    }  # fmt: skip


def _of_student(student: Student, valves: tuple[str, ...]) -> dict[str, Any]:
    style = parse_style(student.marks)
    return {
        "name": student.name,
        "about": student.about,
        "horn": "",
        "reach": "" if student.reach is None else f"{student.reach:g}",
        "valves": list(valves if student.learned is None else student.learned),
        "offered": list(valves),
        "language": student.language or "",
        "clef": student.clef or "",
        "names": student.names,
        "signs": style.signs or "",
        "counting": style.counting,
        "numerals": style.numerals,
        "profile": student.profile,
        "show": student.show,
        "consent_note": student.consent_note or "",
        "consent_on": student.consent_on or "",
        "keep_recordings": student.keep_recordings,
    }


def _form(
    request: Request,
    typed: dict[str, Any],
    student: Student | None,
    valves: tuple[str, ...],
    wrong: HandslideError | None = None,
) -> Response:
    reaches = [f"{reach:g}" for reach in REACHES]
    if typed["reach"] and typed["reach"] not in reaches:
        reaches.insert(0, typed["reach"])
    known = profiles()
    if typed["profile"] not in known:
        known = (*known, typed["profile"])
    return page(
        request,
        "students/form.html",
        status=200 if wrong is None else 400,
        typed=typed,
        student=student,
        valves=valves,
        wrong=wrong,
        models=models(),
        reaches=reaches,
        languages=languages(),
        clefs=tuple(CLEFS),
        namings=LANGUAGES,
        signs=("", *VALVE_SIGNS),
        countings=COUNTINGS,
        numerals=NUMERALS,
        profiles=known,
        shown=SHOWN,
        examples=_examples(request, student, typed["horn"], _marks(typed)),
    )


def _examples(
    request: Request, student: Student | None, horn: str, marks: str
) -> tuple[tuple[Pitch, str], ...]:
    """Marks to look at; none where the horn can't be read or isn't chosen."""
    try:
        if student is None:
            return mark_examples(horn, marks)
        return mark_examples(main_horn(studio_of(request), student.id).version, marks)
    except HandslideError:
        return ()


def _model_valves(name: str) -> tuple[str, ...]:
    return tuple(valve.name for valve in model(name).valves)


# The pages.


def new(request: Request) -> Response:
    """The form for a new student."""
    typed = _blank()
    return _form(request, typed, None, tuple(typed["offered"]))


async def add(request: Request) -> Response:
    """Take a new student in, with one of our horns."""
    typed = _typed(await form_of(request))
    valves: tuple[str, ...] = ()
    try:
        valves = _model_valves(typed["horn"])
        values = _values(typed, valves)
        title = speech_of(request).named("horn", typed["horn"], "")
        student = await run_in_threadpool(
            enrol, studio_of(request), values, typed["horn"], title=title
        )
    except (BadData, BadUsage) as error:
        return _form(request, typed, None, valves, error)
    return see(f"/students/{student.id}")


def _unread(request: Request, horn: StudentHorn) -> str | None:
    """Why a horn can't be read any more; None where it can."""
    why = readable(horn)
    return None if why is None else speech_of(request).fact(why)


def student(request: Request) -> Response:
    """All about one student."""
    studio, student_id = studio_of(request), request.path_params["student_id"]
    horns = list_horns_of(studio, student_id)
    return page(
        request,
        "students/student.html",
        student=get_student(studio, student_id),
        horns=[(horn, _unread(request, horn)) for horn in horns],
        kept=list_horns_of(studio, student_id, archived=True),
        stands=list_stands(studio, student_id=student_id),
        takes=last_takes(studio, student_id, _TAKES_SHOWN),
        last=last_lesson(studio, student_id),
        take_count=count_takes(studio, student_id),
        recordings=count_recordings(studio, student_id),
        valves=valves_of(studio, student_id),
        languages=languages(),
    )


def things(request: Request) -> Response:
    """Three things to practise, as a piece of the desk: judging all takes may need a moment."""
    studio, student_id = studio_of(request), request.path_params["student_id"]
    found = get_student(studio, student_id)
    say = speech_about(found, speech_of(request))
    return page(
        request,
        "students/things.html",
        student=found,
        things=three_things(studio, student_id, say),
    )


def edit(request: Request) -> Response:
    """The form with a student's values."""
    studio = studio_of(request)
    found = get_student(studio, request.path_params["student_id"])
    valves = valves_of(studio, found.id)
    return _form(request, _of_student(found, valves), found, valves)


async def change(request: Request) -> Response:
    """Keep a student's changed values."""
    studio, student_id = studio_of(request), request.path_params["student_id"]
    found, valves = get_student(studio, student_id), valves_of(studio, student_id)
    typed = _typed(await form_of(request))
    try:
        values = _values(typed, valves)
        await run_in_threadpool(change_student, studio, student_id, values)
    except (BadData, BadUsage) as error:
        return _form(request, typed, found, valves, error)
    return see(f"/students/{student_id}")


async def archive(request: Request) -> Response:
    """Put a student into the archive, or back among the others."""
    form = await form_of(request)
    archived = form.get("archived", "1") == "1"
    student_id = request.path_params["student_id"]
    await run_in_threadpool(archive_student, studio_of(request), student_id, archived=archived)
    return see("/" if archived else f"/students/{student_id}")


def delete_page(request: Request) -> Response:
    """What goes when a student is deleted."""
    studio, student_id = studio_of(request), request.path_params["student_id"]
    return page(
        request,
        "students/delete.html",
        student=get_student(studio, student_id),
        goes=erase_preview(studio, student_id),
    )


async def delete(request: Request) -> Response:
    """Delete a student for good."""
    await run_in_threadpool(erase_student, studio_of(request), request.path_params["student_id"])
    return see("/")


def mine(request: Request) -> Response:
    """A student's own page: nothing about anybody else."""
    studio, student_id = studio_of(request), request.path_params["student_id"]
    card = card_of(studio, student_id)
    return page(request, "students/mine.html", card=card)


# Pieces that follow the form.


def valves(request: Request) -> Response:
    """The valves to tick for one of our horns."""
    try:
        found = _model_valves(request.query_params.get("horn", ""))
    except HandslideError:
        found = ()
    return page(request, "students/valves.html", valves=found, learned=found)


def examples(request: Request) -> Response:
    """The marks of a horn as they would look."""
    asked = request.query_params
    typed = {key: asked.get(key, "") for key in ("signs", "counting", "numerals")}
    student_id = wanted_student(asked)
    found = None if student_id is None else get_student(studio_of(request), student_id)
    shown = _examples(request, found, asked.get("horn", ""), _marks(typed))
    return page(request, "students/marks.html", examples=shown)


routes: list[BaseRoute] = [
    Route("/students/new", new),
    Route("/students/new", add, methods=["POST"]),
    Route("/students/valves", valves),
    Route("/students/marks", examples),
    Route("/students/{student_id:int}", student),
    Route("/students/{student_id:int}/things", things),
    Route("/students/{student_id:int}/edit", edit),
    Route("/students/{student_id:int}/edit", change, methods=["POST"]),
    Route("/students/{student_id:int}/archive", archive, methods=["POST"]),
    Route("/students/{student_id:int}/delete", delete_page),
    Route("/students/{student_id:int}/delete", delete, methods=["POST"]),
    Route("/students/{student_id:int}/mine", mine),
]
