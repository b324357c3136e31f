"""Pages of the topic students."""

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
