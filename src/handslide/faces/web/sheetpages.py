"""What all pages of practice material share: whose they are, what is seen, how it is filed."""

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from starlette.requests import Request
from starlette.responses import Response

from handslide.drills.levels import LEVELS
from handslide.edges.store.stands import StandRow
from handslide.faces.web.errors import told
from handslide.faces.web.formvalues import page_number, text_of, whole
from handslide.faces.web.pages import filed, speech_of, studio_of
from handslide.faces.web.practicesound import note_name
from handslide.ground.errors import BadUsage, HandslideError, NotFound
from handslide.ground.facts import fact
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.namesakes import Names
from handslide.studio.people.students import speech_about
from handslide.studio.practice.sheets import (
    Player,
    RenderedSheet,
    player_of,
)
from handslide.studio.practice.stand import (
    Moved,
)
from handslide.words.drills import level_name

PDF, PNG = "application/pdf", "image/png"
HERE = "/practice/{student_id:int}"
_LAST_SEED = 999_999_999


def note_choices(request: Request, player: Player) -> list[tuple[str, str]]:
    """(value, name) of the notes that a student can play; names without an octave get one."""
    names = speech_about(player.student, speech_of(request)).names
    return [(pitch.name, note_name(pitch, names)) for pitch in player.notes]


def asked_player(request: Request, values: Mapping[str, Any] | None = None) -> Player:
    """The student of an address, with the horn that is asked for. Raises NotFound, BadData."""
    horn = None if values is None else whole(values.get("horn"))
    return player_of(studio_of(request), request.path_params["student_id"], horn)


def stands_of(request: Request, player: Player) -> tuple[StandRow, ...]:
    """The parts on a student's stand."""
    return list_stands(studio_of(request), student_id=player.student.id)


def levels(request: Request) -> list[tuple[str, str]]:
    """(name, words) of the levels to choose from."""
    say = speech_of(request)
    return [(name, say.capital(level_name(say, name))) for name in LEVELS]


def seed_of(values: Mapping[str, Any]) -> int:
    """The number of a sheet. Raises BadUsage."""
    text = text_of(values, "seed") or "1"
    wrong = fact("web.no_seed", text=text[:20], most=_LAST_SEED)
    number = whole(text, wrong)
    if number is None or number > _LAST_SEED:
        raise BadUsage(wrong.kind, **wrong.values)
    return number


_Sheet = TypeVar("_Sheet", RenderedSheet, Moved)


def shown_sheet(
    request: Request, problem: str, make: Callable[[], _Sheet]
) -> tuple[dict[str, Any], _Sheet | None]:
    """The pages of a sheet, or the problem; and the sheet."""
    made, pages, size = None, 0, (1.0, 1.0)
    without: tuple[str, ...] = ()
    if not problem:
        try:
            made = make()
            pages, size = len(made.pictures), made.paper_mm
            if isinstance(made, RenderedSheet):
                without = tuple(map(speech_of(request).fact, made.problems))
        except NotFound:
            raise
        except HandslideError as error:
            problem = told(request, error)
    shown = {"problem": problem, "pages": list(range(1, pages + 1)), "size": size}
    return shown | {"without_music": without}, made


def picture(request: Request, made: RenderedSheet | Moved, name: str) -> Response:
    """A page of a sheet as a picture. Raises NotFound."""
    number = page_number(request.query_params)
    return filed(made.picture(number), f"{name}-{number}.png", PNG)


def followed(answer: Response, shown: Mapping[str, Any], path: str) -> Response:
    """The browser's address follows the wishes."""
    if not shown["problem"]:
        answer.headers["HX-Replace-Url"] = f"{path}?{shown['query']}"
    return answer


def called(request: Request, player: Player) -> str:
    """What a student is called in the name of a file."""
    return Names(studio_of(request)).student(player.student.id).plain


def another_one(request: Request) -> bool:
    """Whether another sheet like this one is asked for."""
    return "another" in request.query_params
