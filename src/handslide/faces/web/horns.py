"""Pages of the topic horns."""

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
