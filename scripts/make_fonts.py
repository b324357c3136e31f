"""Make the shipped fonts once: the music font as OTF, and the face of the marks.

Needs fontTools and brotli, besides the wheels of verovio and matplotlib (for DejaVu Sans Bold).
Run from the repository root: ``python scripts/make_fonts.py``. The results are committed.
"""

import base64
import importlib.util
import io
import json
import re
from pathlib import Path

from fontTools.pens.cu2quPen import Cu2QuPen
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.transformPen import TransformPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

OUT = Path("src/handslide/data/fonts")
MARK_FAMILY = "Handslide Marks"
MUSIC_FAMILY = "Handslide Music"
NARROWER = 0.88  # of DejaVu's width: marks stand close together
CHARACTERS = [
    *range(0x20, 0x7F),
    *range(0xA0, 0x180),
    *range(0x391, 0x3CA),
    *range(0x410, 0x450),
    0x2013, 0x2019, 0x2022, 0x2032, 0x2190, 0x2191, 0x2192, 0x2193, 0x266D, 0x266E, 0x266F,
]  # fmt: skip


def wheel_folder(package: str) -> Path:
    """Return the folder of an installed package."""
    spec = importlib.util.find_spec(package)
    assert spec is not None and spec.origin is not None, package
    return Path(spec.origin).parent


def unpack_music_font(name: str) -> None:
    """Write a music font of Verovio's wheel (woff2 inside a style sheet) as TrueType."""
    sheet = (wheel_folder("verovio") / "data" / f"{name}.css").read_text()
    packed = re.search(r"base64,\s*([A-Za-z0-9+/=]+)", sheet)
    assert packed is not None, name
    font = TTFont(io.BytesIO(base64.b64decode(packed.group(1))), recalcTimestamp=False)
    font.flavor = None
    _rename(font, MUSIC_FAMILY, "Regular")  # an unpacked font may not keep its reserved name
    font.save(OUT / "HandslideMusic-Regular.ttf")


def _flat(pen) -> None:
    pen.moveTo((40, 790))
    pen.lineTo((128, 790))
    pen.lineTo((128, 420))
    pen.curveTo((158, 446), (196, 462), (236, 462))
    pen.curveTo((310, 462), (358, 414), (358, 338))
    pen.curveTo((358, 216), (262, 120), (40, -30))
    pen.closePath()
    pen.moveTo((128, 342))
    pen.lineTo((128, 126))
    pen.curveTo((206, 186), (244, 244), (244, 312))
    pen.curveTo((244, 352), (228, 374), (198, 374))
    pen.curveTo((174, 374), (148, 362), (128, 342))
    pen.closePath()


def _bar(pen, left: float, right: float, low: float, thick: float, rise: float) -> None:
    pen.moveTo((left, low))
    pen.lineTo((left, low + thick))
    pen.lineTo((right, low + thick + rise))
    pen.lineTo((right, low + rise))
    pen.closePath()


def _sharp(pen) -> None:
    _bar(pen, 112, 180, -85, 830, 0)
    _bar(pen, 268, 336, -45, 830, 0)
    _bar(pen, 34, 414, 175, 120, 70)
    _bar(pen, 34, 414, 425, 120, 70)


def _natural(pen) -> None:
    _bar(pen, 50, 122, 130, 660, 0)
    _bar(pen, 270, 342, -90, 660, 0)
    _bar(pen, 50, 342, 130, 118, 60)
    _bar(pen, 50, 342, 392, 118, 60)


def make_mark_font() -> None:
    """Write the face of the marks: narrowed DejaVu Sans Bold with accidentals of our own."""
    source = wheel_folder("matplotlib") / "mpl-data" / "fonts" / "ttf" / "DejaVuSans-Bold.ttf"
    font = TTFont(source, recalcTimestamp=False)
    options = Options(drop_tables=["GPOS", "GSUB", "GDEF", "kern", "FFTM", "DSIG"], hinting=False)
    options.name_IDs = ["*"]
    options.glyph_names = True
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=CHARACTERS)
    subsetter.subset(font)
    _narrow(font)
    units = font["head"].unitsPerEm
    names = font.getBestCmap()
    for code, draw, width in ((0x266D, _flat, 385), (0x266F, _sharp, 446), (0x266E, _natural, 392)):
        pen = TTGlyphPen(None)
        scale = units / 1000
        draw(TransformPen(Cu2QuPen(pen, 1.0, reverse_direction=False), (scale, 0, 0, scale, 0, 0)))
        font["glyf"][names[code]] = pen.glyph()
        font["hmtx"][names[code]] = (round(width * scale), round(34 * scale))
    _rename(font, MARK_FAMILY, "Bold")
    font.save(OUT / "HandslideMarks-Bold.ttf")
    widths = {chr(c): round(font["hmtx"][n][0] / units, 4) for c, n in sorted(names.items())}
    text = json.dumps({"family": MARK_FAMILY, "advance_em": widths}, ensure_ascii=False, indent=0)
    (OUT / "HandslideMarks-Bold.json").write_text(text + "\n", encoding="utf-8")


def _narrow(font: TTFont) -> None:
    glyphs = font.getGlyphSet()
    drawn = {}
    for name in font.getGlyphOrder():
        record = DecomposingRecordingPen(glyphs)
        glyphs[name].draw(record)
        pen = TTGlyphPen(None)
        record.replay(TransformPen(pen, (NARROWER, 0, 0, 1, 0, 0)))
        drawn[name] = pen.glyph()
    for name, glyph in drawn.items():
        advance, bearing = font["hmtx"][name]
        font["glyf"][name] = glyph
        font["hmtx"][name] = (round(advance * NARROWER), round(bearing * NARROWER))


def _rename(font: TTFont, family: str, style: str) -> None:
    name = font["name"]
    for record in list(name.names):
        if record.nameID not in (0, 13, 14):
            name.removeNames(record.nameID, record.platformID, record.platEncID, record.langID)
    file = f"{family.replace(' ', '')}-{style}"
    texts = {1: family, 2: style, 3: file, 4: f"{family} {style}", 5: "Version 1.0", 6: file}
    for number, text in texts.items():
        name.setName(text, number, 3, 1, 0x409)


if __name__ == "__main__":
    unpack_music_font("Bravura")
    make_mark_font()
