"""Zip archives that somebody sends: what their list says is bounded before it is read.

Members are stored or deflated. Other methods have no bound on what a few bytes unpack to before
the first of it can be counted.
"""

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, Any

_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENTRY = b"PK\x01\x02"


class ManyEntries(Exception):
    """An archive lists more files than it may. ``count`` of them, 0 where it wasn't counted."""

    def __init__(self, count: int = 0) -> None:
        super().__init__(count)
        self.count = count


class OtherMethod(Exception):
    """An archive has a member that is packed in another way than ours."""


@contextmanager
def open_zip(file: IO[bytes], most_entries: int, most_list_bytes: int) -> Iterator[zipfile.ZipFile]:
    """An archive to read; all of its members are stored or deflated.

    Raises
    ------
    ManyEntries, OtherMethod, zipfile.BadZipFile
    """
    reader = _Reader(file, most_entries, most_list_bytes)
    with zipfile.ZipFile(reader) as archive:
        reader.opening = False
        if any(info.compress_type not in _METHODS for info in archive.infolist()):
            raise OtherMethod
        yield archive


class _Reader:
    """A file whose list of members is looked at between reading and parsing it.

    The list is read in one piece, as long as the archive's end says; each member in it begins with
    the same four bytes.
    """

    def __init__(self, file: IO[bytes], most_entries: int, most_bytes: int) -> None:
        self._file = file
        self._most_entries = most_entries
        self._most_bytes = most_bytes
        self.opening = True

    def read(self, size: int = -1) -> bytes:
        if self.opening and size > self._most_bytes:
            raise ManyEntries
        data = self._file.read(size)
        if self.opening:
            count = data.count(_ENTRY)
            if count > self._most_entries:
                raise ManyEntries(count)
        return data

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)
