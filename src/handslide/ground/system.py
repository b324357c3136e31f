"""What the system says and holds: why it refused, as a fact for what is common, else in its own
words; memory that it could have back."""

import contextlib
import ctypes
import errno
import sys

from handslide.ground.facts import Fact, fact

_KNOWN = {
    errno.ENOENT: fact("files.no_such_file"),
    errno.EACCES: fact("files.not_allowed"),
    errno.EPERM: fact("files.not_permitted"),
    errno.EISDIR: fact("files.a_folder"),
    errno.ENOTDIR: fact("files.no_folder"),
    errno.ENOSPC: fact("files.no_space"),
    errno.EDQUOT: fact("files.no_space"),
    errno.EROFS: fact("files.read_only"),
    errno.EADDRINUSE: fact("files.address_taken"),
}


def system_reason(error: Exception) -> Fact | str:
    """What a system's error says, for the value ``reason`` of a fact."""
    if not isinstance(error, OSError):
        return str(error)
    return _KNOWN.get(error.errno or 0) or error.strerror or str(error)


def give_back_memory() -> None:
    """Hand free memory back to the system, where the C library keeps it: glibc does, thread by
    thread, and a server with many threads grows by what each once needed."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):
            ctypes.CDLL(None).malloc_trim(0)
