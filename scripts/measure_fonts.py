"""Measures the faces that sheets are drawn with: src/handslide/data/fonts/widths.json.

Drawing code places text in millimetres before it is typeset, so it must know how wide it will be.
Run from the project folder after a change of a font: python scripts/measure_fonts.py
"""

import json
import tempfile
from pathlib import Path

import typst
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

FONTS = Path("src/handslide/data/fonts")
TEXT = [chr(code) for code in (*range(0x20, 0x7F), *range(0xA0, 0x180))] + list(
    "♭♯♮–—…′″→←↑↓•’‘“”„‹›€≈≤≥−⁴⁵⁶⁷⁸⁹₁₂₃₄\u202f"
)
# Music signs by their names in the Standard Music Font Layout (SMuFL).
MUSIC = {
    "gClef": 0xE050, "cClef": 0xE05C, "fClef": 0xE062, "noteheadWhole": 0xE0A2,
    "noteheadHalf": 0xE0A3, "noteheadBlack": 0xE0A4, "accidentalFlat": 0xE260,
    "accidentalNatural": 0xE261, "accidentalSharp": 0xE262, "accidentalDoubleSharp": 0xE263,
    "accidentalDoubleFlat": 0xE264, "gClef8vb": 0xE052,
}  # fmt: skip
PROGRAM = """
#let chars = json("chars.json")
#context {
  let out = (:)
  for face in ("Libertinus Serif", "Handslide Marks") {
    for weight in (400, 600, 700) { for style in ("normal", "italic") {
      let row = (:)
      for c in chars {
        let t = text(font: face, weight: weight, style: style, size: 1000pt, fallback: false, c)
        row.insert(c, calc.round(measure(t).width / 1pt))
      }
      out.insert(face + "|" + str(weight) + "|" + style, row)
    } }
  }
  [#metadata(out) <widths>]
}
"""


def widths() -> dict[str, dict[str, float]]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "measure.typ").write_text(PROGRAM, encoding="utf-8")
        (folder / "chars.json").write_text(json.dumps(TEXT), encoding="utf-8")
        found = typst.query(
            str(folder / "measure.typ"), "<widths>", field="value", one=True, root=name,
            font_paths=[str(FONTS)], ignore_system_fonts=True,
        )  # fmt: skip
    return json.loads(found)


def music() -> dict[str, list[float]]:
    """Advance and box (x0, y0, x1, y1) of each sign, in thousandths of the size, y upwards."""
    font = TTFont(FONTS / "HandslideMusic-Regular.ttf")
    glyphs, names, unit = font.getGlyphSet(), font.getBestCmap(), font["head"].unitsPerEm
    found = {}
    for code in MUSIC.values():
        pen = BoundsPen(glyphs)
        glyphs[names[code]].draw(pen)
        values = (glyphs[names[code]].width, *pen.bounds)
        found[chr(code)] = [round(1000 * value / unit, 1) for value in values]
    return found


if __name__ == "__main__":
    measured = {"text": widths(), "music": music(), "names": {k: chr(v) for k, v in MUSIC.items()}}
    text = json.dumps(measured, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    (FONTS / "widths.json").write_text(text + "\n", encoding="utf-8")
