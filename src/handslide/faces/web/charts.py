"""Pages of the topic charts."""

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
