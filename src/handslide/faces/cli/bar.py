"""A progress bar on the terminal, shown only where a person waits more than a second."""

import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from handslide.ground.progress import ProgressCallback

_PATIENCE_S = 1.0
_WIDTH = 24
# Shares of the whole that the stages of marking take, measured on a four-page study.
_STAGES = {
    "reading": (0.0, 0.1),
    "choosing": (0.1, 0.2),
    "engraving": (0.2, 0.75),
    "typesetting": (0.75, 1.0),
    "drawing": (0.0, 0.15),
    "class": (0.15, 1.0),
    "hearing": (0.0, 0.6),
    "measuring": (0.6, 1.0),
    "learning": (0.1, 1.0),
    "filming": (0.2, 1.0),
}


class _Bar:
    """The last state told, drawn once the patience is over."""

    def __init__(self) -> None:
        self.start = time.monotonic()
        self.state = ("", 0, 1)
        self.drawn = False
        self.done = False
        self.lock = threading.Lock()
        # A stage that blocks tells nothing meanwhile; the timer draws what it said last.
        self.timer = threading.Timer(_PATIENCE_S, self.draw)
        self.timer.daemon = True
        self.timer.start()

    def tell(self, stage: str, done: int, total: int) -> None:
        self.state = (stage, done, total)
        if time.monotonic() - self.start > _PATIENCE_S:
            self.draw()

    def draw(self) -> None:
        with self.lock:
            if self.done:
                return
            stage, done, total = self.state
            low, high = _STAGES.get(stage, (0.0, 1.0))
            share = low + (high - low) * (done / total if total else 1.0)
            filled = round(_WIDTH * share)
            bar = "█" * filled + "·" * (_WIDTH - filled)
            sys.stderr.write(f"\r{bar} {100 * share:3.0f} %  {stage:<12}")
            sys.stderr.flush()
            self.drawn = True

    def close(self) -> None:
        self.timer.cancel()
        with self.lock:
            self.done = True
            if self.drawn:
                sys.stderr.write("\r\x1b[K")
                sys.stderr.flush()


@contextmanager
def progress_bar() -> Iterator[ProgressCallback]:
    """Give a callback ``(stage, done, total)`` that draws on stderr if that is a terminal."""
    if not sys.stderr.isatty():
        yield lambda stage, done, total: None
        return
    bar = _Bar()
    try:
        yield bar.tell
    finally:
        bar.close()
