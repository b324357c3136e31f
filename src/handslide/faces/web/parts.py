"""Pages of the topic parts."""

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
