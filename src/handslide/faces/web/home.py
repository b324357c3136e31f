"""The first page: a part is dropped here, and who comes today."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.pages import page, see, studio_of
from handslide.ground.errors import NotFound
from handslide.studio.care.example import has_example, remove_example
from handslide.studio.home.overview import cards
from handslide.studio.home.strips import DEMO_ROOMS, demo, demo_slide
from handslide.studio.people.students import list_students


def home(request: Request) -> Response:
    """Where a part is dropped, and all students, those of today first."""
    return home_page(request)


def home_page(request: Request, refused: Sequence[tuple[str, str]] = ()) -> Response:
    """The first page; ``refused`` are files that couldn't be taken in, and why."""
    studio = studio_of(request)
    today = datetime.now().astimezone().date()
    rows = [(card, card.days_until(today)) for card in cards(studio)]
    rows.sort(key=lambda row: row[1])
    return page(
        request,
        "home.html",
        status=400 if refused else 200,
        refused=refused,
        rows=rows,
        weekday=today.weekday(),
        archived=list_students(studio, archived=True),
        example=has_example(studio),
        trouble=studio.notices.backup_trouble is not None,
        slide_of_demo=demo_slide(),
    )


def demonstration(request: Request) -> Response:
    """The line of music of the first page and where the slide is at each of its marks."""
    width = request.path_params["width"]
    if width not in DEMO_ROOMS:
        raise NotFound("web.no_page")
    shown = demo(width)
    content: dict[str, Any] = {"svg": shown.svg, "places": shown.places}
    return JSONResponse(content, headers={"Cache-Control": "private, max-age=3600"})


def students(request: Request) -> Response:
    """The list of students is the first page."""
    return see("/")


def leave_example(request: Request) -> Response:
    """Remove the invented students and their parts."""
    remove_example(studio_of(request))
    return see("/")


routes: list[BaseRoute] = [
    Route("/", home, name="home"),
    Route("/demonstration/{width}", demonstration),
    Route("/students", students),
    Route("/example/remove", leave_example, methods=["POST"]),
]
