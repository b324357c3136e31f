"""Codes of simple fonts: their names, and the text of a name (ISO 32000-1, Annex D)."""

import re
from collections.abc import Mapping
from functools import cache

from fontTools import agl
from fontTools.encodings.MacRoman import MacRoman
from fontTools.encodings.StandardEncoding import StandardEncoding

_NO_GLYPH = (".notdef", "")


def _listed(names: list[str]) -> Mapping[int, str]:
    return {code: name for code, name in enumerate(names) if name not in _NO_GLYPH}


STANDARD = _listed(StandardEncoding)
_MAC = _listed(MacRoman)


@cache
def _windows() -> Mapping[int, str]:
    found = {}
    for code in range(32, 256):
        text = bytes([code]).decode("cp1252", "ignore")
        if text and (names := agl.UV2AGL.get(ord(text))):
            found[code] = names
    return found


def base_names(encoding: str) -> Mapping[int, str]:
    """Names by code of a base encoding, such as ``WinAnsiEncoding``; none for others."""
    if encoding == "WinAnsiEncoding":
        return _windows()
    return {"MacRomanEncoding": _MAC, "StandardEncoding": STANDARD}.get(encoding, {})


@cache
def text_of_name(name: str) -> str:
    """The text that a glyph's name stands for, "" where it says nothing of that."""
    if not name or len(name) > 60 or re.fullmatch(r"(g|glyph|cid|index|c|G)\d+", name):
        return ""
    return str(agl.toUnicode(name))
