"""Outlines of the fonts that a PDF brings along, flattened: CFF, TrueType, OpenType, Type 1.

The only user of fontTools. What is broken in a font costs its outlines, not the part.
"""

import io
import logging
import re
from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from typing import Any

from fontTools.cffLib import CFFFontSet
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont

from handslide.edges.pdfparts.drawn import Outline, Point
from handslide.edges.pdfparts.encodings import MAC_CODES, STANDARD, text_of_name
from handslide.edges.pdfparts.typeone import TypeOne
from handslide.ground import limits

logging.getLogger("fontTools").setLevel(logging.CRITICAL)  # it talks about odd dates in fonts

CURVE_POINTS = 8
"""Points that a curve is flattened to: on a head, off by a hundredth of a staff space."""

_STEPS = tuple(
    (step / CURVE_POINTS, 1 - step / CURVE_POINTS) for step in range(1, CURVE_POINTS + 1)
)
_WEIGHTS = tuple((u**3, 3 * u * u * t, 3 * u * t * t, t**3) for t, u in _STEPS)


def flattened(start: Point, one: Point, other: Point, end: Point) -> list[Point]:
    """The points of a cubic curve after its start."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = start, one, other, end
    return [
        (a * ax + b * bx + c * cx + d * dx, a * ay + b * by + c * cy + d * dy)
        for a, b, c, d in _WEIGHTS
    ]


class FlatPen(BasePen):  # type: ignore[misc]
    """Draws a glyph as polygons."""

    def __init__(self, glyphs: Any) -> None:
        super().__init__(glyphs)
        self.polygons: list[list[Point]] = []
        self._points = 0

    def _moveTo(self, pt: Point) -> None:  # noqa: N802
        self.polygons.append([pt])

    def _lineTo(self, pt: Point) -> None:  # noqa: N802
        self._add([pt])

    def _curveToOne(self, pt1: Point, pt2: Point, pt3: Point) -> None:  # noqa: N802
        self._add(flattened(self.polygons[-1][-1], pt1, pt2, pt3))

    def _add(self, points: list[Point]) -> None:
        self._points += len(points)
        if self._points > limits.PDF_OUTLINE_POINTS:
            raise ValueError("an outline without end")
        self.polygons[-1] += points

    def outline(self, em: float) -> Outline:
        """What was drawn, in ems of so many units."""
        return tuple(
            tuple((x / em, y / em) for x, y in polygon)
            for polygon in self.polygons
            if len(polygon) > 2
        )


class Program(ABC):
    """An embedded font: ``glyphs`` by name, ``em`` units to the em.

    ``names`` are what its own encoding calls its codes; ``by_cid`` whether it is keyed by CID.
    """

    names: Mapping[int, str] = {}
    by_cid = False

    def __init__(self, glyphs: Any, em: float) -> None:
        self._glyphs, self._em = glyphs, em

    @abstractmethod
    def of_code(self, code: int, name: str) -> Outline | None:
        """The outline of a simple font's code, which the document may call ``name``."""

    @abstractmethod
    def of_cid(self, cid: int) -> Outline | None:
        """The outline of a composite font's glyph."""

    def _drawn(self, name: str) -> Outline:
        pen = FlatPen(self._glyphs)
        self._glyphs[name].draw(pen)
        return pen.outline(self._em)


class _Named(Program):
    """CFF and Type 1: glyphs by name."""

    def __init__(
        self, glyphs: Any, em: float, names: Mapping[int, str], order: Sequence[str]
    ) -> None:
        super().__init__(glyphs, em)
        self.names, self._order = names, order
        self._cids = {int(name[3:]): name for name in order if re.fullmatch(r"cid\d+", name)}
        self.by_cid = bool(self._cids)

    def of_code(self, code: int, name: str) -> Outline | None:
        for called in (name, self.names.get(code, "")):
            if called in self._glyphs:
                return self._drawn(called)
        return None

    def of_cid(self, cid: int) -> Outline | None:
        called = self._cids.get(cid)
        if called is None and not self.by_cid and cid < len(self._order):
            called = self._order[cid]
        return self._drawn(called) if called is not None and called in self._glyphs else None


class _Tables(Program):
    """TrueType and OpenType: glyphs by number."""

    def __init__(self, font: TTFont) -> None:
        super().__init__(font.getGlyphSet(), float(font["head"].unitsPerEm))
        self._order = font.getGlyphOrder()
        self._places = {name: place for place, name in enumerate(self._order)}
        tables = font["cmap"].tables if "cmap" in font else []
        self._maps = {
            sort: [table.cmap for table in tables if sort == _sort_of(table)]
            for sort in ("text", "symbol", "mac")
        }

    def of_code(self, code: int, name: str) -> Outline | None:
        # ISO 32000-1, 9.6.6.4, and after that whatever finds something.
        text = text_of_name(name)
        wanted = [("text", ord(text))] if len(text) == 1 else []
        wanted += [("symbol", code), ("symbol", 0xF000 + code), ("symbol", 0xF100 + code)]
        wanted += [("mac", MAC_CODES.get(name, code)), ("mac", code), ("text", code)]
        for sort, key in wanted:
            for cmap in self._maps[sort]:
                if key in cmap:
                    return self._drawn(cmap[key])
        if name in self._places:
            return self._drawn(name)
        return None if any(self._maps.values()) else self.of_cid(code)

    def of_cid(self, cid: int) -> Outline | None:
        return self._drawn(self._order[cid]) if 0 <= cid < len(self._order) else None


def _sort_of(table: Any) -> str:
    """What a character map's codes are: of text, of a symbol font, or of old Macs."""
    if table.platformID == 3:
        return "symbol" if table.platEncID == 0 else "text"
    return "mac" if table.platformID == 1 else "text"


def program_of(descriptor: Any, unpack: Any) -> Program | None:
    """The font that a descriptor brings along, None where there is none or it is broken.

    ``unpack`` gives the bytes of a stream.
    """
    try:
        if "/FontFile3" in descriptor:
            data = unpack(descriptor.FontFile3)
            if data[:4] in (b"OTTO", b"\x00\x01\x00\x00", b"true"):
                return _tables(data)
            return _cff(data)
        if "/FontFile2" in descriptor:
            return _tables(unpack(descriptor.FontFile2))
        if "/FontFile" in descriptor:
            font = TypeOne(unpack(descriptor.FontFile))
            return _Named(font.glyphs, font.em, font.encoding, tuple(font.glyphs))
    except _BROKEN:
        return None
    return None


# What fontTools raises on a broken font isn't listed anywhere; whatever it is, the font is left
# out.
_BROKEN = Exception


def _cff(data: bytes) -> Program:
    fonts = CFFFontSet()
    fonts.decompile(io.BytesIO(data), None)
    top = fonts[0]
    encoding = getattr(top, "Encoding", None)
    names: dict[int, str] = {}
    if isinstance(encoding, list):
        names = {code: name for code, name in enumerate(encoding) if name != ".notdef"}
    elif encoding == "StandardEncoding":
        names = dict(STANDARD)
    matrix = getattr(top, "FontMatrix", None) or [0.001]
    return _Named(top.CharStrings, 1 / (matrix[0] or 0.001), names, tuple(top.charset or ()))


def _tables(data: bytes) -> Program:
    return _Tables(TTFont(io.BytesIO(data), lazy=True))
