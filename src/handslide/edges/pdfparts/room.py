"""Free room on a page: where nothing is printed, by a picture of it.

The page is drawn as its reader sees it, with annotations, and looked at in grey: ink is what stands
out from the page's own light colour. Lengths are in seen points, y up.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

PIXELS_A_POINT = 2.5
LEAST_PIXELS_A_POINT = 0.5
MOST_PIXELS = 12_000_000
CONTRAST = 40
"""Levels of grey, of 255, by which ink stands out; a watermark for copies stands out by fewer."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in seen points."""

    x0: float
    y0: float
    x1: float
    y1: float


class Room:
    """What is printed where on a page of ``width`` by ``height``; boxes can be taken too."""

    def __init__(self, grey: NDArray[np.uint8], width: float, height: float) -> None:
        """``grey`` is the page's picture, from the top, shape (rows, columns)."""
        self.width, self.height = width, height
        rows, columns = grey.shape
        self._across, self._up = columns / width, rows / height
        paper = 128 + int(np.bincount(grey.ravel(), minlength=256)[128:].argmax())
        ink = (np.abs(np.arange(256) - paper) > CONTRAST).astype(np.int32)[grey]
        # How many dark pixels lie above and left of each corner: any box is four look-ups.
        self._sums = np.zeros((rows + 1, columns + 1), np.int32)
        self._sums[1:, 1:] = ink.cumsum(axis=1, dtype=np.int32).cumsum(axis=0, dtype=np.int32)
        self._taken = np.empty((0, 4))

    def take(self, box: Box) -> None:
        """Something of ours stands there now."""
        self._taken = np.vstack((self._taken, (box.x0, box.y0, box.x1, box.y1)))

    def is_free(self, x0: Any, y0: Any, x1: Any, y1: Any) -> NDArray[np.bool_]:
        """Whether boxes are on the page, without ink, and not taken. Arrays that broadcast."""
        x0, y0, x1, y1 = np.broadcast_arrays(
            *(np.asarray(value, float) for value in (x0, y0, x1, y1))
        )
        free = (x0 >= 0) & (y0 >= 0) & (x1 <= self.width) & (y1 <= self.height)
        rows, columns = (size - 1 for size in self._sums.shape)
        left = np.clip(np.floor(x0 * self._across), 0, columns).astype(int)
        right = np.clip(np.ceil(x1 * self._across), 0, columns).astype(int)
        top = np.clip(np.floor((self.height - y1) * self._up), 0, rows).astype(int)
        bottom = np.clip(np.ceil((self.height - y0) * self._up), 0, rows).astype(int)
        sums = self._sums
        dark = sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left]
        free &= dark == 0
        if len(self._taken):
            a0, b0, a1, b1 = self._taken.T
            x0, y0, x1, y1 = (value[..., np.newaxis] for value in (x0, y0, x1, y1))
            free &= ((x0 >= a1) | (a0 >= x1) | (y0 >= b1) | (b0 >= y1)).all(axis=-1)
        return np.asarray(free)


def picture(page: Any, pixels_a_point: float, *, grey: bool) -> NDArray[np.uint8]:
    """A page of pypdfium2 as its reader sees it, shape (rows, columns) or (rows, columns, 3)."""
    width, height = page.get_size()
    most = (MOST_PIXELS / max(width * height, 1.0)) ** 0.5
    scale = max(LEAST_PIXELS_A_POINT, min(pixels_a_point, most))
    drawn = page.render(scale=scale, grayscale=grey, rev_byteorder=not grey).to_numpy()
    return np.ascontiguousarray(drawn[..., 0] if grey and drawn.ndim == 3 else drawn)


def paints_ground(page: Any) -> bool:
    """Whether a page of pypdfium2 paints its own ground, so that nothing under it is seen."""
    grey = page.render(scale=LEAST_PIXELS_A_POINT, grayscale=True, fill_color=(160, 160, 160, 255))
    return bool((grey.to_numpy() == 160).mean() < 0.5)


def room_of(page: Any) -> Room:
    """The free room of a page of pypdfium2."""
    width, height = page.get_size()
    return Room(picture(page, PIXELS_A_POINT, grey=True), width, height)
