"""Parts: the library, and the part on a stand."""

from starlette.routing import BaseRoute

from handslide.faces.web import parts_json

routes: list[BaseRoute] = [*parts_json.routes]
