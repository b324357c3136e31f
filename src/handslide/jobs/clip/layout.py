"""Where the things of a clip stand in its picture, in pixels.

Wide: the music above, the mark of the note that sounds in the middle, the slide below. Upright: the
music above, below it the slide as its player sees it, away is up, and the mark beside it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

# Lengths for a picture whose shorter side is 720 pixels.
_STAFF, _MOST_MUSIC = 76.0, {False: 370.0, True: 520.0}
_TOP, _GAP, _SIDE, _FOOT = 24.0, 16.0, 44.0, 22.0
_MARK, _NUMBERS = {False: 92.0, True: 150.0}, {False: 25.0, True: 32.0}
_LOOK = 0.36  # of the width: where the music is looked at
_CAPTION = 96.0  # upright: what stays free at the foot for captions


@dataclass(frozen=True, slots=True)
class Layout:
    """``look`` is the column where the music is looked at, ``music`` the row it begins in and the
    row it ends in; ``mark`` the middle of the large mark and its size."""

    unit: float
    pixels_a_mm: float
    look: int
    music: tuple[int, int]
    mark: tuple[int, int]
    mark_px: float
    slide_px: float
    slide: tuple[int, int]
    numbers_px: float
    captions: Mapping[str, str]
    """Where captions leave the picture free, as the settings of a WebVTT cue."""


def layout_of(
    size: tuple[int, int], strip_mm: tuple[float, float], share: float, numbers: float
) -> Layout:
    """Of a picture of this width and height.

    ``strip_mm`` is how high the music is and how high its staff. A slide of length 1 with numbers
    of size 1 is ``share`` + ``numbers`` across.
    """
    width, height = size
    upright = height > width
    unit = min(size) / 720
    high_mm, staff_mm = strip_mm
    pixels_a_mm = min(_STAFF / staff_mm, _MOST_MUSIC[upright] / high_mm) * unit
    top = _TOP * unit
    low = top + high_mm * pixels_a_mm
    mark_px, numbers_px = _MARK[upright] * unit, _NUMBERS[upright] * unit
    ruler = numbers * numbers_px
    if upright:
        room = height - low - (2 * _GAP + _CAPTION) * unit
        long = max(min(room, (0.4 * width - ruler) / share), 10.0)
        across = share * long + ruler
        begin = low + _GAP * unit + (room - long) / 2
        slide = (round(0.12 * width), round(begin))
        mark = (round((0.12 * width + across + width) / 2), round(begin + long / 2))
        captions = {"line": "97%,end", "align": "center"}
    else:
        long = width - 2 * _SIDE * unit
        most = height - low - (2 * _GAP + _FOOT) * unit - mark_px - ruler
        long = max(min(long, most / share), 10.0)
        across = share * long + ruler
        slide = (round((width - long) / 2), round(height - _FOOT * unit - across))
        mark = (round(width / 2), round((low + slide[1]) / 2))
        # Beside the mark, which has the middle for itself.
        line = f"{100 * mark[1] / height:.0f}%,center"
        captions = {"line": line, "position": "97%", "size": "38%", "align": "end"}
    return Layout(
        unit, pixels_a_mm, round(_LOOK * width), (round(top), round(low)), mark, mark_px, long,
        slide, numbers_px, captions,
    )  # fmt: skip
