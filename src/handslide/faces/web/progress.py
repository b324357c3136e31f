"""Pages of the topic progress."""

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
