"""A progress bar on the terminal, shown only where a person waits more than a second."""

import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from handslide.ground.progress import ProgressCallback, silent

if TYPE_CHECKING:
    from handslide.words.speech import Speech

_PATIENCE_S = 1.0
_WIDTH = 24
_EVERY_S = 0.25
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
            share, text = self.shown()
            filled = round(_WIDTH * share)
            bar = "█" * filled + "·" * (_WIDTH - filled)
            sys.stderr.write(f"\r{bar} {100 * share:3.0f} %  {text}")
            sys.stderr.flush()
            self.drawn = True

    def shown(self) -> tuple[float, str]:
        """How much of the whole is done, and what stands beside the bar."""
        stage, done, total = self.state
        low, high = _STAGES.get(stage, (0.0, 1.0))
        return low + (high - low) * (done / total if total else 1.0), f"{stage:<12}"

    def close(self) -> None:
        self.timer.cancel()
        with self.lock:
            self.done = True
            if self.drawn:
                sys.stderr.write("\r\x1b[K")
                sys.stderr.flush()


class _RateBar(_Bar):
    """A bar for thousands of equal pieces, drawn a few times a second: how many are done, how many
    a second, and how long the rest takes."""

    def __init__(self, say: "Speech") -> None:
        self.say = say
        self.began = ("", 0.0)
        self.last = 0.0
        super().__init__()

    def tell(self, stage: str, done: int, total: int) -> None:
        now = time.monotonic()
        if stage != self.began[0]:
            self.began = (stage, now)
        self.state = (stage, done, total)
        if now - self.start > _PATIENCE_S and (now - self.last > _EVERY_S or done == total):
            self.last = now
            self.draw()

    def shown(self) -> tuple[float, str]:
        from handslide.words import library as words

        stage, done, total = self.state
        rate = done / max(_EVERY_S, time.monotonic() - self.began[1])
        text = self.say(words.STAGES[stage]) if stage else ""
        if done:
            left = words.time_left(self.say, (total - done) / rate)
            text = f"{text} " + self.say(words.RATE, done=done, total=total, rate=rate, left=left)
        return (done / total if total else 1.0), f"{text}\x1b[K"


@contextmanager
def rate_bar(say: "Speech") -> Iterator[ProgressCallback]:
    """As `progress_bar`, for thousands of equal pieces."""
    if not sys.stderr.isatty():
        yield silent
        return
    bar = _RateBar(say)
    try:
        yield bar.tell
    finally:
        bar.close()


@contextmanager
def progress_bar() -> Iterator[ProgressCallback]:
    """Give a callback ``(stage, done, total)`` that draws on stderr if that is a terminal."""
    if not sys.stderr.isatty():
        yield silent
        return
    bar = _Bar()
    try:
        yield bar.tell
    finally:
        bar.close()
