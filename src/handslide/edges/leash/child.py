"""The child's side: takes functions with their arguments one after the other, and answers.

It imports only what these functions need. Its own output goes nowhere: whatever a library prints,
the pipes hold messages alone.
"""

import contextlib
import gc
import importlib
import io
import os
import signal
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO, Literal, TypeAlias

from handslide.edges.leash.wire import receive, send
from handslide.ground.errors import HandslideError
from handslide.ground.limits import LEASH_PATIENCE

OUT_OF_MEMORY = 77  # exit code
OUT_OF_TIME = () if sys.platform == "win32" else (-signal.SIGPROF, -signal.SIGALRM)  # exit codes
_GRACE_S = 5.0  # the program's own limit comes first
_LEAST_S = 0.001
_LENT_BLOCK = 2**18

# How a function's time is counted: for its result, or for each or all of the items that it yields.
Way: TypeAlias = Literal["call", "each", "all"]
_wire: tuple[BinaryIO, BinaryIO] | None = None


@dataclass(frozen=True, slots=True)
class Lent:
    """An open file of the program's, ``size`` bytes long, read through the pipe."""

    size: int

    def open(self) -> BinaryIO:
        """The file, to be read and sought in the child."""
        return io.BufferedReader(_LentFile(self.size), _LENT_BLOCK)


class _LentFile(io.RawIOBase):
    def __init__(self, size: int) -> None:
        self._size, self._at = size, 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        start = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._size}[whence]
        self._at = max(0, start + offset)
        return self._at

    def readinto(self, buffer: Any) -> int:
        assert _wire is not None
        requests, answers = _wire
        send(answers, ("read", (self._at, min(len(buffer), max(0, self._size - self._at)))))
        data: bytes = receive(requests)
        buffer[: len(data)] = data
        self._at += len(data)
        return len(data)


def serve(lifeline: int, memory_bytes: int, preload: Sequence[str]) -> None:
    """Answer requests until there are no more. ``lifeline`` is a pipe that ends with the program,
    or -1; ``preload`` are modules to import before the first request."""
    global _wire
    _wire = requests, answers = _own_pipes()
    _live_as_long_as(lifeline)
    _limit_memory(memory_bytes)
    try:
        for name in preload:
            # What can't be imported fails where it is used, with its own words.
            with contextlib.suppress(ImportError):
                importlib.import_module(name)
        send(answers, ("ready", None))
        while True:
            function, arguments, seconds, way = receive(requests)
            _answer(answers, function, arguments, seconds, way)
            # Not to be held until the next request comes.
            del function, arguments
            if not gc.isenabled():
                # The function put it off until nobody waits.
                gc.enable()
                gc.collect()
    except (EOFError, OSError):
        return
    except MemoryError:
        os._exit(OUT_OF_MEMORY)


def _answer(answers: BinaryIO, function: Any, arguments: Any, seconds: float, way: Way) -> None:
    try:
        _kill_after(seconds)
        result = function(*arguments)
        if way != "call":
            for item in result:
                # The program takes the next item when it likes.
                left = _kill_after(0)
                send(answers, ("item", item))
                _kill_after(seconds if way == "each" else left)
            result = None
        _kill_after(0)
        message = "done", result
    except MemoryError:
        os._exit(OUT_OF_MEMORY)
    except HandslideError as error:
        message = "error", error
    except Exception:
        import traceback  # seldom needed, and slow to load

        message = "raised", traceback.format_exc()
    _kill_after(0)
    send(answers, message)


def _own_pipes() -> tuple[BinaryIO, BinaryIO]:
    """The pipes, moved away from where libraries read and print."""
    requests, answers = os.dup(0), os.dup(1)
    nothing = os.open(os.devnull, os.O_RDWR)
    for standard in (0, 1, 2):
        os.dup2(nothing, standard)
    os.close(nothing)
    if sys.platform == "win32":
        import msvcrt

        msvcrt.setmode(requests, os.O_BINARY)
        msvcrt.setmode(answers, os.O_BINARY)
    return os.fdopen(requests, "rb"), os.fdopen(answers, "wb")


def _live_as_long_as(lifeline: int) -> None:
    """End with the program, however it ends, even amid a library's endless loop.

    Waiting for a request, the child sees the end of the pipe. At work the system tells it by a
    signal, where it can (Linux); else the limit of time ends it.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C means the program
    if lifeline < 0 or sys.platform == "win32":
        return
    import fcntl
    import select

    signal.signal(signal.SIGIO, signal.SIG_DFL)
    with contextlib.suppress(OSError):
        fcntl.fcntl(lifeline, fcntl.F_SETOWN, os.getpid())
        fcntl.fcntl(lifeline, fcntl.F_SETFL, os.O_ASYNC | os.O_NONBLOCK)
    if select.select([lifeline], [], [], 0)[0]:
        os._exit(0)


def _limit_memory(most_bytes: int) -> None:
    """Bound the memory where the system has such bounds (not on Windows; macOS ignores them)."""
    if sys.platform == "win32":
        return
    import resource

    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    for which in (resource.RLIMIT_AS, resource.RLIMIT_DATA):
        _, most = resource.getrlimit(which)
        bound = most_bytes if most == resource.RLIM_INFINITY else min(most_bytes, most)
        with contextlib.suppress(OSError, ValueError):
            resource.setrlimit(which, (bound, bound))


def _kill_after(seconds: float) -> float:
    """Let the system end this process, whatever it does, when it has worked so long, and some time
    after it may have waited so long; 0: never. Gives how long it might still have worked."""
    if sys.platform == "win32":
        return seconds
    left, _ = signal.setitimer(signal.ITIMER_PROF, seconds)
    signal.setitimer(signal.ITIMER_REAL, seconds * LEASH_PATIENCE + _GRACE_S if seconds else 0)
    # None left is not the same as no limit.
    return max(left, _LEAST_S)
