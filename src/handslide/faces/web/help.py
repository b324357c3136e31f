"""The page that explains the studio: a first lesson, the rooms, the signs, the keys, the words."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.pages import page, studio_of
from handslide.studio.parts.stand import list_stands


def show(request: Request) -> Response:
    """All help on one page; its first lesson leads to the stand that was opened last."""
    stands = list_stands(studio_of(request))
    return page(request, "help/help.html", stand=stands[0] if stands else None)


routes: list[BaseRoute] = [Route("/help", show)]
