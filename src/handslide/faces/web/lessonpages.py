"""Lesson sheets for a part on the stand."""

from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.errors import told
from handslide.faces.web.formvalues import text_of, whole
from handslide.faces.web.making import as_it_is_made
from handslide.faces.web.pages import filed, page, speech_of, studio_of
from handslide.faces.web.sheetpages import (
    HERE,
    PDF,
    another_one,
    asked_player,
    called,
    followed,
    levels,
    picture,
    seed_of,
    shown_sheet,
    stands_of,
)
from handslide.ground.errors import BadUsage, HandslideError, NotFound
from handslide.studio.parts.files import plain_name
from handslide.studio.people.students import speech_for
from handslide.studio.practice.sheets import (
    Player,
    RenderedSheet,
    first_drill,
    lesson_for,
)


@dataclass(frozen=True)
class LessonAsked:
    """What an address asks for."""

    stand: int | None
    level: str
    seed: int
    around: bool

    @property
    def query(self) -> str:
        """The address of the same sheet."""
        around = {"around": "1"} if self.around else {}
        given = {"stand": self.stand or "", "level": self.level, "seed": self.seed, "set": "1"}
        return urlencode(given | around)


def lesson(request: Request) -> Response:
    """The page of wishes with the lesson sheet beside it."""
    player, asked, problem = _asked_lesson(request)
    return page(
        request,
        "practice/lesson.html",
        stands=stands_of(request, player),
        levels=levels(request),
        **_shown_lesson(request, player, asked, problem),
    )


def lesson_preview(request: Request) -> Response:
    """The lesson sheet beside the wishes, alone."""
    player, asked, problem = _asked_lesson(request)
    shown = _shown_lesson(request, player, asked, problem)
    answer = page(request, "practice/lesson_preview.html", fresh=another_one(request), **shown)
    return followed(answer, shown, f"/practice/{player.student.id}/lesson")


def lesson_pdf(request: Request) -> Response:
    """The printed lesson sheet."""
    player, made, asked = _lesson_file(request)
    name = plain_name(f"{called(request, player)} lesson {asked.seed}")
    return filed(made.pdf, f"{name}.pdf", PDF, save="save" in request.query_params)


def lesson_picture(request: Request) -> Response:
    """A page of the lesson sheet as a picture."""
    player, made, asked = _lesson_file(request)
    return picture(request, made, plain_name(f"{called(request, player)} lesson {asked.seed}"))


def _lesson_file(request: Request) -> tuple[Player, RenderedSheet, LessonAsked]:
    player = asked_player(request)
    asked = read_lesson(request, player)
    return player, _make_lesson(request, player, asked), asked


def _make_lesson(request: Request, player: Player, asked: LessonAsked) -> RenderedSheet:
    if asked.stand is None:
        raise BadUsage("practice.no_part")
    return lesson_for(
        studio_of(request),
        player,
        asked.stand,
        asked.level,
        asked.seed,
        speech_for(player.student, speech_of(request)),
        around=asked.around,
    )


def _asked_lesson(request: Request) -> tuple[Player, LessonAsked, str]:
    player = asked_player(request)
    try:
        asked = read_lesson(request, player)
    except NotFound:
        raise
    except HandslideError as error:
        first = first_drill(player).level
        return player, LessonAsked(None, first, 1, True), told(request, error)
    return player, replace(asked, seed=asked.seed + 1) if another_one(request) else asked, ""


def _shown_lesson(
    request: Request, player: Player, asked: LessonAsked, problem: str
) -> dict[str, Any]:
    shown: dict[str, Any] = {"problem": "", "pages": [], "size": (1, 1)}
    if asked.stand is not None or problem:
        shown, _ = shown_sheet(request, problem, lambda: _make_lesson(request, player, asked))
    return {"player": player, "asked": asked, "query": asked.query, **shown}


def read_lesson(request: Request, player: Player) -> LessonAsked:
    """The wishes of an address; what it leaves out is as usual. Raises BadUsage."""
    values = request.query_params
    stand = whole(values.get("stand"))
    if stand is None:
        stand = next((row.id for row in stands_of(request, player)), None)
    level = text_of(values, "level") or first_drill(player).level
    return LessonAsked(stand, level, seed_of(values), "around" in values or "set" not in values)


routes: list[BaseRoute] = [
    Route(f"{HERE}/lesson", lesson),
    Route(f"{HERE}/lesson/preview", lesson_preview),
    Route(f"{HERE}/lesson.pdf", as_it_is_made(lesson_pdf)),
    Route(f"{HERE}/lesson/page.png", lesson_picture),
]
