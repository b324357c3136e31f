"""What can be asked of a clip; quick to load."""

import re
from dataclasses import dataclass

from handslide.ground.errors import BadUsage
from handslide.ground.limits import (
    LEAST_CLIP_PIXELS,
    LEAST_FPS,
    LINE_LETTERS,
    MOST_CLIP_PIXELS,
    MOST_FPS,
)

_SIZE = re.compile(r"(\d{1,5})\s*[x×]\s*(\d{1,5})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ClipWishes:
    """How a clip looks: ``size`` is width and height in pixels; higher than wide stands upright.

    ``title`` is the card before the music (None: the title of the score, empty: no card), ``end``
    the one behind it (empty: none). Each line of them has a line of its own.
    """

    size: tuple[int, int] = (1280, 720)
    fps: int = 30
    title: str | None = None
    end: str = ""

    @property
    def upright(self) -> bool:
        """Whether it is to be seen on a phone that is held upright."""
        return self.size[1] > self.size[0]


def read_size(text: str) -> tuple[int, int]:
    """A size as typed: ``1920x1080``. Raises BadUsage."""
    found = _SIZE.fullmatch(text.strip())
    if found is None:
        raise BadUsage("clips.size", wish=text)
    return int(found[1]), int(found[2])


def check_wishes(wishes: ClipWishes) -> None:
    """Raises BadUsage for what no clip can have."""
    low, high = LEAST_CLIP_PIXELS, MOST_CLIP_PIXELS
    # Colours are stored for two by two pixels.
    if not all(low <= side <= high and side % 2 == 0 for side in wishes.size):
        width, height = wishes.size
        raise BadUsage("clips.side", width=width, height=height, low=low, high=high)
    if not LEAST_FPS <= wishes.fps <= MOST_FPS:
        raise BadUsage("clips.fps", fps=wishes.fps, low=LEAST_FPS, high=MOST_FPS)
    for text in (wishes.title or "", wishes.end):
        if len(text) > LINE_LETTERS:
            raise BadUsage("clips.card", letters=len(text), most=LINE_LETTERS)
