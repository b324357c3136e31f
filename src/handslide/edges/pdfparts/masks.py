"""Stencils: pictures of one bit that let the ink through, as areas.

Old TeX draws every line and the glyphs of some fonts so (ISO 32000-1, 8.9.6.2).
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from handslide.edges.pdfparts.drawn import Point
from handslide.ground import limits

_LONG = {"W": "Width", "H": "Height", "IM": "ImageMask", "D": "Decode", "F": "Filter"}


def spelled_out(said: Mapping[str, Any]) -> dict[str, Any]:
    """The dictionary of an inline image with its keys in full."""
    return {_LONG.get(key, key): value for key, value in said.items()}


def areas_of(width: int, height: int, bits: bytes, ink: int) -> list[list[Point]] | None:
    """Where a stencil lets the ink through, as rectangles in the unit square, y up; None where it
    is too large or its bits are cut off. ``ink`` is the bit that paints."""
    if not (width > 0 and height > 0 and width * height <= limits.PDF_STENCIL_BITS):
        return None
    row_bytes = -(-width // 8)
    if len(bits) < row_bytes * height:
        return None
    packed = np.frombuffer(bits[: row_bytes * height], np.uint8).reshape(height, row_bytes)
    painted = np.unpackbits(packed, axis=1)[:, :width] == ink
    found: list[list[Point]] = []
    open_runs: dict[tuple[int, int], int] = {}
    for row in range(height + 1):
        runs = _runs(painted[row]) if row < height else set()
        for run in sorted(open_runs.keys() - runs):
            x0, x1 = run[0] / width, run[1] / width
            y0, y1 = 1 - row / height, 1 - open_runs.pop(run) / height
            found.append([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)])
        for run in runs - open_runs.keys():
            open_runs[run] = row
    return found


def _runs(row: Any) -> set[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], row, [False])).astype(np.int8)))
    return {(int(start), int(end)) for start, end in zip(edges[::2], edges[1::2])}
