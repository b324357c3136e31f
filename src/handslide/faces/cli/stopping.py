"""Ctrl-C as a wish: what is under way is finished first."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def stoppable() -> Iterator[Callable[[], bool]]:
    """Give a function that says whether somebody wants to end; a second wish ends at once."""
    if threading.current_thread() is not threading.main_thread():
        yield lambda: False
        return
    asked = threading.Event()

    def ask(number: int, frame: FrameType | None) -> None:
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()

    before = {one: signal.signal(one, ask) for one in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield asked.is_set
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)
