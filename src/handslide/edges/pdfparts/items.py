"""The signs of a page: which glyphs and shapes mean what, where they stand, how sure that is."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from handslide.edges.pdfparts.drawn import Drawing, Glyph, Outline, PageDrawing, Point
from handslide.edges.pdfparts.forms import Arc, Forms, Shape, arc_of, box_of
from handslide.edges.pdfparts.signs import Sign, Signs, music_fonts

_SMALL = 0.84
_ASKED = (0.7, 9.0)
"""Heights, in spaces, of unknown shapes that may change what the notes mean."""
_ASKED_FAMILIES = {"clef", "head", "acc", "rest", "flag", "dot", "digit", "meter"}
_HOOK = (1.8, 0.9, 4.5)
"""Spaces that a flag drawn as a curve is wide at most, and tall."""
_SLENDER = 0.22
"""Share of its box that a slur fills at most."""


@dataclass(frozen=True, slots=True)
class Item:
    """A sign on the page. ``x``, ``y`` are its origin; ``size`` is 1 at the staff's own size."""

    kind: str
    x: float
    y: float
    x0: float
    y0: float
    x1: float
    y1: float
    size: float
    sure: bool
    mark: str
    named: bool = False
    """Its font or a person says what it is."""

    @property
    def small(self) -> bool:
        """Of grace, cue or changing size."""
        return self.size < _SMALL

    @property
    def family(self) -> str:
        """The kind's first word."""
        return self.kind.partition(".")[0]


@dataclass(frozen=True, slots=True)
class Unknown:
    """A shape of a sign's size that nobody knows. ``outline`` is in spaces."""

    mark: str
    guess: str
    x0: float
    y0: float
    x1: float
    y1: float
    outline: Outline


@dataclass(slots=True)
class PageSigns:
    """The signs of a page, what nobody knows, letters, and bows."""

    items: list[Item] = field(default_factory=list)
    unknown: list[Unknown] = field(default_factory=list)
    asked: list[Unknown] = field(default_factory=list)
    """What nobody knows, and what is unsure."""
    letters: list[Glyph] = field(default_factory=list)
    arcs: list[Arc] = field(default_factory=list)
    hooks: list[Shape] = field(default_factory=list)


def signs_of(
    drawing: Drawing, page: PageDrawing, forms: Forms, table: Signs, space: float
) -> PageSigns:
    """Sort the glyphs and shapes of a page by what they mean."""
    signs = PageSigns()
    seen = [(glyph, _sign_of(drawing, glyph, table, space)) for glyph in page.glyphs]
    music = music_fonts(seen)
    for glyph, sign in seen:
        if _is_letter(glyph) and (sign is None or (sign.distance and glyph.font not in music)):
            signs.letters.append(glyph)
        elif sign is not None and sign.known:
            if sign.kind != "other":
                _add_glyph(signs, drawing, glyph, sign, space)
        elif sign is None or sign.kind != "other":
            _add_unknown(signs, _placed(drawing, glyph), sign, space)
    for shape in forms.shapes:
        if _sort_shape(signs, shape, table, space) and shape.of_bars:
            _take_bars(forms, shape)
    signs.arcs += [arc for arc in forms.arcs if arc.right[0] - arc.left[0] > space]
    signs.arcs = _once(signs.arcs, space)
    return signs


def _once(arcs: Sequence[Arc], space: float) -> list[Arc]:
    """A bow that is filled and stroked is one."""
    found: list[Arc] = []
    for arc in sorted(arcs, key=lambda arc: arc.left):
        same = (
            other for other in found[-6:]
            if math.dist(arc.left, other.left) < 0.2 * space
            and math.dist(arc.right, other.right) < 0.2 * space
        )  # fmt: skip
        if next(same, None) is None:
            found.append(arc)
    return found


def _sign_of(drawing: Drawing, glyph: Glyph, table: Signs, space: float) -> Sign | None:
    outline = drawing.outlines.get((glyph.font, glyph.code))
    return table.of_glyph(glyph, outline, space)


def _is_letter(glyph: Glyph) -> bool:
    """Whether its code point is neither a musical sign's nor of private use."""
    if not glyph.text:
        return False
    point = ord(glyph.text[0])
    return not (0x2669 <= point <= 0x266F or 0xE000 <= point <= 0xF8FF or point >= 0x1D100)


def _placed(drawing: Drawing, glyph: Glyph) -> Outline:
    outline = drawing.outlines.get((glyph.font, glyph.code)) or ()
    a, b, c, d = glyph.matrix[:4]
    return tuple(
        tuple((a * x + c * y + glyph.x, b * x + d * y + glyph.y) for x, y in polygon)
        for polygon in outline
    )


def _add_glyph(signs: PageSigns, drawing: Drawing, glyph: Glyph, sign: Sign, space: float) -> None:
    placed = _placed(drawing, glyph)
    points = [point for polygon in placed for point in polygon]
    box = box_of(points) if points else (glyph.x, glyph.y, glyph.x + glyph.advance, glyph.y)
    _add_item(signs, placed, sign, (glyph.x, glyph.y), box, space)


def _add_item(
    signs: PageSigns, placed: Outline, sign: Sign, at: Point,
    box: tuple[float, float, float, float], space: float,
) -> None:  # fmt: skip
    """Add a sign whose origin is given from ``at``; one that is unsure is asked for, too."""
    x, y = at[0] + float(sign.origin[0]) * space, at[1] + float(sign.origin[1]) * space
    sure = _is_sure(sign)
    named = sign.distance == 0
    signs.items.append(Item(sign.kind, x, y, *box, float(sign.size), sure, sign.mark, named))
    if not sure and sign.kind.partition(".")[0] in _ASKED_FAMILIES:
        signs.asked.append(Unknown(sign.mark, sign.kind, *box, _in_spaces(placed, box, space)))


def _in_spaces(
    placed: Iterable[Sequence[Point]], box: tuple[float, float, float, float], space: float
) -> Outline:
    return tuple(
        tuple(((x - box[0]) / space, (y - box[1]) / space) for x, y in polygon)
        for polygon in placed
    )


def _is_sure(sign: Sign) -> bool:
    # Which of the two rests it is, only the line that it lies at can tell.
    return sign.sure or (sign.kind in ("rest.1", "rest.2") and sign.known)


def _take_bars(forms: Forms, shape: Shape) -> None:
    """The bars of a sign, such as a sharp, are no stems and beams."""
    x0, y0, x1, y1 = shape.x0 - 0.1, shape.y0 - 0.1, shape.x1 + 0.1, shape.y1 + 0.1
    forms.uprights = [
        one for one in forms.uprights if not (x0 < one.x < x1 and y0 < one.y0 and one.y1 < y1)
    ]
    forms.slabs = [
        one for one in forms.slabs
        if not (x0 < one.x0 and one.x1 < x1 and y0 < min(one.left_y, one.right_y)
                and max(one.left_y, one.right_y) < y1)
    ]  # fmt: skip
    forms.lines = [
        one for one in forms.lines if not (x0 < one.x0 and one.x1 < x1 and y0 < one.y < y1)
    ]


def _sort_shape(signs: PageSigns, shape: Shape, table: Signs, space: float) -> bool:
    """Whether it is a known sign, or may be an unknown one."""
    width, height = shape.x1 - shape.x0, shape.y1 - shape.y0
    if width > 6 * space or height > 9 * space or height < 0.2 * space:
        _add_bow(signs, shape, space)
        return False
    box = shape.x0, shape.y0, shape.x1, shape.y1
    sign = table.of_outline(_in_spaces(shape.polygons, box, space))
    if sign is not None and sign.known:
        if sign.kind != "other":
            _add_item(signs, shape.polygons, sign, (shape.x0, shape.y0), box, space)
        return True
    _add_bow(signs, shape, space)
    if shape.curved and shape.fullness < _SLENDER:
        if width < _HOOK[0] * space and _HOOK[1] * space < height < _HOOK[2] * space:
            signs.hooks.append(shape)
        return False
    _add_unknown(signs, shape.polygons, sign, space)
    return True


def _add_bow(signs: PageSigns, shape: Shape, space: float) -> None:
    width, height = shape.x1 - shape.x0, shape.y1 - shape.y0
    if shape.curved and len(shape.polygons) == 1 and width > space and height < 12 * space:
        arc = arc_of(shape.polygons[0])
        if arc is not None:
            signs.arcs.append(arc)


def _add_unknown(
    signs: PageSigns, placed: Iterable[Sequence[Point]], sign: Sign | None,
    space: float,
) -> None:  # fmt: skip
    polygons = list(placed)
    points = [point for polygon in polygons for point in polygon]
    if not points:
        return
    x0, y0, x1, y1 = box_of(points)
    if not _ASKED[0] * space < y1 - y0 < _ASKED[1] * space:
        return
    outline = _in_spaces(polygons, (x0, y0, x1, y1), space)
    guess = "" if sign is None else sign.kind
    mark = "" if sign is None else sign.mark
    found = Unknown(mark, guess, x0, y0, x1, y1, outline)
    signs.asked.append(found)
    signs.unknown.append(found)
