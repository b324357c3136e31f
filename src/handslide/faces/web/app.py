"""The studio as a web application; each topic has a module with its ``routes``."""

import importlib
from importlib import resources
from typing import Any

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from handslide.faces.web.errors import HANDLERS
from handslide.faces.web.safety import Guard, Rules
from handslide.studio.studio import Studio

TOPICS = (
    "home", "students", "horns", "parts", "charts", "takes", "tuning", "progress",
    "practice", "learning", "learngame", "data",
)  # fmt: skip


class _Files(StaticFiles):
    """Files that the browser keeps, but asks about each time: after an update none is stale."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        response = super().file_response(*args, **kwargs)
        response.headers["Cache-Control"] = "no-cache"
        return response


def create_app(studio: Studio, rules: Rules | None = None) -> Starlette:
    """The application that shows ``studio`` under ``rules`` (None: to its own machine only)."""
    # Browsers ask for this one beside files that they show, such as a PDF.
    routes: list[BaseRoute] = [
        Route("/favicon.ico", RedirectResponse("/static/icon.svg"), methods=["GET"])
    ]
    for topic in TOPICS:
        module = importlib.import_module(f"handslide.faces.web.{topic}")
        routes += module.routes
    static = resources.files("handslide.faces.web") / "static"
    routes.append(Mount("/static", _Files(directory=str(static)), name="static"))
    fonts = resources.files("handslide") / "data" / "fonts"
    routes.append(Mount("/fonts", _Files(directory=str(fonts)), name="fonts"))
    app = Starlette(
        routes=routes,
        middleware=[Middleware(Guard, rules=rules or Rules())],
        exception_handlers=HANDLERS,
    )
    app.state.studio = studio
    return app
