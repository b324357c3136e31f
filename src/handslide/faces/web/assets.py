"""The studio's own files: scripts, style sheets, fonts.

Their address has in it what they hold: after an update it is another, so a browser may keep what it
has without asking. Scripts and style sheets name each other by where they lie, so that all of a
page are of one version.
"""

import hashlib
import mimetypes
import re
from functools import cache
from importlib import resources
from typing import Any

from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

# Windows asks its registry, where other programs have their say, and browsers run no other kind.
_KINDS = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml",
          ".woff2": "font/woff2", ".ttf": "font/ttf"}  # fmt: skip
FOLDER = "/static"
_OWN = ("handslide", "faces/web/static")
# What hand-outs have in them, too, and the faces.
_SHARED = (("handslide", "data/scripts"), ("handslide", "data/styles"), ("handslide", "data/fonts"))
_VERSION = re.compile(r"^/?(v[0-9a-f]{12})[/\\]")
_KEPT = "public, max-age=31536000, immutable"


class _Files(StaticFiles):
    """Files that the browser keeps for good where their address says which they are. By their mere
    name, or that of another version, they are as they are now and asked about each time."""

    async def get_response(self, path: str, scope: Any) -> Response:
        found = _VERSION.match(path)
        response = await super().get_response(path[found.end() :] if found else path, scope)
        kept = found is not None and found[1] == version()
        response.headers["Cache-Control"] = _KEPT if kept else "no-cache"
        return response


@cache
def version() -> str:
    """A name for what all files hold together."""
    digest = hashlib.sha256()
    for package, folder in (_OWN, *_SHARED):
        for file in sorted((resources.files(package) / folder).iterdir(), key=lambda one: one.name):
            if file.is_file():
                data = file.read_bytes()
                digest.update(f"{file.name} {len(data)} ".encode() + data)
    return f"v{digest.hexdigest()[:12]}"


def base() -> str:
    """Where pages have their files from."""
    return f"{FOLDER}/{version()}"


def plain(path: str) -> str:
    """The path without the version of a file."""
    if path.startswith(f"{FOLDER}/"):
        return f"{FOLDER}/{_VERSION.sub('', path.removeprefix(f'{FOLDER}/'), count=1)}"
    return path


def assets() -> list[Mount]:
    """The folder ``/static``; it holds nothing of any studio."""
    for ending, kind in _KINDS.items():
        mimetypes.add_type(kind, ending)
    own = resources.files(_OWN[0]) / _OWN[1]
    files = _Files(directory=str(own), packages=[*_SHARED])
    return [Mount(FOLDER, files, name="static")]
