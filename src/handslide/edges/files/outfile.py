"""Writing results: beside the target first, then one rename, so that no half file is ever left."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from handslide.ground.errors import OutputError
from handslide.ground.system import system_reason

_BEFORE, _ENDING = ".handslide-", ".part"


def write_result(path: Path, data: bytes, *, force: bool = False, private: bool = False) -> None:
    """Write ``data`` under ``path`` whole or not at all; ``private``: for its owner alone.

    Raises
    ------
    OutputError
        When the file exists and ``force`` is false, or when the folder can't be written to.
    """
    with written_beside(path, force=force, private=private) as temporary:
        temporary.write_bytes(data)


@contextmanager
def written_beside(
    path: Path, *, force: bool = False, private: bool = False, suffix: str = _ENDING
) -> Iterator[Path]:
    """A file beside ``path`` to be written in the block, which then becomes ``path``.

    Nothing stays of it when the block fails. ``suffix`` is its ending until then. Raises as
    `write_result` does.
    """
    check_free(path, force=force)
    temporary: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=_BEFORE, suffix=suffix, dir=path.parent)
        os.close(handle)
        temporary = Path(name)
        yield temporary
        with temporary.open("r+b") as file:
            os.fsync(file.fileno())
        if not private:
            temporary.chmod(0o666 & ~_umask())
        if force:
            temporary.replace(path)
        else:
            _publish_new(temporary, path)
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        reason = system_reason(error)
        raise OutputError("files.unwritten", path=str(path), reason=reason) from error
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def check_free(path: Path, *, force: bool = False) -> None:
    """Raise OutputError when ``path`` is a folder, or exists and ``force`` is false."""
    try:
        is_folder, is_there = path.is_dir(), path.exists()
    except OSError as error:  # a name that no file can have
        reason = system_reason(error)
        raise OutputError("files.unwritten", path=str(path), reason=reason) from error
    if is_folder:
        raise OutputError("files.is_folder", path=str(path))
    if is_there and not force:
        raise OutputError("files.exists", path=str(path))


def sweep_unfinished(folder: Path) -> None:
    """Take away what writers that were killed left in a folder; nobody may be writing there."""
    with suppress(OSError):
        for path in folder.glob(f"{_BEFORE}*{_ENDING}"):
            path.unlink(missing_ok=True)


def _publish_new(temporary: Path, path: Path) -> None:
    # A hard link fails when the name was taken meanwhile; not every file system has links.
    try:
        os.link(temporary, path)
    except FileExistsError as error:
        raise OutputError("files.exists", path=str(path)) from error
    except OSError:
        temporary.replace(path)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
