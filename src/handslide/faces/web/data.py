"""Pages of the topic data."""

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
