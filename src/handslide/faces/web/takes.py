"""Pages of the topic takes."""

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
