"""How large text and music signs are, before they are typeset.

The figures stand in ``data/fonts/widths.json``, measured from the faces themselves by
``scripts/measure_fonts.py``: widths in thousandths of the type size, without kerning.
"""

import json
from functools import cache
from importlib import resources
from typing import Any

MM_PER_PT = 25.4 / 72.0
# Height of capitals and digits, and depth of descenders, as shares of the type size.
_UP, _DOWN = 0.70, 0.22
_UNKNOWN = 1000.0


@cache
def _measured() -> dict[str, Any]:
    file = resources.files("handslide") / "data" / "fonts" / "widths.json"
    table: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return table


@cache
def text_extent_mm(
    text: str, size_pt: float, face: str, weight: int, italic: bool
) -> tuple[float, float, float]:
    """Width, height above and depth below the baseline, in mm, of one line of text."""
    scale = size_pt * MM_PER_PT / 1000.0
    if face == "Handslide Music":
        return _music_extent(text, scale)
    style = "italic" if italic else "normal"
    widths = _measured()["text"][f"{face}|{weight}|{style}"]
    width = sum(widths.get(char, _UNKNOWN) for char in text)
    deep = any(char in "gjpqyçßQJ,;()|" for char in text)
    return width * scale, _UP * 1000 * scale, (_DOWN if deep else 0.02) * 1000 * scale


def _music_extent(text: str, scale: float) -> tuple[float, float, float]:
    signs = [_measured()["music"][char] for char in text]
    return (
        sum(sign[0] for sign in signs) * scale,
        max(sign[4] for sign in signs) * scale,
        -min(sign[2] for sign in signs) * scale,
    )


def music_sign(name: str) -> str:
    """The character of a music sign by its SMuFL name, such as ``gClef``."""
    return str(_measured()["names"][name])
