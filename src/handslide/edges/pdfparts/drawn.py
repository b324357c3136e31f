"""What a page draws."""

from dataclasses import dataclass, field

Matrix = tuple[float, float, float, float, float, float]
"""a, b, c, d, e, f of PDF: (x, y) -> (a x + c y + e, b x + d y + f)."""
Point = tuple[float, float]
Outline = tuple[tuple[Point, ...], ...]
"""Closed polygons, filled by the rule of non-zero winding, in ems from the glyph's origin, y up."""


@dataclass(frozen=True, slots=True)
class Glyph:
    """A sign of a font, drawn. Lengths in seen points.

    ``em`` is the size at which it stands on the page; ``name`` and ``text`` are what the font's
    encoding calls it ("" where it doesn't). ``font`` names the font within the file, and with
    ``code`` finds the outline.
    """

    x: float
    y: float
    em: float
    matrix: Matrix
    """From ems to seen points, without the origin: e and f are x and y."""
    font: str
    code: int
    name: str
    text: str
    advance: float
    """Width to the next glyph."""


@dataclass(frozen=True, slots=True)
class Path:
    """Lines and areas. ``polygons`` in seen points, curves flattened."""

    polygons: tuple[tuple[Point, ...], ...]
    stroked: bool
    filled: bool
    width: float
    """Of the stroke, in seen points."""
    curved: bool
    closed: bool
    even_odd: bool = False
    """Filled by the rule of even and odd, not of non-zero winding."""
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """The box of an image, in seen points."""

    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True, slots=True)
class PageDrawing:
    """All that a page draws and that isn't clipped away, white things left out, in the order of
    drawing."""

    width: float
    height: float
    to_page: Matrix
    """From seen points to the page's own user space."""
    glyphs: tuple[Glyph, ...]
    paths: tuple[Path, ...]
    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """The pages of a file, and the outlines of their glyphs by (font, code)."""

    pages: tuple[PageDrawing, ...]
    outlines: dict[tuple[str, int], Outline] = field(repr=False)
    tagged: bool = False
    pdfa: str = ""
    """The part and level of PDF/A that it claims, such as ``2b``."""
