"""Codes of simple fonts: their names, and the text of a name (ISO 32000-1, Annex D)."""

import json
import re
from collections.abc import Mapping
from functools import cache
from importlib import resources

from fontTools import agl
from fontTools.encodings.MacRoman import MacRoman
from fontTools.encodings.StandardEncoding import StandardEncoding

_NO_GLYPH = (".notdef", "")


def _listed(names: list[str]) -> Mapping[int, str]:
    return {code: name for code, name in enumerate(names) if name not in _NO_GLYPH}


STANDARD = _listed(StandardEncoding)
_MAC = _listed(MacRoman)
MAC_CODES = {name: code for code, name in _MAC.items()}


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


_FAMILIES = (
    (re.compile(r"helvetica|arial", re.IGNORECASE), "Helvetica"),
    (re.compile(r"times", re.IGNORECASE), "Times"),
    (re.compile(r"courier", re.IGNORECASE), "Courier"),
    (re.compile(r"symbol", re.IGNORECASE), "Symbol"),
    (re.compile(r"dingbats", re.IGNORECASE), "ZapfDingbats"),
)
_COURIER_WIDTH = 600.0


def core_width(font: str, name: str) -> float | None:
    """The width of a glyph of the standard fonts, in thousandths of an em; None for others.

    Adobe's metrics of the core 14 fonts. A document need not say them (ISO 32000-1, 9.6.2.2).
    """
    family = next((called for pattern, called in _FAMILIES if pattern.search(font)), None)
    if family is None:
        return None
    if family == "Courier":
        return _COURIER_WIDTH
    if family in ("Helvetica", "Times"):
        bold = "Bold" if "bold" in font.lower() else ""
        slanted = re.search(r"italic|oblique", font, re.IGNORECASE) and family == "Times"
        style = bold + ("Italic" if slanted else "") or ("Roman" if family == "Times" else "")
        family = f"{family}-{style}" if style else family
    return _core_widths()[family].get(name)


@cache
def _core_widths() -> Mapping[str, Mapping[str, float]]:
    file = resources.files("handslide") / "data" / "signs" / "core_widths.json"
    found: Mapping[str, Mapping[str, float]] = json.loads(file.read_text(encoding="utf-8"))
    return found
