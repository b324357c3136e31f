"""A progress bar on the terminal, shown only where a person waits more than a second."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_PATIENCE_S = 1.0
_WIDTH = 24
# Shares of the whole that the stages of marking take, measured on a four-page study.
_STAGES = {"reading": (0.0, 0.1), "choosing": (0.1, 0.2), "engraving": (0.2, 0.75),
           "typesetting": (0.75, 1.0)}  # fmt: skip

Progress = Callable[[str, int, int], None]


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Give a callback ``(stage, done, total)``; draws on stderr if that is a terminal."""
    start = time.monotonic()
    drawn = False
    live = sys.stderr.isatty()

    def show(stage: str, done: int, total: int) -> None:
        nonlocal drawn
        slow = time.monotonic() - start > _PATIENCE_S
        if not live or not (slow or stage in ("engraving", "typesetting")):
            return
        low, high = _STAGES.get(stage, (0.0, 1.0))
        share = low + (high - low) * (done / total if total else 1.0)
        filled = round(_WIDTH * share)
        bar = "█" * filled + "·" * (_WIDTH - filled)
        sys.stderr.write(f"\r{bar} {100 * share:3.0f} %  {stage:<12}")
        sys.stderr.flush()
        drawn = True

    try:
        yield show
    finally:
        if drawn:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
