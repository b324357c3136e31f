"""Fonts of a PDF: which codes a string has, how wide they are, what they are called, how they look.

ISO 32000-1, 9.6 to 9.10.
"""

import math
from collections.abc import Callable
from typing import Any

import pikepdf

from handslide.edges.pdfparts import cmaps
from handslide.edges.pdfparts.drawn import Matrix, Outline
from handslide.edges.pdfparts.encodings import STANDARD, base_names, core_width, text_of_name
from handslide.edges.pdfparts.outlines import Program, program_of
from handslide.ground import limits

CharProc = Callable[[Any, Any], Outline]
"""Draws a stream of a Type 3 font with its resources, in the font's own units."""


def number(value: Any, otherwise: float = 0.0) -> float:
    """A number of a PDF object; ``otherwise`` where it isn't one, or no finite one."""
    try:
        found = float(value)
    except (TypeError, ValueError, ArithmeticError, pikepdf.PdfError):
        return otherwise
    return found if math.isfinite(found) and abs(found) < 1e9 else otherwise


def numbers(values: Any, count: int, otherwise: tuple[float, ...]) -> tuple[float, ...]:
    """So many numbers of an array, or ``otherwise``."""
    if not isinstance(values, pikepdf.Array) or len(values) < count:
        return otherwise
    return tuple(number(values[place]) for place in range(count))


class Font:
    """A font. ``name`` names it within the file."""

    def __init__(
        self, spec: Any, place: int, unpack: Callable[[Any], bytes], char_proc: CharProc
    ) -> None:
        self._spec, self._unpack, self._char_proc = spec, unpack, char_proc
        base = str(spec.get("/BaseFont", spec.get("/Name", "")))[1:]
        self.name = f"{place}:{base[:120]}"
        self._kind = str(spec.get("/Subtype", ""))[1:]
        self.composite = self._kind == "Type0"
        self.vertical = False
        self._known: dict[int, tuple[float, str, str, bool]] = {}
        self._program: Program | None = None
        self._sought = False
        self._sizes: dict[int, int] = {}
        self._texts = self._own_texts()
        self._widths: dict[int, float] = {}
        self._matrix: Matrix = (0.001, 0.0, 0.0, 0.001, 0.0, 0.0)
        self._to_gid = b""
        self._names: dict[int, str] = {}
        if self.composite:
            self._set_composite()
        else:
            self._set_simple()

    def _own_texts(self) -> cmaps.CharacterMap:
        said = self._spec.get("/ToUnicode")
        if isinstance(said, pikepdf.Stream):
            return cmaps.read_map(self._unpack(said))
        return cmaps.CharacterMap()

    def _set_simple(self) -> None:
        spec = self._spec
        self._descriptor = spec.get("/FontDescriptor", None)
        if self._kind == "Type3":
            self._matrix = _matrix(spec.get("/FontMatrix"), self._matrix)
        first = int(number(spec.get("/FirstChar")))
        widths = spec.get("/Widths")
        if isinstance(widths, pikepdf.Array):
            for place in range(min(len(widths), 256)):
                self._widths[first + place] = number(widths[place])
        missing = self._descriptor.get("/MissingWidth", 0) if self._described else 0
        self._usual_width = number(missing)
        self._names = self._encoding()

    @property
    def _described(self) -> bool:
        return isinstance(self._descriptor, pikepdf.Dictionary)

    def _encoding(self) -> dict[int, str]:
        said = self._spec.get("/Encoding")
        if isinstance(said, pikepdf.Name):
            return dict(base_names(str(said)[1:]))
        found: dict[int, str] = {}
        if isinstance(said, pikepdf.Dictionary):
            base = str(said.get("/BaseEncoding", ""))[1:]
            found = dict(base_names(base))
            differences = said.get("/Differences")
            code = 0
            for item in differences if isinstance(differences, pikepdf.Array) else ():
                if isinstance(item, pikepdf.Name):
                    found[code] = str(item)[1:]
                    code += 1
                else:
                    code = int(number(item))
        return found

    def _set_composite(self) -> None:
        below = self._spec.get("/DescendantFonts")
        inner = below[0] if isinstance(below, pikepdf.Array) and len(below) else None
        inner = inner if isinstance(inner, pikepdf.Dictionary) else pikepdf.Dictionary()
        self._descriptor = inner.get("/FontDescriptor", None)
        self._usual_width = number(inner.get("/DW"), 1000.0)
        self._set_cid_widths(inner.get("/W"))
        to_gid = inner.get("/CIDToGIDMap")
        if isinstance(to_gid, pikepdf.Stream):
            self._to_gid = self._unpack(to_gid)
        said = self._spec.get("/Encoding")
        if isinstance(said, pikepdf.Stream):
            self._map = cmaps.read_map(self._unpack(said))
            parent = said.get("/UseCMap")
            if isinstance(parent, pikepdf.Name) and not self._map.spaces:
                self._map.identity = str(parent).startswith("/Identity")
        else:
            self._map = cmaps.predefined(str(said)[1:] if said is not None else "Identity-H")
        self.vertical = self._map.vertical

    def _set_cid_widths(self, said: Any) -> None:
        items: list[Any] = list(said) if isinstance(said, pikepdf.Array) else []
        at = 0
        while at + 1 < len(items) and len(self._widths) < limits.PDF_CODES:
            first, following = int(number(items[at])), items[at + 1]
            if isinstance(following, pikepdf.Array):
                for place, item in enumerate(following):
                    self._widths[first + place] = number(item)
                at += 2
            else:
                last = min(int(number(following)), first + limits.PDF_CODES)
                width = number(items[at + 2]) if at + 2 < len(items) else 0.0
                self._widths.update(dict.fromkeys(range(first, last + 1), width))
                at += 3

    def codes(self, data: bytes) -> list[int]:
        """The codes of a string."""
        if not self.composite:
            return list(data)
        found = self._map.codes(data)
        self._sizes.update(found)
        return [code for code, _ in found]

    def is_space(self, code: int) -> bool:
        """Whether word spacing is added after it: a code of one byte that is 32."""
        return code == 32 and (not self.composite or self._sizes.get(code) == 1)

    def width(self, code: int) -> float:
        """How far it advances, in ems (of a Type 3 font: in text space)."""
        if self.composite:
            cid = self._map.cid(code)
            return self._widths.get(-1 if cid is None else cid, self._usual_width) / 1000
        width = self._widths.get(code)
        if width is None and not self._widths and self._kind != "Type3":
            name = self.glyph_name(code) or STANDARD.get(code, "")
            width = core_width(self.name.partition(":")[2], name)
        width = self._usual_width if width is None else width
        return width * self._matrix[0] if self._kind == "Type3" else width / 1000

    def known(self, code: int) -> tuple[float, str, str, bool]:
        """Width, name and text of a code, and whether it is a space; looked up once."""
        found = self._known.get(code)
        if found is None:
            width = -1.0 if self.vertical else self.width(code)
            found = (width, self.glyph_name(code), self.text(code), self.is_space(code))
            self._known[code] = found
        return found

    def glyph_name(self, code: int) -> str:
        """What the encoding calls it, "" where it doesn't."""
        if self.composite:
            return ""
        found = self._names.get(code, "")
        if not found and (program := self.program()) is not None:
            found = program.names.get(code, "")
        return found

    def text(self, code: int) -> str:
        """The text that it stands for, "" where nobody knows."""
        if code in self._texts.texts:
            return self._texts.texts[code]
        if self.composite:
            return self._map.text(code, self._sizes.get(code, 2))
        name = self.glyph_name(code)
        if not name and not self._embedded:
            name = STANDARD.get(code, "")
        return text_of_name(name)

    @property
    def _embedded(self) -> bool:
        keys = ("/FontFile", "/FontFile2", "/FontFile3")
        return self._described and any(key in self._descriptor for key in keys)

    def program(self) -> Program | None:
        """The font that the file brings along."""
        if not self._sought:
            self._sought = True
            if self._embedded:
                self._program = program_of(self._descriptor, self._unpack)
        return self._program

    def outline(self, code: int) -> Outline | None:
        """How it looks, in ems; None where the file doesn't say."""
        if self._kind == "Type3":
            procs = self._spec.get("/CharProcs")
            name = self.glyph_name(code)
            stream = (
                procs.get(f"/{name}") if name and isinstance(procs, pikepdf.Dictionary) else None
            )
            if not isinstance(stream, pikepdf.Stream):
                return None
            a, b, c, d, e, f = self._matrix
            drawn = self._char_proc(stream, self._spec.get("/Resources"))
            return tuple(
                tuple((a * x + c * y + e, b * x + d * y + f) for x, y in polygon)
                for polygon in drawn
            )
        program = self.program()
        if program is None:
            return None
        try:
            if not self.composite:
                return program.of_code(code, self.glyph_name(code))
            cid = self._map.cid(code)
            if cid is None:
                return None
            if self._to_gid:
                cid = int.from_bytes(self._to_gid[2 * cid : 2 * cid + 2])
            return program.of_cid(cid)
        except Exception:  # a broken glyph: what fontTools raises isn't listed anywhere
            return None


def _matrix(said: Any, otherwise: Matrix) -> Matrix:
    a, b, c, d, e, f = numbers(said, 6, otherwise)
    return (a, b, c, d, e, f)
