"""Make the table of outlines once: src/handslide/data/signs/outlines.npz.

Signs of music fonts under the SIL Open Font License, each as a small picture. Needs the wheel of
verovio (Bravura, Gootville, Leipzig, Leland, Petaluma) and an Emmentaler as it comes with LilyPond:

    python scripts/make_signs.py /usr/share/lilypond/VERSION/fonts/otf/emmentaler-20.otf

Of Emmentaler only the signs that `feta.tsv` names are taken; those are of the files under the OFL.
"""

import importlib.util
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from fontTools.svgLib.path import parse_path
from fontTools.ttLib import TTFont

from handslide.edges.pdfparts.drawn import Outline
from handslide.edges.pdfparts.outlines import FlatPen
from handslide.edges.pdfparts.raster import Shape, shape_of
from handslide.edges.pdfparts.signnames import feta_kinds, smufl_kinds

OUT = Path("src/handslide/data/signs/outlines.npz")
FONTS = ("Bravura", "Gootville", "Leipzig", "Leland", "Petaluma")
SPACES_IN_AN_EM = 4
NO_OUTLINE = (
    "barline.",
    "brace",
    "flag.6",
    "flag.7",
    "flag.8",
    "notevalue.0",
    "notevalue.1",
    "ottava.8",
    "ottava.15",
    "ottava.22",
)
# Like a plain sign, or seen on no part for a slide.
TOO_LIKE = re.compile(
    r".*(Filled|erDot|Comma(Flat|Sharp)|Mucenneb.*|Bakiye.*|Koma.*|Koron|Sori)"
    r"|accidentals\..*(slash|sori|koron).*"
)
SMALLEST = 0.1
SAME = 0.004  # of all fields, on the average: upper and lower forms of one sign


def of_verovio(font: str) -> Iterator[tuple[str, Outline]]:
    """(kind, outline in staff spaces) of each sign of a font of the wheel."""
    spec = importlib.util.find_spec("verovio")
    assert spec is not None and spec.origin is not None
    data = Path(spec.origin).parent / "data"
    listed = (data / f"{font}.xml").read_text()
    kinds = smufl_kinds()[1]
    for code, name in re.findall(r'<g c="([0-9A-F]+)"[^>]*n="(\w+)"', listed):
        plain = not name.endswith(("Small", "Oversized")) and not TOO_LIKE.match(name)
        if name in kinds and plain:
            drawn = (data / font / f"{code}.xml").read_text()
            pen = FlatPen(None)
            for path in re.findall(r' d="([^"]+)"', drawn):
                parse_path(path, pen)
            yield kinds[name], pen.outline(1000 / SPACES_IN_AN_EM)


def of_emmentaler(path: str) -> Iterator[tuple[str, Outline]]:
    """The same of LilyPond's font."""
    font = TTFont(path)
    glyphs = font.getGlyphSet()
    for name, kind in feta_kinds().items():
        if name in glyphs and not TOO_LIKE.match(name):
            pen = FlatPen(glyphs)
            glyphs[name].draw(pen)
            yield kind, pen.outline(font["head"].unitsPerEm / SPACES_IN_AN_EM)


def main() -> None:
    rows: list[tuple[str, str, Shape]] = []
    sources = [(font, of_verovio(font)) for font in FONTS]
    for font, signs in [*sources, ("Emmentaler", of_emmentaler(sys.argv[1]))]:
        for kind, outline in signs:
            shape = shape_of(outline)
            if (
                (kind.startswith(NO_OUTLINE) and kind[-1] not in "ab")
                or shape is None
                or shape.height < SMALLEST
            ):
                continue
            if not any(seen[:2] == (font, kind) and is_same(seen[2], shape) for seen in rows):
                rows.append((font, kind, shape))
    kinds = sorted({kind for _, kind, _ in rows})
    fonts = [*FONTS, "Emmentaler"]
    np.savez_compressed(
        OUT,
        pictures=np.array([shape.picture.ravel() for *_, shape in rows], np.uint8),
        boxes=np.array([(s.x0, s.y0, s.width, s.height) for *_, s in rows], np.float32),
        kind=np.array([kinds.index(kind) for _, kind, _ in rows], np.uint16),
        font=np.array([fonts.index(font) for font, _, _ in rows], np.uint8),
        kinds=np.array(kinds),
        fonts=np.array(fonts),
    )
    print(len(rows), "outlines of", len(kinds), "kinds,", OUT.stat().st_size, "bytes")


def is_same(one: Shape, other: Shape) -> bool:
    apart = np.abs(one.picture.astype(int) - other.picture).mean() / 255
    boxes = [(s.x0, s.y0, s.width, s.height) for s in (one, other)]
    return bool(apart < SAME and np.allclose(*boxes, atol=0.03))


if __name__ == "__main__":
    main()
