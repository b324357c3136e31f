"""The studio as a web application; each topic has a module with its ``routes``."""

import importlib

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import RedirectResponse
from starlette.routing import BaseRoute, Route

from handslide.faces.web.assets import assets
from handslide.faces.web.errors import HANDLERS
from handslide.faces.web.guestserver import Guests
from handslide.faces.web.safety import Guard, Rules
from handslide.studio.studio import Studio

TOPICS = (
    "home", "students", "lessons", "horns", "folders", "parts", "charts", "takes", "tuning",
    "progress", "practice", "plans", "learning", "learngame", "data", "send", "give", "help",
)  # fmt: skip


def create_app(
    studio: Studio, rules: Rules | None = None, guests: Guests | None = None
) -> Starlette:
    """The application that shows ``studio`` under ``rules`` (None: to its own machine only).

    ``guests`` are the tablets that one part is sent to.
    """
    # Browsers ask for this one beside files that they show, such as a PDF.
    routes: list[BaseRoute] = [
        Route("/favicon.ico", RedirectResponse("/static/icon.svg"), methods=["GET"])
    ]
    for topic in TOPICS:
        module = importlib.import_module(f"handslide.faces.web.{topic}")
        routes += module.routes
    rules = rules or Rules()
    app = Starlette(
        routes=[*routes, *assets()],
        middleware=[Middleware(Guard, rules=rules)],
        exception_handlers=HANDLERS,
    )
    app.state.studio = studio
    app.state.rules = rules
    app.state.guests = guests or Guests(studio)
    return app
