"""The first page: who is here, and what is on the stands."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.pages import page, studio_of
from handslide.jobs.students import list_students


def home(request: Request) -> Response:
    """All students."""
    return page(request, "home.html", students=list_students(studio_of(request)))


routes: list[BaseRoute] = [Route("/", home, name="home")]
