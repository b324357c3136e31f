"""Pages of the topic tuning."""

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
