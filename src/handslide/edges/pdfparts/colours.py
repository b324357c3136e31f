"""White, in whatever colour space: what is painted so isn't seen on paper."""

from typing import Any

import pikepdf

from handslide.edges.pdfparts.operators import Name

_NEAR = 0.01
_OF_COUNT = {1: "additive", 3: "additive", 4: "inks"}


def whiteness_of(name: str, said: Any) -> str:
    """How a colour space says white: ``additive`` by ones, ``inks`` by zeros, or "" unknown.

    ``said`` is what the resources say of the name, if they do.
    """
    if isinstance(said, pikepdf.Name):
        name = str(said)[1:]
    elif isinstance(said, pikepdf.Array) and len(said):
        name = str(said[0])[1:]
        if name == "ICCBased" and len(said) > 1:
            return _OF_COUNT.get(int(said[1].get("/N", 0)), "")
    if name in ("DeviceGray", "DeviceRGB", "CalGray", "CalRGB", "G", "RGB"):
        return "additive"
    return "inks" if name in ("DeviceCMYK", "CMYK", "Separation", "DeviceN") else ""


def is_white(space: str, parts: tuple[Any, ...]) -> bool:
    """Whether a colour is white; never of a pattern."""
    if not space or not parts or any(isinstance(part, Name) for part in parts):
        return False
    if space == "inks":
        return all(part <= _NEAR for part in parts)
    return all(part >= 1 - _NEAR for part in parts)
