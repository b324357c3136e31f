"""The first page: who is here, what is on the stands, how the last take went."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.pages import page, see, studio_of
from handslide.studio.care.example import has_example, remove_example
from handslide.studio.home.overview import cards


def home(request: Request) -> Response:
    """All students."""
    studio = studio_of(request)
    return page(
        request,
        "home.html",
        cards=cards(studio),
        archived=cards(studio, archived=True),
        example=has_example(studio),
        trouble=studio.notices.backup_trouble is not None,
    )


def students(request: Request) -> Response:
    """The list of students is the first page."""
    return see("/")


def leave_example(request: Request) -> Response:
    """Remove the invented students and their parts."""
    remove_example(studio_of(request))
    return see("/")


routes: list[BaseRoute] = [
    Route("/", home, name="home"),
    Route("/students", students),
    Route("/example/remove", leave_example, methods=["POST"]),
]
