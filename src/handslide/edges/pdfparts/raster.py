"""Shapes as small pictures that can be compared, and as short marks that can be kept.

A shape is stretched over its box, so that its picture doesn't depend on where and how large it
stands; width and height are kept beside it.
"""

import base64
import binascii
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.edges.pdfparts.drawn import Point

SIDE = 24
_FINE = 3
_MARK_SIDE = 12
_MARK_BYTES = _MARK_SIDE * _MARK_SIDE // 4
_MARK_STEP = 16.0
"""Steps of a mark's width and height: a sixteenth of an octave."""

Picture = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Shape:
    """A shape: how much of each of `SIDE` by `SIDE` fields it covers (0 to 255, top row first), and
    its box in staff spaces, from its lower left corner."""

    picture: Picture
    x0: float
    y0: float
    width: float
    height: float


def shape_of(polygons: Sequence[Sequence[Point]], even_odd: bool = False) -> Shape | None:
    """The shape of filled polygons, in the unit of their corners; None where it has no area."""
    kept = [np.asarray(polygon, float) for polygon in polygons if len(polygon) > 2]
    if not kept:
        return None
    starts = np.concatenate(kept)
    ends = np.concatenate([np.roll(polygon, -1, axis=0) for polygon in kept])
    low, high = starts.min(axis=0), starts.max(axis=0)
    width, height = high - low
    if not (width > 1e-6 and height > 1e-6):
        return None
    scale = SIDE * _FINE / np.array([width, height])
    picture = _covered((starts - low) * scale, (ends - low) * scale, even_odd)
    return Shape(picture, float(low[0]), float(low[1]), float(width), float(height))


def _covered(starts: NDArray[np.float64], ends: NDArray[np.float64], even_odd: bool) -> Picture:
    """Winding numbers at the middles of a fine grid's fields, then how many of each coarse one are
    inside."""
    side = SIDE * _FINE
    rows0 = np.ceil(np.minimum(starts[:, 1], ends[:, 1]) - 0.5).astype(int)
    rows1 = np.ceil(np.maximum(starts[:, 1], ends[:, 1]) - 0.5).astype(int)
    counts = rows1 - rows0
    edge = np.repeat(np.arange(len(starts)), counts)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts) + rows0[edge]
    (x0, y0), (x1, y1) = starts[edge].T, ends[edge].T
    x = x0 + (row + 0.5 - y0) / (y1 - y0) * (x1 - x0)
    column = np.clip(np.ceil(x - 0.5), 0, side).astype(int)
    turns = np.bincount(
        row * (side + 1) + column, np.where(y1 > y0, 1.0, -1.0), minlength=side * (side + 1)
    )
    winding = np.rint(turns.reshape(side, side + 1).cumsum(axis=1)[:, :side]).astype(int)
    inside = winding % 2 != 0 if even_odd else winding != 0
    share = inside.reshape(SIDE, _FINE, SIDE, _FINE).mean(axis=(1, 3))
    picture: Picture = np.rint(share[::-1] * 255).astype(np.uint8)
    return picture


def mark_of(shape: Shape) -> str:
    """A shape in some fifty letters: a coarse picture, and its size. It is near, not the same, for
    the same shape drawn elsewhere; compare marks by `alike`."""
    half = SIDE // _MARK_SIDE
    coarse = shape.picture.reshape(_MARK_SIDE, half, _MARK_SIDE, half).mean(axis=(1, 3))
    levels = np.rint(coarse / 85).astype(np.uint8).reshape(-1, 4)
    packed = (levels << np.array([6, 4, 2, 0], np.uint8)).sum(axis=1).astype(np.uint8)
    sizes = bytes(
        int(np.clip(round(_MARK_STEP * math.log2(size)) + 128, 0, 255))
        for size in (shape.width, shape.height)
    )
    return base64.urlsafe_b64encode(packed.tobytes() + sizes).decode().rstrip("=")


def shape_of_mark(mark: str) -> Shape | None:
    """The shape that a mark tells of, with its origin at its corner; None where it is no mark."""
    try:
        data = base64.urlsafe_b64decode(mark + "=" * (-len(mark) % 4))
    except (ValueError, binascii.Error):
        return None
    if len(data) != _MARK_BYTES + 2:
        return None
    packed = np.frombuffer(data[:_MARK_BYTES], np.uint8)[:, None]
    levels = packed >> np.array([6, 4, 2, 0], np.uint8) & 3
    coarse = (levels * 85).astype(np.uint8).reshape(_MARK_SIDE, _MARK_SIDE)
    half = SIDE // _MARK_SIDE
    width, height = (2 ** ((byte - 128) / _MARK_STEP) for byte in data[_MARK_BYTES:])
    return Shape(coarse.repeat(half, 0).repeat(half, 1), 0.0, 0.0, width, height)
