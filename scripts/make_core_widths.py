"""Make the widths of the standard fonts once: src/handslide/data/signs/core_widths.json.

A PDF need not say how wide the letters of these are. They are those of Adobe's metrics of the core
fonts, which come with the wheel of matplotlib. Run from the repository root:
``python scripts/make_core_widths.py``.
"""

import importlib.util
import json
import re
from pathlib import Path

OUT = Path("src/handslide/data/signs/core_widths.json")
FONTS = (
    "Helvetica", "Helvetica-Bold", "Times-Roman", "Times-Bold", "Times-Italic", "Times-BoldItalic",
    "Symbol", "ZapfDingbats",
)  # fmt: skip
_ROW = re.compile(r"^C -?\d+ ; WX (\d+) ; N (\w+) ;", re.MULTILINE)


def main() -> None:
    spec = importlib.util.find_spec("matplotlib")
    assert spec is not None and spec.origin is not None
    folder = Path(spec.origin).parent / "mpl-data" / "fonts" / "pdfcorefonts"
    found = {}
    for font in FONTS:
        rows = _ROW.findall((folder / f"{font}.afm").read_text(encoding="latin-1"))
        found[font] = {name: int(width) for width, name in sorted(rows, key=lambda row: row[1])}
    OUT.write_text(json.dumps(found, separators=(",", ":")) + "\n", encoding="utf-8")
    print({font: len(widths) for font, widths in found.items()}, OUT.stat().st_size, "bytes")


if __name__ == "__main__":
    main()
