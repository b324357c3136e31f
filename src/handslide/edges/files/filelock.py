"""A file that one process at a time holds: who dies lets go of it."""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from handslide.ground.errors import OutputError
from handslide.ground.system import system_reason

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]
    import msvcrt

_EVERY_S = 0.05


@contextmanager
def hold(path: Path, patience_s: float) -> Iterator[None]:
    """Hold the file ``path``, which is made where it isn't there and stays.

    Raises
    ------
    OutputError
        When the folder can't be written to, or somebody else holds it after ``patience_s``.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        reason = system_reason(error)
        raise OutputError("files.unwritten", path=str(path), reason=reason) from error
    try:
        until = time.monotonic() + patience_s
        while not _taken(handle):
            if time.monotonic() > until:
                raise OutputError("files.held", path=str(path))
            time.sleep(_EVERY_S)
        yield
    finally:
        os.close(handle)  # which lets go of it


def _taken(handle: int) -> bool:
    try:
        if fcntl is not None:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        else:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        pass  # a file system that has no locks
    return True
