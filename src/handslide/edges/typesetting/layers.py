"""Pictures for moving images: SVG and words as arrays of pixels that can be laid over others.

They are set by the typesetter and drawn by PDFium, which can draw any piece of a long page.
Conventions: colours are red, green, blue in 8 bits; pictures have the shape (rows, columns, 3).
"""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handslide.edges.typesetting.part import one_line
from handslide.edges.typesetting.run import run_typst

Pixels = NDArray[np.uint8]

_MOST_PT = 10_000.0  # beyond 14,400 a page is no longer common PDF


@dataclass(frozen=True, slots=True)
class DrawnLayer:
    """An SVG, stretched to ``width`` by ``height`` pixels."""

    svg: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Words:
    """A row of words: its size and the distance to the row above in pixels."""

    text: str
    size: float
    colour: str
    face: str = "Libertinus Serif"
    weight: int = 400
    above: float = 0.0


@dataclass(frozen=True, slots=True)
class WordsLayer:
    """Rows in the middle of ``width`` by ``height`` pixels; set smaller where they don't fit."""

    rows: tuple[Words, ...]
    width: float
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """A picture to be laid over another: ``colour`` is what it adds, ``keeps`` (rows, columns, 1)
    the share of 255 of what lies below that is still seen."""

    colour: Pixels
    keeps: Pixels

    def over(self, below: Pixels, left: int, top: int) -> None:
        """Lay it over ``below``; what reaches beyond is cut."""
        rows, columns = self.colour.shape[:2]
        x0, y0 = max(0, -left), max(0, -top)
        x1, y1 = min(columns, below.shape[1] - left), min(rows, below.shape[0] - top)
        if x1 <= x0 or y1 <= y0:
            return
        piece = below[top + y0 : top + y1, left + x0 : left + x1]
        kept = piece * self.keeps[y0:y1, x0:x1].astype(np.uint16)
        np.add((kept + 127) // 255, self.colour[y0:y1, x0:x1], out=piece, casting="unsafe")

    @property
    def rgba(self) -> Pixels:
        """The same with the colours as they are and how much they cover, shape (…, 4)."""
        covers = 255 - self.keeps
        full = self.colour * np.uint16(255) // np.maximum(covers, 1)
        return np.concatenate((np.minimum(full, 255).astype(np.uint8), covers), axis=2)


def draw_layers(
    layers: Sequence[DrawnLayer | WordsLayer], title: str, language: str
) -> tuple[Layer, ...]:
    """Raises OutputError when the typesetter can't set them."""
    import pypdfium2

    (pdf,) = run_typst("layers.typ", _files(layers, title, language), title, tagged=False)
    document = pypdfium2.PdfDocument(pdf)
    try:
        return tuple(_layer(page) for page in document)
    finally:
        document.close()


def _files(layers: Sequence[DrawnLayer | WordsLayer], title: str, language: str) -> dict[str, str]:
    files: dict[str, str] = {}
    rows: list[dict[str, Any]] = []
    for number, one in enumerate(layers):
        size = {"width": round(one.width), "height": round(one.height)}
        if isinstance(one, DrawnLayer):
            files[f"layer-{number}.svg"] = one.svg
            rows.append({"kind": "svg", "file": f"layer-{number}.svg", **size})
        else:
            words = [asdict(row) | {"text": one_line(row.text)} for row in one.rows]
            rows.append({"kind": "words", "rows": words, **size})
    values = {"title": one_line(title), "language": language, "layers": rows}
    files["layers.json"] = json.dumps(values)
    return files


def _layer(page: Any) -> Layer:
    # What shines through is what differs between a white ground and a black one.
    white, black = (
        page.render(scale=1.0, fill_color=(grey, grey, grey, 255), rev_byteorder=True)
        .to_numpy()[..., :3]
        .copy()
        for grey in (255, 0)
    )
    keeps = np.maximum(white, black).astype(np.int16) - black
    return Layer(black, keeps.max(axis=2, keepdims=True).astype(np.uint8))


class LongPicture:
    """An SVG many times as wide as high, ``width_mm`` wide, of which any piece can be drawn."""

    def __init__(self, svg: str, width_mm: float, height_mm: float, pixels_a_mm: float) -> None:
        import pypdfium2

        width_pt = min(_MOST_PT, width_mm * 72 / 25.4)
        size = {"width": width_pt, "height": width_pt * height_mm / width_mm}
        rows = [{"kind": "svg", "file": "layer-0.svg", **size}]
        values = {"title": "", "language": "en", "layers": rows}
        files = {"layer-0.svg": svg, "layers.json": json.dumps(values)}
        (pdf,) = run_typst("layers.typ", files, "", tagged=False)
        self._document = pypdfium2.PdfDocument(pdf)
        self._page = self._document[0]
        self._scale = pixels_a_mm * width_mm / width_pt
        self.width, self.height = round(width_mm * pixels_a_mm), round(height_mm * pixels_a_mm)

    def grey(self, left: int, width: int) -> Pixels:
        """``width`` columns from ``left`` on, shape (height, width): 0 is ink, 255 is paper."""
        found = np.full((self.height, width), 255, np.uint8)
        first, last = max(0, left), min(self.width, left + width)
        if first >= last:
            return found
        wide, _ = self._page.get_size()
        crop = (first / self._scale, 0, max(0.0, wide - last / self._scale), 0)
        drawn = self._page.render(scale=self._scale, crop=crop, grayscale=True).to_numpy()
        drawn = drawn.reshape(drawn.shape[:2])
        rows, columns = min(drawn.shape[0], self.height), min(drawn.shape[1], last - first)
        found[:rows, first - left : first - left + columns] = drawn[:rows, :columns]
        return found

    def close(self) -> None:
        """Let go of what draws it."""
        self._document.close()
