"""The studio as a web application; each topic has a module with its ``routes``."""

import importlib
from importlib import resources

from starlette.applications import Starlette
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles

from handslide.jobs.studio import Studio

TOPICS = (
    "home", "students", "horns", "parts", "charts", "takes", "tuning", "progress", "data",
)  # fmt: skip


def create_app(studio: Studio) -> Starlette:
    """The application that shows ``studio``."""
    routes: list[BaseRoute] = []
    for topic in TOPICS:
        module = importlib.import_module(f"handslide.faces.web.{topic}")
        routes += module.routes
    static = resources.files("handslide.faces.web") / "static"
    routes.append(Mount("/static", StaticFiles(directory=str(static)), name="static"))
    app = Starlette(routes=routes)
    app.state.studio = studio
    return app
