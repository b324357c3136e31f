"""The style sheets of the pages, for what is drawn outside of a browser.

The light colours; what a style sheet says of other media is left out.
"""

import re
from functools import cache
from importlib import resources

_TOKEN = re.compile(r"--([a-z0-9-]+): ([^;]+);")
_USED = re.compile(r"var\(--([a-z0-9-]+)(?:, ((?:[^()]|\([^()]*\))+))?\)")
_REM = re.compile(r"([\d.]+)rem")
_REM_PX = 16.0


@cache
def colour(name: str) -> str:
    """A colour of the light pages by its name in the style sheet, such as ``brass``."""
    return _tokens()[name]


def drawing_style(file: str) -> str:
    """The rules of a style sheet of ``data/styles``, with all values put in."""

    def value(match: re.Match[str]) -> str:
        name, instead = match.groups()
        return _tokens().get(name, _USED.sub(value, instead or ""))

    rules = _USED.sub(value, _read(file).partition("\n@media")[0])
    return _REM.sub(lambda match: f"{float(match[1]) * _REM_PX:g}px", rules)


@cache
def _tokens() -> dict[str, str]:
    # The light ones come first; the dark ones have the same names.
    return dict(_TOKEN.findall(_read("tokens.css").partition("\n}")[0]))


def _read(file: str) -> str:
    styles = resources.files("handslide") / "data" / "styles"
    return (styles / file).read_text(encoding="utf-8")
