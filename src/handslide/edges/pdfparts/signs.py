"""What a sign means: by what its font calls it, by what a person said of its shape, or else by its
shape, laid beside the signs of known music fonts.

Kinds of signs are listed in `handslide.edges.pdfparts.signnames`. By their shape alone some
can't be told apart: then ``dot`` stands for dots of every sort, ``digit`` or ``tuplet`` for digits
of every sort, and a whole or half rest is told by the side of its origin on which it lies, or with
no margin.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Self

import numpy as np
from numpy.typing import NDArray

from handslide.edges.pdfparts.drawn import Glyph, Outline, Point
from handslide.edges.pdfparts.raster import Shape, mark_of, shape_of, shape_of_mark
from handslide.edges.pdfparts.signnames import kind_by_name

LEAST, MOST = 0.12, 10.0
"""Height of a sign, in staff spaces; what is smaller or larger is none."""
_ASPECT, _SIZE = 0.3, 0.3
"""How much it counts, beside the share that two pictures don't have in common, when one is e times
as slender or large. By leaving each font out in turn these are the best; see
``benchmarks/pdf_signs.py``."""
_LARGER, _SMALLER = 1.3, 0.5
_OTHER_SIZES = ("digit", "tuplet", "dynamic", "ottava", "segno", "coda", "notevalue", "multirest")
"""Signs that stand in many sizes; others are cue-sized at the smallest."""
_LARGER_STILL, _SMALLER_STILL = 2.6, 0.3
_SAME_MARK = 0.12
_NEAR = 0.25
_ODD_BAR_REST = 0.05
_TELLING = frozenset(
    (
        "clef.G", "clef.F", "clef.C", "head.black", "head.half", "head.whole", "acc.-1", "acc.0",
        "acc.1", "rest.4", "rest.8", "rest.16",
    )
)  # fmt: skip
_LIKE, _VERY, _LEAST_MARGIN = 0.3, 0.12, 0.1
_NEAR_ENOUGH, _FARTHEST, _NO_RIVAL, _WEAK_RIVAL = 0.4, 0.55, 0.03, 0.06
_PLAIN = frozenset(
    (
        "dot", "meter.common", "meter.cut", *(f"clef.{sign}" for sign in "GFC"),
        *(f"head.{value}" for value in ("black", "half", "whole")),
        *(f"acc.{alter}" for alter in range(-2, 3)), *(f"rest.{2**n}" for n in range(7)),
        *(f"flag.{count}" for count in range(1, 5)),
    )
)  # fmt: skip
"""Signs that notes hang on, and that look like no others."""
_SPACES_IN_AN_EM = 4.0


@dataclass(frozen=True, slots=True)
class Sign:
    """What a shape means.

    ``distance`` is 0 where a name or a person says it, else from 0 (the same) to above 1;
    ``margin`` how much farther the next kind is. ``size`` is 1 where it is as large as that sign
    usually is on such a staff. ``origin`` is the point that stands at its pitch or line, in staff
    spaces from the glyph's origin, or in the outline's own coordinates. ``mark`` tells shapes
    apart, whatever their font, file and place.
    """

    kind: str
    distance: float
    margin: float
    size: float
    origin: Point
    mark: str

    @property
    def known(self) -> bool:
        """Whether it may be taken for that sign: near enough, and nearer than to others.

        ``benchmarks/pdf_signs.py`` counts how often that is right of fonts that aren't known.
        """
        if self.kind not in _PLAIN:
            return self.distance <= _LIKE and bool(self.kind)
        apart = self.margin >= _NO_RIVAL or self.distance <= _VERY
        return apart and self.distance <= min(_NEAR_ENOUGH + self.margin, _FARTHEST)

    @property
    def sure(self) -> bool:
        """Whether nobody need be asked."""
        if self.distance <= _VERY:
            return self.margin >= _WEAK_RIVAL
        return self.margin >= _LEAST_MARGIN and self.distance <= _LIKE + self.margin / 2


@dataclass(frozen=True, slots=True)
class _Table:
    """The known signs: pictures (n, fields), their sums, and logarithms of width and height."""

    pictures: NDArray[np.uint8]
    sums: NDArray[np.float64]
    boxes: NDArray[np.float32]
    kinds: tuple[str, ...]
    families: NDArray[np.str_]
    fonts: NDArray[np.str_]
    slender: NDArray[np.float64]
    large: NDArray[np.float64]
    smallest: NDArray[np.float64]
    largest: NDArray[np.float64]


def _family(kind: str) -> str:
    """Kinds that shapes can't tell apart."""
    head, _, rest = kind.partition(".")
    if head in ("tuplet", "finger"):
        return f"digit.{rest}"
    if kind in ("articulation.staccato", "repeatdot"):
        return "dot"
    return "rest.bar" if kind in ("rest.1", "rest.2") else kind


@cache
def _table(without: tuple[str, ...]) -> _Table:
    file = resources.files("handslide") / "data" / "signs" / "outlines.npz"
    with file.open("rb") as opened, np.load(opened) as held:
        kept = ~np.isin(held["fonts"], without)[held["font"]]
        pictures, boxes = held["pictures"][kept], held["boxes"][kept]
        kinds = tuple(str(kind) for kind in held["kinds"][held["kind"][kept]])
        fonts = held["fonts"][held["font"][kept]]
    many = np.array([kind.partition(".")[0] in _OTHER_SIZES for kind in kinds])
    width, height = np.log(boxes[:, 2].astype(float)), np.log(boxes[:, 3].astype(float))
    return _Table(
        pictures=pictures, sums=pictures.sum(axis=1, dtype=float), boxes=boxes, kinds=kinds,
        families=np.array([_family(kind) for kind in kinds]), fonts=fonts,
        slender=width - height, large=(width + height) / 2,
        smallest=np.log(np.where(many, _SMALLER_STILL, _SMALLER)),
        largest=np.log(np.where(many, _LARGER_STILL, _LARGER)),
    )  # fmt: skip


def music_fonts(seen: Iterable[tuple[Glyph, Sign | None]]) -> set[str]:
    """Fonts that hold signs of music by their outlines, though they may call them letters.

    ``seen`` are glyphs and what they mean. Of thirty text fonts none has a letter like these, and
    every older music font has some: one that is the very shape, or two of a sort.
    """
    very, like = set[str](), dict[str, set[str]]()
    for glyph, sign in seen:
        if sign is not None and sign.kind in _TELLING and sign.distance <= _LIKE:
            if sign.distance <= _VERY:
                very.add(glyph.font)
            if sign.margin >= _LEAST_MARGIN:
                like.setdefault(glyph.font, set()).add(sign.kind)
    return very | {font for font, kinds in like.items() if len(kinds) > 1}


class Signs:
    """Tells what shapes mean, and remembers what it told."""

    def __init__(self, extra: Mapping[str, str], without: tuple[str, ...] = ()) -> None:
        self._table = _table(without)
        self._said = [
            (shape, kind, mark)
            for mark, kind in extra.items()
            if (shape := shape_of_mark(mark)) is not None
        ]
        self._seen: list[tuple[Shape, str]] = []
        self._marks: dict[str, str] = {}
        self._glyphs: dict[tuple[str, int, float], Sign | None] = {}
        self._shapes: dict[tuple[str, int, int], Sign] = {}

    @classmethod
    def load(cls, extra: Mapping[str, str] | None = None, without: Sequence[str] = ()) -> Self:
        """The known signs, and ``extra``: kinds by mark, as a person said them, which count first.
        ``without``: fonts to leave out, to see how an unknown one fares."""
        return cls(extra or {}, tuple(without))

    def of_glyph(self, glyph: Glyph, outline: Outline | None, space: float) -> Sign | None:
        """What a glyph means on a staff of such a space (in points). None where it is no sign."""
        key = (glyph.font, glyph.code, round(glyph.em / space, 2))
        if key not in self._glyphs:
            self._glyphs[key] = self._of_glyph(glyph, outline, space)
        return self._glyphs[key]

    def _of_glyph(self, glyph: Glyph, outline: Outline | None, space: float) -> Sign | None:
        ems = glyph.em / space
        named = kind_by_name(glyph.text, glyph.name, glyph.font)
        scaled = [[(x * ems, y * ems) for x, y in polygon] for polygon in outline or ()]
        shape = shape_of(scaled)
        if named:
            said = self._as_said(shape) if shape is not None and self._said else None
            mark = self._mark(shape) if shape is not None else ""
            return said or Sign(named, 0.0, 1.0, ems / _SPACES_IN_AN_EM, (0.0, 0.0), mark)
        found = self._of_shape(shape)
        if found is None or shape is None or found.kind not in ("rest.1", "rest.2"):
            return found
        middle = shape.y0 + shape.height / 2
        kind = "rest.1" if middle < 0 else "rest.2"
        margin = found.margin if abs(middle) > _ODD_BAR_REST else 0.0
        return Sign(kind, found.distance, margin, found.size, (found.origin[0], 0.0), found.mark)

    def of_outline(
        self, polygons: Sequence[Sequence[Point]], even_odd: bool = False
    ) -> Sign | None:
        """What a filled shape means, its corners in staff spaces. None where it is no sign.

        A whole or half rest has no margin: only the line it lies at tells which it is.
        """
        found = self._of_shape(shape_of(polygons, even_odd))
        if found is None or found.kind not in ("rest.1", "rest.2"):
            return found
        return Sign("rest.1", found.distance, 0.0, found.size, found.origin, found.mark)

    def _of_shape(self, shape: Shape | None) -> Sign | None:
        if shape is None or not LEAST <= max(shape.width, shape.height) <= MOST:
            return None
        if self._said and (said := self._as_said(shape)) is not None:
            return said
        mark = self._mark(shape)
        key = (mark, round(20 * shape.width), round(20 * shape.height))
        known = self._shapes.get(key)
        if known is None:
            known = self._shapes[key] = self._matched(shape, mark)
        return Sign(
            known.kind, known.distance, known.margin, known.size,
            (known.origin[0] + shape.x0, known.origin[1] + shape.y0), mark,
        )  # fmt: skip

    def _matched(self, shape: Shape, mark: str) -> Sign:
        """The nearest of the known signs; its origin from the shape's lower left corner."""
        table = self._table
        width, height = np.log(shape.width), np.log(shape.height)
        slender, large = np.abs(width - height - table.slender), (width + height) / 2 - table.large
        fits = np.flatnonzero(
            (large >= table.smallest) & (large <= table.largest) & (slender < 1.2)
        )
        if not len(fits):
            return Sign("", 1.0, 0.0, 1.0, (0.0, 0.0), mark)
        picture = shape.picture.ravel()
        shared = np.minimum(table.pictures[fits], picture).sum(axis=1, dtype=float)
        apart = 1 - shared / (table.sums[fits] + picture.sum(dtype=float) - shared)
        size_counts = np.isin(table.largest[fits], np.log(_LARGER)) * _SIZE
        distances = apart + _ASPECT * slender[fits] + size_counts * np.abs(large[fits])
        best = int(distances.argmin())
        others = distances[table.families[fits] != table.families[fits[best]]]
        margin = float(others.min() - distances[best]) if len(others) else 1.0
        at, size = fits[best], float(np.exp(large[fits[best]]))
        x0, y0 = table.boxes[at][:2]
        kind = table.kinds[at]
        kind = _family(kind) if kind.startswith("finger") or _family(kind) == "dot" else kind
        return Sign(kind, float(distances[best]), margin, size, (-x0 * size, -y0 * size), mark)

    def _as_said(self, shape: Shape) -> Sign | None:
        """What a person said of this shape, at this size or cue size.

        A mark tells of a shape in little detail, so the shape is looked at in as little."""
        coarse = shape_of_mark(mark_of(shape))
        for known, kind, mark in self._said:
            if coarse is not None and _is_same(known, coarse):
                x, y = self._usual_origin(kind)
                origin = (shape.x0 + x * shape.width, shape.y0 + y * shape.height)
                return Sign(kind, 0.0, 1.0, shape.height / known.height, origin, mark)
        return None

    def _usual_origin(self, kind: str) -> Point:
        """Where in its box the origin of a kind of sign lies, as shares of width and height, in the
        middle of the known fonts."""
        of_kind = [place for place, known in enumerate(self._table.kinds) if known == kind]
        if not of_kind:
            return (0.0, 0.5)
        boxes = self._table.boxes[of_kind]
        x, y = np.median(-boxes[:, :2] / boxes[:, 2:], axis=0)
        return (float(x), float(y))

    def _mark(self, shape: Shape) -> str:
        """A shape's mark: that of the first one seen that was the same."""
        made = mark_of(shape)
        if made not in self._marks:
            same = next((mark for known, mark in self._seen if _is_same(known, shape)), None)
            self._marks[made] = same or made
            if same is None:
                self._seen.append((shape, made))
        return self._marks[made]


def _is_same(known: Shape, shape: Shape) -> bool:
    if abs(np.log(known.width / known.height * shape.height / shape.width)) > _NEAR:
        return False
    if not _SMALLER < shape.height / known.height < _LARGER:
        return False
    one, other = known.picture, shape.picture
    shared = np.minimum(one, other).sum(dtype=float)
    return bool(1 - shared / (one.sum(dtype=float) + other.sum(dtype=float) - shared) < _SAME_MARK)
