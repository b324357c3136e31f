"""What can be practised: each kind with its first line, the student's own needs first."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.drills.kinds import DRILLS, FAMILIES
from handslide.faces.web.formvalues import text_of, whole
from handslide.faces.web.pages import page, speech_of, studio_of
from handslide.ground.errors import BadUsage
from handslide.studio.home.overview import count_takes
from handslide.studio.home.practicestrips import drill_strip, moved_strip
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import speech_for
from handslide.studio.practice.exercises import list_exercises
from handslide.studio.practice.sheets import player_of


def overview(request: Request) -> Response:
    """What can be made for a student."""
    studio = studio_of(request)
    player = player_of(studio, request.path_params["student_id"])
    takes = count_takes(studio, player.student.id)
    return page(
        request,
        "practice/overview.html",
        player=player,
        # What goes wrong by the takes comes before all else, and needs takes.
        own_kinds=[kind.name for kind in DRILLS.values() if kind.from_report and takes],
        families=families(),
        own=list_exercises(studio),
        put_away=list_exercises(studio, archived=True),
        stands=list_stands(studio, student_id=player.student.id),
    )


def families() -> list[tuple[str, list[str]]]:
    """The kinds of drills that need no takes, by what they are for."""
    found = [
        (family, [name for name in names if not DRILLS[name].from_report])
        for family, names in FAMILIES.items()
    ]
    return [(family, names) for family, names in found if names]


def drill_line(request: Request) -> Response:
    """The first line of a kind of drill."""
    studio, query = studio_of(request), request.query_params
    player = player_of(studio, request.path_params["student_id"])
    say = speech_for(player.student, speech_of(request))
    return _svg(drill_strip(studio, player, text_of(query, "kind"), say, _width(request)))


def moved_line(request: Request) -> Response:
    """The first line of a part, an octave down."""
    studio = studio_of(request)
    player = player_of(studio, request.path_params["student_id"])
    stand = whole(request.query_params.get("stand"))
    if stand is None:
        raise BadUsage("practice.no_stand")
    return _svg(moved_strip(studio, player, stand, speech_of(request), _width(request)))


def _width(request: Request) -> str:
    return text_of(request.query_params, "width") or "wide"


def _svg(svg: str) -> Response:
    return Response(svg, media_type="image/svg+xml", headers={"Cache-Control": "no-store"})


_HERE = "/practice/{student_id:int}"
routes: list[BaseRoute] = [
    Route(_HERE, overview),
    Route(f"{_HERE}/drill/strip", drill_line),
    Route(f"{_HERE}/move/strip", moved_line),
]
