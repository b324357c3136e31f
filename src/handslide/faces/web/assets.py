"""The studio's own files: scripts, style sheets, fonts."""

import mimetypes
from importlib import resources
from typing import Any

from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

# Windows asks its registry, where other programs have their say, and browsers run no other kind.
_KINDS = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml",
          ".woff2": "font/woff2", ".ttf": "font/ttf"}  # fmt: skip


class _Files(StaticFiles):
    """Files that the browser keeps, but asks about each time: after an update none is stale."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        response = super().file_response(*args, **kwargs)
        response.headers["Cache-Control"] = "no-cache"
        return response


def assets() -> list[Mount]:
    """The folders ``/static`` and ``/fonts``; they hold nothing of any studio."""
    for ending, kind in _KINDS.items():
        mimetypes.add_type(kind, ending)
    static = resources.files("handslide.faces.web") / "static"
    # What hand-outs have in them, too.
    shared: list[str | tuple[str, str]] = [
        ("handslide", "data/scripts"), ("handslide", "data/styles"),
    ]  # fmt: skip
    fonts = resources.files("handslide") / "data" / "fonts"
    return [
        Mount("/static", _Files(directory=str(static), packages=shared), name="static"),
        Mount("/fonts", _Files(directory=str(fonts)), name="fonts"),
    ]
