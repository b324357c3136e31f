"""Draws the pictures of the documents' gallery from what the first lesson by commands has made.

Run from the project folder: make pictures.
"""

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pypdfium2

from follow_lesson import LESSONS, ROOT, follow_commands
from handslide.edges.pdfparts.leashed import png

GALLERY = ROOT / "docs" / "gallery"
PIXELS_A_POINT = 1.6


@dataclass(frozen=True, slots=True)
class Sheet:
    """The first page of a PDF of the lesson, from ``top`` to ``bottom`` as shares of its height."""

    name: str
    file: str
    top: float = 0.0
    bottom: float = 1.0


SHEETS = (
    Sheet("marked", "boats-marked.pdf", 0.0, 0.4),
    Sheet("chart", "chart.pdf"),
    Sheet("take", "report.pdf"),
    Sheet("drill", "trouble-spots.pdf", 0.0, 0.5),
)


def pixels(sheet: Sheet, folder: Path) -> np.ndarray:
    """The picture, shape (height, width, 3), one byte a colour."""
    document = pypdfium2.PdfDocument(folder / sheet.file)
    try:
        drawn = document[0].render(scale=PIXELS_A_POINT, rev_byteorder=True).to_numpy()
        high = len(drawn)
        return np.array(drawn[round(sheet.top * high) : round(sheet.bottom * high), :, :3])
    finally:
        document.close()


def main() -> None:
    """Follow the lesson, write all pictures."""
    GALLERY.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        text = (LESSONS / "commands.md").read_text(encoding="utf-8")
        if wrong := follow_commands(text, Path(folder)):
            raise SystemExit("\n".join(wrong))
        for sheet in SHEETS:
            data = png(pixels(sheet, Path(folder)))
            (GALLERY / f"{sheet.name}.png").write_bytes(data)
            print(f"{sheet.name}.png: {len(data)} bytes")


if __name__ == "__main__":
    main()
