"""Reading files that somebody names: plain ones only, and never more than fits.

A device never ends and a pipe may never begin; both look like files by name.
"""

import os
import stat
from pathlib import Path


class NotPlain(OSError):
    """It is a device, a pipe or the like."""


class TooLarge(OSError):
    """It has more bytes than it may."""


def read_plain(path: Path, most_bytes: int) -> bytes:
    """All bytes of a plain file.

    Raises
    ------
    IsADirectoryError, NotPlain, TooLarge, OSError
        When it is none, has more than ``most_bytes``, or for what the system says.
    """
    try:
        # Opening a pipe would wait for its writer.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | _BINARY)
    except PermissionError:
        if path.is_dir():  # what Windows says of a folder
            raise IsADirectoryError(path) from None
        raise
    except ValueError as error:  # a zero byte in the name
        raise FileNotFoundError(path) from error
    with os.fdopen(handle, "rb") as file:
        kind = os.fstat(handle).st_mode
        if stat.S_ISDIR(kind):
            raise IsADirectoryError(path)
        if not stat.S_ISREG(kind):
            raise NotPlain(path)
        data = file.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise TooLarge(path)
    return data


def is_there(path: Path) -> bool:
    """Whether there is something of that name; a name that no file can have isn't there."""
    try:
        return path.exists()
    except OSError:
        return False


def is_same(one: Path, other: Path) -> bool:
    """Whether two names are those of one file that is there."""
    try:
        return one.samefile(other)
    except OSError:
        return False


_BINARY = getattr(os, "O_BINARY", 0)
