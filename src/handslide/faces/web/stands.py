"""The part on a stand: its page, its music, all about a note, comparing, files to take away."""

from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.edges.engraving.screen import WIDTHS_MM
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import read_tempo, whole
from handslide.faces.web.making import made
from handslide.faces.web.pages import filed, page, see, speech_of, studio_of
from handslide.ground.errors import BadUsage
from handslide.ground.progress import ProgressCallback
from handslide.instrument.marks import UNPLAYABLE
from handslide.instrument.markstyle import SHOWN, SOUNDS
from handslide.jobs.mark.slideview import measures_of, slide_view
from handslide.studio.choosing.consent import consent
from handslide.studio.home.strips import ROOMS, stand_strip, strip_tag
from handslide.studio.learning.sidebyside import newest_for
from handslide.studio.parts.comparison import check_same, compare
from handslide.studio.parts.files import marked_score, stand_pdf
from handslide.studio.parts.lists import Span, part_lists
from handslide.studio.parts.notewords import note_words
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.parts.scores import score_parts
from handslide.studio.parts.screenmusic import music_tag, screen_music
from handslide.studio.parts.stand import (
    change_sound,
    change_stand,
    get_stand,
    list_stands,
    open_stand,
    read_alike,
    take_off,
)
from handslide.studio.people.students import list_horns_of, list_students, speech_about, speech_for
from handslide.studio.studio import Studio
from handslide.words.speech import Speech


def reading(value: object) -> tuple[str | None, str | None]:
    """A part and voice as the forms send them, ``PART/VOICE``; (None, None): the usual one."""
    text = str(value or "")
    part, _, voice = text.rpartition("/")
    return part or None, voice or None


def _open(request: Request, key: str = "stand_id") -> OpenPart:
    return open_part(studio_of(request), request.path_params[key])


def say_of(request: Request, part: OpenPart) -> Speech:
    """What is said of a part on a student's stand: in the page's language, notes as the student
    names them."""
    return speech_about(part.student, speech_of(request))


def _players(studio: Studio) -> list[tuple[Student, tuple[StudentHorn, ...]]]:
    return [(each, list_horns_of(studio, each.id)) for each in list_students(studio)]


def _others(studio: Studio, part: OpenPart) -> list[tuple[Student, list[StudentHorn]]]:
    """All players but the part's own on this very horn: that would be a comparison with itself."""
    rows = [
        (student, [horn for horn in horns if horn.id != part.horn.id])
        for student, horns in _players(studio)
    ]
    return [(student, horns) for student, horns in rows if horns]


def stand(request: Request) -> Response:
    """The page of a part; its music comes by itself."""
    studio, part = studio_of(request), _open(request)
    if request.headers.get("sec-fetch-dest") == "document":
        # A window will ask for it as soon as it has read the page; which width, only it knows.
        screen_music(studio, part, _width_to_come(request))
    names = part.marked.measures
    return page(
        request,
        "parts/stand.html",
        part=part,
        measures={
            note.measure_index: names.name(note.measure_index) for note in part.marked.part.notes
        }.items(),
        players=_players(studio),
        consent=consent(studio),
        newest=newest_for(studio, part),
        parts=score_parts(studio, part.score),
        shown=SHOWN,
        ways_to_sound=SOUNDS,
        horn=slide_view(part.routed.setup),
    )


def _width_to_come(request: Request) -> str:
    """The width that was asked for last, and before that the usual one of such a device."""
    usual = "narrow" if request.headers.get("sec-ch-ua-mobile") == "?1" else "wide"
    width: str = getattr(request.app.state, "music_width", usual)
    return width


def music(request: Request) -> Response:
    """The engraved music, in the width asked for: whole, or the ``piece`` of it from 0 on.

    A piece that isn't the last links to the next; it can be shown while that is engraved.
    """
    width = request.query_params.get("width")
    if width in WIDTHS_MM:
        request.app.state.music_width = width
    return music_answer(request, _open(request), None)


def strip(request: Request) -> Response:
    """The first line of the part, in the width asked for."""
    width = request.query_params.get("width", "wide")
    if width not in ROOMS:
        raise BadUsage("web.width", name=width, known=", ".join(ROOMS))
    part = _open(request)
    headers = _kept_as(f'"{strip_tag(part, width)}"')
    if request.headers.get("if-none-match") == headers["ETag"]:
        return Response(status_code=304, headers=headers)
    svg = stand_strip(studio_of(request), part, width)
    return Response(svg, media_type="image/svg+xml", headers=headers)


def _kept_as(tag: str) -> dict[str, str]:
    """The browser keeps it, and asks each time whether it is still so."""
    return {"ETag": tag, "Cache-Control": "private, no-cache"}


def music_answer(request: Request, part: OpenPart, other: OpenPart | None) -> Response:
    """The engraved music of a part, or of two with a row of marks each."""
    width = request.query_params.get("width", "wide")
    if width not in WIDTHS_MM:
        raise BadUsage("web.width", name=width, known=", ".join(WIDTHS_MM))
    number = whole(request.query_params.get("piece"))
    ending = "" if number is None else f"-{number}"
    tag = f'"{music_tag(part, width, other)}{ending}"'
    headers = _kept_as(tag)
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    found = screen_music(studio_of(request), part, width, other)
    if number is None:
        return Response(found.svg, media_type="image/svg+xml", headers=headers)
    piece = found.piece(number)
    if piece.more:
        query = urlencode({**request.query_params, "piece": number + 1})
        headers["Link"] = f'<{request.url.path}?{query}>; rel="next"'
    return Response(piece.svg, media_type="image/svg+xml", headers=headers)


def note(request: Request) -> Response:
    """All about one note, as a piece of the page."""
    part = _open(request)
    words = note_words(
        say_of(request, part), studio_of(request), part, request.path_params["number"]
    )
    slide = measures_of(part.routed.setup)
    return page(
        request,
        "parts/note.html",
        part=part,
        note=words,
        unplayable=UNPLAYABLE,
        travel_mm=slide.travel_mm,
        rulers={ruler.valves: ruler.marks_mm for ruler in slide.rulers},
    )


def lists(request: Request) -> Response:
    """Warnings, unusual places and quick moves, as a piece of the page."""
    part = _open(request)
    first, last = (whole(request.query_params.get(key)) for key in ("from", "to"))
    return page(
        request,
        "parts/lists.html",
        part=part,
        lists=part_lists(say_of(request, part), part, Span(first, last)),
    )


async def switch(request: Request) -> Response:
    """The same part for another student or horn: opens that stand, made if it isn't there."""
    to = await run_in_threadpool(_other_stand, request, await form_of(request))
    return see(f"/stands/{to}")


async def choose_other(request: Request) -> Response:
    """Compare with another student or horn."""
    to = await run_in_threadpool(_other_stand, request, await form_of(request))
    return see(f"/stands/{request.path_params['stand_id']}/compare?with={to}")


def _other_stand(request: Request, form: FormData) -> int:
    studio = studio_of(request)
    here = get_stand(studio, request.path_params["stand_id"])
    student, _, horn = str(form.get("to") or "").partition("/")
    student_id, horn_id = whole(student), whole(horn)
    if student_id is None:
        raise BadUsage("web.no_student")
    known = {row.id for row in list_stands(studio, student_id=student_id, score_id=here.score_id)}
    there = open_stand(studio, student_id, here.score_id, horn_id, here.part, here.voice)
    if there not in known:
        read_alike(studio, there, here)
    return there


async def settings(request: Request) -> Response:
    """Another part, voice or tempo."""
    form = await form_of(request)
    stand_id = request.path_params["stand_id"]
    part, voice = reading(form.get("reading"))
    tempo_qpm = read_tempo(str(form.get("tempo", "")))

    def change() -> None:
        change_stand(
            studio_of(request),
            stand_id,
            part=part,
            voice=voice,
            tempo_qpm=tempo_qpm,
            small_notes=form.get("small_notes") is not None,
            sounds=str(form.get("sounds") or "") or None,
        )

    await run_in_threadpool(change)
    return see(f"/stands/{stand_id}")


async def sounds(request: Request) -> Response:
    """How the part sounds where its file doesn't say."""
    form = await form_of(request)
    stand_id = request.path_params["stand_id"]
    wish = str(form.get("sounds") or "") or None
    await run_in_threadpool(change_sound, studio_of(request), stand_id, wish)
    return see(f"/stands/{stand_id}")


def off(request: Request) -> Response:
    """Take a part off the stand."""
    studio, stand_id = studio_of(request), request.path_params["stand_id"]
    score_id = get_stand(studio, stand_id).score_id
    take_off(studio, stand_id)
    return see(f"/parts/{score_id}")


def score_file(request: Request) -> Response:
    """The marked score."""
    part = _open(request)
    file = marked_score(studio_of(request), part, request.query_params.get("show"))
    return filed(file.data, file.name, file.media_type, save=True)


def pdf_file(request: Request) -> Response:
    """The part as a PDF, shown by the browser so that it can be printed at once."""
    part = _open(request)
    say, show = speech_for(part.student, speech_of(request)), request.query_params.get("show")

    def make(tell: ProgressCallback) -> Response:
        file = stand_pdf(say, studio_of(request), part, show, tell)
        return filed(file.data, file.name, file.media_type, save="save" in request.query_params)

    return made(request, make)


def comparing(request: Request) -> Response:
    """Two stands with the same part beside each other."""
    part, other = _open(request), _other(request)
    return page(
        request,
        "parts/compare.html",
        part=part,
        other=other,
        comparison=None if other is None else compare(say_of(request, part), part, other),
        players=_others(studio_of(request), part),
    )


def comparing_music(request: Request) -> Response:
    """The music with both rows of marks."""
    part, other = _open(request), _other(request)
    if other is None:
        raise BadUsage("web.no_student")
    check_same(part, other)
    return music_answer(request, part, other)


def _other(request: Request) -> OpenPart | None:
    other = whole(request.query_params.get("with"))
    itself = other == request.path_params["stand_id"]
    return None if other is None or itself else open_part(studio_of(request), other)


_HERE = "/stands/{stand_id:int}"
routes: list[BaseRoute] = [
    Route(_HERE, stand),
    Route(f"{_HERE}/music", music),
    Route(f"{_HERE}/strip", strip),
    Route(f"{_HERE}/notes/{{number:int}}", note),
    Route(f"{_HERE}/lists", lists),
    Route(f"{_HERE}/switch", switch, methods=["POST"]),
    Route(f"{_HERE}/settings", settings, methods=["POST"]),
    Route(f"{_HERE}/sounds", sounds, methods=["POST"]),
    Route(f"{_HERE}/off", off, methods=["POST"]),
    Route(f"{_HERE}/score", score_file),
    Route(f"{_HERE}/pdf", pdf_file),
    Route(f"{_HERE}/compare", comparing, methods=["GET"]),
    Route(f"{_HERE}/compare", choose_other, methods=["POST"]),
    Route(f"{_HERE}/compare/music", comparing_music),
]
