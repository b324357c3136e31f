"""Runs the operators of a page: what it draws, where, and what of it can be seen.

ISO 32000-1, 8.4 (graphics state), 8.5 (paths), 8.10 (forms), 9.3 and 9.4 (text), 14.6 (marked
content). Colours count only in so far as white things on white paper aren't seen; of a clip its
box.
"""

import math
from collections.abc import Callable, Mapping
from inspect import CO_VARARGS
from typing import Any

import pikepdf

from handslide.edges.pdfparts.canvas import Canvas, Counts, State
from handslide.edges.pdfparts.colours import is_white, whiteness_of
from handslide.edges.pdfparts.cutting import cut_area, cut_line
from handslide.edges.pdfparts.drawn import Glyph, Matrix, Outline, Path, Point
from handslide.edges.pdfparts.fonts import Font, number, numbers
from handslide.edges.pdfparts.geometry import (
    IDENTITY,
    Box,
    apart,
    box_of,
    common,
    scale_of,
    through,
    times,
)
from handslide.edges.pdfparts.masks import areas_of, spelled_out
from handslide.edges.pdfparts.operators import Name, operations
from handslide.edges.pdfparts.optional import Layers
from handslide.edges.pdfparts.outlines import flattened
from handslide.edges.pdfparts.unpack import Unpacker
from handslide.ground import limits
from handslide.ground.errors import ScoreError

EVERYWHERE: Box = (-1e6, -1e6, 1e6, 1e6)
_UNSEEN_TEXT = (3, 7)
_SMALL_STENCIL = 10_000
"""Fields of a stencil that may be a line or a sign; a larger one is a scan."""
_STEPPED_OVER = (LookupError, TypeError, ValueError, ArithmeticError, pikepdf.PdfError)


class Shared:
    """What the pages of a file share: fonts, unpacked streams, layers, and the counts of all."""

    def __init__(self, layers: Layers) -> None:
        self.unpacker, self.layers = Unpacker(), layers
        self.outlines: dict[tuple[str, int], Outline] = {}
        self.counts = Counts()
        self._fonts: dict[Any, Font] = {}
        self._streams: dict[Any, bytes] = {}
        self._in_char = False

    def font(self, spec: Any) -> Font:
        """The font of a dictionary."""
        key = spec.objgen if spec.is_indirect else spec.unparse()
        if key not in self._fonts:
            if len(self._fonts) >= limits.PDF_FONTS:
                raise ScoreError("pdfparts.many_fonts", most=limits.PDF_FONTS)
            self._fonts[key] = Font(spec, len(self._fonts), self.unpacker.bytes_of, self._char)
        return self._fonts[key]

    def stream(self, stream: Any) -> bytes:
        """What a stream holds, unpacked once."""
        if not stream.is_indirect:
            return self.unpacker.bytes_of(stream)
        if stream.objgen not in self._streams:
            self._streams[stream.objgen] = self.unpacker.bytes_of(stream)
        return self._streams[stream.objgen]

    def _char(self, stream: Any, resources: Any) -> Outline:
        """The outline of a glyph of a Type 3 font, in the font's own units; none within another."""
        if self._in_char:
            return ()
        self._in_char = True
        canvas, start = Canvas(self.counts), State(IDENTITY, EVERYWHERE)
        try:
            run(canvas, self, self.stream(stream), resources, start, limits.PDF_DEPTH - 2)
        finally:
            self._in_char = False
        return tuple(polygon for path in canvas.paths if path.filled for polygon in path.polygons)


def run(
    canvas: Canvas, shared: Shared, data: bytes, resources: Any, state: State, depth: int = 0
) -> None:
    """Draw a stream with its resources, beginning in ``state``."""
    _Run(canvas, shared, resources, state, depth).all_of(data)


class _Run:
    """One stream: its state, path and text as they stand."""

    def __init__(
        self, canvas: Canvas, shared: Shared, resources: Any, state: State, depth: int
    ) -> None:
        self._canvas, self._shared, self._depth = canvas, shared, depth
        self._resources: Any = resources if isinstance(resources, pikepdf.Dictionary) else {}
        self._state, self._stack = state, list[State]()
        self._polygons: list[list[Point]] = []
        self._curved = self._closed = self._clipping = False
        self._text = self._line = IDENTITY
        self._hidden: list[bool] = []

    def all_of(self, data: bytes) -> None:
        """Every operator of a stream; those that can't be understood are stepped over."""
        counted, table = self._canvas.counted, _COUNTED_OPERATORS
        for operator, operands in operations(data):
            counted()
            act, count = table.get(operator, (None, 0))
            if act is not None:
                try:
                    act(self, *operands[max(0, len(operands) - count) :])
                except ScoreError:  # which is a ValueError, too
                    raise
                except _STEPPED_OVER:
                    continue

    def _named(self, kind: str, name: Any) -> Any:
        found = self._resources.get(f"/{kind}")
        return found.get(f"/{name}") if isinstance(found, pikepdf.Dictionary) else None

    # The graphics state.

    def save(self, *_: Any) -> None:
        if len(self._stack) < limits.PDF_STATES:
            self._stack.append(self._state.copy())

    def restore(self, *_: Any) -> None:
        if self._stack:
            self._state = self._stack.pop()

    def concat(self, a: float, b: float, c: float, d: float, e: float, f: float) -> None:
        self._state.ctm = times((a, b, c, d, e, f), self._state.ctm)

    def line_width(self, width: float) -> None:
        self._state.width = float(width)

    def dash(self, lengths: list[float], _phase: float = 0) -> None:
        self._state.dashed = any(length > 0 for length in lengths)

    def general(self, name: str) -> None:
        found = self._named("ExtGState", name)
        if isinstance(found, pikepdf.Dictionary):
            state = self._state
            if "/LW" in found:
                state.width = number(found.LW, 1.0)
            if "/ca" in found:
                state.fill_clear = number(found.ca, 1.0) < 0.02
            if "/CA" in found:
                state.stroke_clear = number(found.CA, 1.0) < 0.02
            font = found.get("/Font")
            if isinstance(font, pikepdf.Array) and len(font) == 2:
                state.font, state.size = self._shared.font(font[0]), number(font[1])

    # Colours.

    def fill_space(self, name: str) -> None:
        self._state.fill_space = whiteness_of(name, self._named("ColorSpace", name))
        self._state.fill_white = False

    def stroke_space(self, name: str) -> None:
        self._state.stroke_space = whiteness_of(name, self._named("ColorSpace", name))
        self._state.stroke_white = False

    def fill_colour(self, *parts: Any) -> None:
        self._state.fill_white = is_white(self._state.fill_space, parts)

    def stroke_colour(self, *parts: Any) -> None:
        self._state.stroke_white = is_white(self._state.stroke_space, parts)

    def fill_light(self, *parts: Any) -> None:
        self._state.fill_space = "additive"
        self.fill_colour(*parts)

    def stroke_light(self, *parts: Any) -> None:
        self._state.stroke_space = "additive"
        self.stroke_colour(*parts)

    def fill_ink(self, *parts: Any) -> None:
        self._state.fill_space = "inks"
        self.fill_colour(*parts)

    def stroke_ink(self, *parts: Any) -> None:
        self._state.stroke_space = "inks"
        self.stroke_colour(*parts)

    # Paths.

    def move(self, x: float, y: float) -> None:
        self._polygons.append([(x, y)])

    def line(self, x: float, y: float) -> None:
        self._polygons[-1].append((x, y))

    def curve(self, a: float, b: float, c: float, d: float, e: float, f: float) -> None:
        polygon = self._polygons[-1]
        polygon += flattened(polygon[-1], (a, b), (c, d), (e, f))
        self._curved = True

    def curve_from(self, c: float, d: float, e: float, f: float) -> None:
        x, y = self._polygons[-1][-1]
        self.curve(x, y, c, d, e, f)

    def curve_to(self, a: float, b: float, e: float, f: float) -> None:
        self.curve(a, b, e, f, e, f)

    def rectangle(self, x: float, y: float, w: float, h: float) -> None:
        self._polygons.append([(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)])
        self._closed = True

    def close(self, *_: Any) -> None:
        if self._polygons and len(self._polygons[-1]) > 1:
            polygon = self._polygons[-1]
            if polygon[0] != polygon[-1]:
                polygon.append(polygon[0])
            self._closed = True

    def clip(self, *_: Any) -> None:
        self._clipping = True

    def paint(self, stroke: bool, fill: bool, even_odd: bool = False) -> None:
        """Draw the path as it stands, and take it as a clip where that was asked."""
        state, polygons = self._state, self._polygons
        drawn = [polygon for polygon in polygons if len(polygon) > 1]
        a, b, c, d, e, f = state.ctm
        seen = [[(a * x + c * y + e, b * x + d * y + f) for x, y in polygon] for polygon in drawn]
        curved, closed = self._curved, self._closed
        self._polygons, self._curved, self._closed = [], False, False
        fill = fill and not state.fill_white and not state.fill_clear
        stroke = stroke and not state.stroke_white and not state.stroke_clear
        if seen and (stroke or fill) and not any(self._hidden):
            self._add(seen, stroke, fill, curved, closed, even_odd)
        if self._clipping:
            self._clipping = False
            if seen:
                box = box_of([point for polygon in seen for point in polygon])
                state.clip = common(state.clip, box)
            else:
                state.clip = (0.0, 0.0, 0.0, 0.0)

    def _add(
        self, seen: list[list[Point]], stroke: bool, fill: bool, curved: bool, closed: bool,
        even_odd: bool,
    ) -> None:  # fmt: skip
        state = self._state
        width = state.width * scale_of(state.ctm) if stroke else 0.0
        x0, y0, x1, y1 = box_of([point for polygon in seen for point in polygon])
        grown = (x0 - width / 2, y0 - width / 2, x1 + width / 2, y1 + width / 2)
        clip = state.clip
        if not _sane(grown) or apart(grown, clip):
            return
        inside = clip[0] <= x0 and x1 <= clip[2] and clip[1] <= y0 and y1 <= clip[3]
        if not inside and not curved:
            if fill and not stroke:
                seen = [cut for polygon in seen if len(cut := cut_area(polygon, clip)) > 2]
            elif stroke and not fill:
                seen = [cut for polygon in seen for cut in cut_line(polygon, clip)]
        if seen:
            self._canvas.add_path(
                Path(
                    polygons=tuple(map(tuple, seen)), stroked=stroke, filled=fill, width=width,
                    curved=curved, closed=closed, even_odd=even_odd, dashed=stroke and state.dashed,
                )
            )  # fmt: skip

    def close_and_paint(self, fill: bool, even_odd: bool = False) -> None:
        self.close()
        self.paint(True, fill, even_odd)

    # Text.

    def begin_text(self, *_: Any) -> None:
        self._text = self._line = IDENTITY

    def font(self, name: str, size: float) -> None:
        spec = self._named("Font", name)
        found = self._shared.font(spec) if isinstance(spec, pikepdf.Dictionary) else None
        self._state.font, self._state.size = found, float(size)

    def text_matrix(self, a: float, b: float, c: float, d: float, e: float, f: float) -> None:
        self._text = self._line = (a, b, c, d, e, f)

    def next_line(self, x: float, y: float) -> None:
        self._text = self._line = times((1, 0, 0, 1, x, y), self._line)

    def next_line_leading(self, x: float, y: float) -> None:
        self._state.leading = -y
        self.next_line(x, y)

    def new_line(self, *_: Any) -> None:
        self.next_line(0, -self._state.leading)

    def char_spacing(self, value: float) -> None:
        self._state.spacing = float(value)

    def word_spacing(self, value: float) -> None:
        self._state.word_spacing = float(value)

    def stretch(self, percent: float) -> None:
        self._state.stretch = percent / 100

    def leading(self, value: float) -> None:
        self._state.leading = float(value)

    def rise(self, value: float) -> None:
        self._state.rise = float(value)

    def render(self, mode: int) -> None:
        self._state.render = int(mode)

    def show(self, text: bytes) -> None:
        self.show_all([text])

    def show_line(self, text: bytes) -> None:
        self.new_line()
        self.show(text)

    def show_spaced(self, word: float, char: float, text: bytes) -> None:
        self._state.word_spacing, self._state.spacing = float(word), float(char)
        self.show_line(text)

    def show_all(self, items: list[Any]) -> None:
        """Strings, and between them how far to go back, in thousandths."""
        state, font = self._state, self._state.font
        if font is None:
            return
        size, stretch = state.size, state.stretch
        space = times(self._text, state.ctm)
        matrix = times((size * stretch, 0.0, 0.0, size, 0.0, state.rise), space)
        along, went = (1 if font.vertical else 0), 0.0
        step = space[2:4] if along else space[:2]
        unseen = state.render in _UNSEEN_TEXT or any(self._hidden) or self._is_clear()
        scale = size if along else size * stretch
        for item in items:
            if not isinstance(item, bytes):
                went -= item / 1000 * scale
                continue
            codes = font.codes(item)
            self._canvas.shown(len(codes))
            for code in codes:
                ems, name, text, is_space = font.known(code)
                gap = state.spacing + (state.word_spacing if is_space else 0.0)
                far = ems * scale + gap * (1.0 if along else stretch)
                if not unseen:
                    at = (matrix[4] + went * step[0], matrix[5] + went * step[1])
                    self._add_glyph(font, code, matrix, at, name, text, far * math.hypot(*step))
                went += far
        self._text = times((1, 0, 0, 1, *((0, went) if along else (went, 0))), self._text)

    def _is_clear(self) -> bool:
        state = self._state
        if state.render in (1, 5):
            return state.stroke_white or state.stroke_clear
        return state.fill_white or state.fill_clear

    def _add_glyph(
        self, font: Font, code: int, matrix: Matrix, at: Point, name: str, text: str, advance: float
    ) -> None:
        em = scale_of(matrix)
        x, y = at
        room = 1.5 * em
        box = (x - room, y - room, x + room + max(0.0, advance), y + room)
        if em <= 0 or not _sane(box) or apart(box, self._state.clip):
            return
        key = (font.name, code)
        if key not in self._shared.outlines:
            self._shared.outlines[key] = font.outline(code) or ()
        self._canvas.glyphs.append(
            Glyph(
                x=x, y=y, em=em, matrix=(*matrix[:4], x, y), font=font.name, code=code, name=name,
                text=text, advance=advance,
            )
        )  # fmt: skip

    # What is drawn elsewhere, and what may be hidden.

    def draw_object(self, name: str) -> None:
        found = self._named("XObject", name)
        if not isinstance(found, pikepdf.Stream) or any(self._hidden):
            return
        if self._shared.layers.is_off(found.get("/OC")):
            return
        kind = str(found.get("/Subtype", ""))
        if kind == "/Image":
            self.picture(found)
        elif kind == "/Form" and self._depth < limits.PDF_DEPTH and self._canvas.enter(found):
            try:
                self._draw_form(found)
            finally:
                self._canvas.leave(found)

    def _draw_form(self, form: Any) -> None:
        state = self._state.copy()
        a, b, c, d, e, f = numbers(form.get("/Matrix"), 6, IDENTITY)
        state.ctm = times((a, b, c, d, e, f), state.ctm)
        x0, y0, x1, y1 = numbers(form.get("/BBox"), 4, EVERYWHERE)
        corners = [through(state.ctm, x, y) for x in (x0, x1) for y in (y0, y1)]
        state.clip = common(state.clip, box_of(corners))
        resources = form.get("/Resources", self._resources)
        data = self._shared.stream(form)
        run(self._canvas, self._shared, data, resources, state, self._depth + 1)

    def inline_picture(self, said: dict[str, Any], data: bytes) -> None:
        said = spelled_out(said)
        bits = data if said.get("ImageMask") is True and not said.get("Filter") else b""
        self._add_picture(said, bits)

    def picture(self, image: Any) -> None:
        """A picture, or an area that is drawn as a stencil."""
        said = {key: image.get(f"/{key}") for key in ("Width", "Height", "Decode")}
        decode = said["Decode"]
        said["Decode"] = list(decode) if isinstance(decode, pikepdf.Array) else []
        small = number(said["Width"]) * number(said["Height"]) <= _SMALL_STENCIL
        is_stencil = small and bool(image.get("/ImageMask", False))
        self._add_picture(said, self._shared.stream(image) if is_stencil else b"")

    def _add_picture(self, said: dict[str, Any], bits: bytes) -> None:
        if any(self._hidden):
            return
        ctm = self._state.ctm
        ink = 1 if list(said.get("Decode") or [])[:1] == [1] else 0
        areas = areas_of(int(said["Width"]), int(said["Height"]), bits, ink) if bits else None
        if areas is not None:
            polygons = [[through(ctm, x, y) for x, y in area] for area in areas]
            if polygons and not self._state.fill_white and not self._state.fill_clear:
                self._add(polygons, False, True, False, True, False)
            return
        box = box_of([through(ctm, x, y) for x in (0, 1) for y in (0, 1)])
        seen = _sane(box) and not apart(box, self._state.clip)
        if seen:
            self._canvas.add_picture(common(box, self._state.clip))

    def mark(self, *operands: Any) -> None:
        off = False
        if len(operands) == 2 and operands[0] == "OC" and isinstance(operands[1], Name):
            off = self._shared.layers.is_off(self._named("Properties", operands[1]))
        if len(self._hidden) < limits.PDF_STATES:
            self._hidden.append(off)

    def end_mark(self, *_: Any) -> None:
        if self._hidden:
            self._hidden.pop()


def _sane(box: Box) -> bool:
    # Not a number is false in every comparison.
    return -1e6 < box[0] <= box[2] < 1e6 and -1e6 < box[1] <= box[3] < 1e6


def _operands_of(act: Callable[..., None]) -> int:
    """How many operands an operator takes at most."""
    code = act.__code__
    return limits.PDF_ARRAY if code.co_flags & CO_VARARGS else code.co_argcount - 1


_OPERATORS: Mapping[bytes, Any] = {
    b"q": _Run.save, b"Q": _Run.restore, b"cm": _Run.concat, b"w": _Run.line_width,
    b"d": _Run.dash, b"gs": _Run.general,
    b"cs": _Run.fill_space, b"CS": _Run.stroke_space,
    b"sc": _Run.fill_colour, b"scn": _Run.fill_colour,
    b"SC": _Run.stroke_colour, b"SCN": _Run.stroke_colour,
    b"g": _Run.fill_light, b"rg": _Run.fill_light, b"k": _Run.fill_ink,
    b"G": _Run.stroke_light, b"RG": _Run.stroke_light, b"K": _Run.stroke_ink,
    b"m": _Run.move, b"l": _Run.line, b"c": _Run.curve, b"v": _Run.curve_from, b"y": _Run.curve_to,
    b"re": _Run.rectangle, b"h": _Run.close, b"W": _Run.clip, b"W*": _Run.clip,
    b"S": lambda run: run.paint(True, False), b"s": lambda run: run.close_and_paint(False),
    b"f": lambda run: run.paint(False, True), b"F": lambda run: run.paint(False, True),
    b"f*": lambda run: run.paint(False, True, True),
    b"B": lambda run: run.paint(True, True), b"B*": lambda run: run.paint(True, True, True),
    b"b": lambda run: run.close_and_paint(True),
    b"b*": lambda run: run.close_and_paint(True, True),
    b"n": lambda run: run.paint(False, False),
    b"BT": _Run.begin_text, b"Tf": _Run.font, b"Tm": _Run.text_matrix, b"Td": _Run.next_line,
    b"TD": _Run.next_line_leading, b"T*": _Run.new_line, b"Tc": _Run.char_spacing,
    b"Tw": _Run.word_spacing, b"Tz": _Run.stretch, b"TL": _Run.leading, b"Ts": _Run.rise,
    b"Tr": _Run.render, b"Tj": _Run.show, b"TJ": _Run.show_all, b"'": _Run.show_line,
    b'"': _Run.show_spaced,
    b"Do": _Run.draw_object, b"BI": _Run.inline_picture,
    b"BMC": _Run.mark, b"BDC": _Run.mark, b"EMC": _Run.end_mark,
}  # fmt: skip

# Each with how many operands it takes; where there are more the last ones count.
_COUNTED_OPERATORS = {name: (act, _operands_of(act)) for name, act in _OPERATORS.items()}
