"""The files of a folder and all folders in it, whatever links and odd names are there."""

import os
import stat
import unicodedata
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from handslide.ground.errors import BadData
from handslide.ground.system import system_reason


@dataclass(frozen=True, slots=True)
class TreeFile:
    """A file by its ``path`` in the folder, with ``/`` between names."""

    path: str
    size: int
    mtime_ns: int


@dataclass(frozen=True, slots=True)
class Tree:
    """The files found, in the order of their paths, and how many were passed over: ``odd`` for
    names that aren't text, ``closed`` folders that couldn't be opened."""

    files: tuple[TreeFile, ...]
    odd: int
    closed: int


def walk_tree(
    root: Path,
    endings: Collection[str],
    without: Path | None = None,
    most_entries: int | None = None,
) -> Tree:
    """All plain files below ``root`` whose names have one of ``endings`` (small, with a dot).

    What is hidden (its name begins with a dot) is passed over, and the folder ``without``. A folder
    is looked at once, however many links lead to it. ``most_entries``: files and folders of any
    kind that are looked at before it is given up.

    Raises
    ------
    BadData
        When ``root`` isn't there, is no folder or can't be opened; when it holds too much.
    """
    try:
        next(root.iterdir(), None)
    except OSError as error:
        reason = system_reason(error)
        raise BadData("library.folder", folder=str(root), reason=reason) from None
    found: list[TreeFile] = []
    odd = closed = entries_seen = 0
    seen: set[tuple[int, int]] = set()
    # A link to where the folder itself lies leads round in a circle.
    for other in (without, *root.resolve().parents):
        if other is not None and other.exists():
            seen.add(_identity(other.stat()))
    linked: list[str] = []
    waiting = [""]
    while waiting or linked:
        # Folders under their own names come before what is only linked.
        place = waiting.pop() if waiting else linked.pop(0)
        here = root / place
        try:
            identity = _identity(here.stat())
            if identity in seen:
                continue
            seen.add(identity)
            with os.scandir(here) as entries:
                names = sorted(entries, key=lambda entry: entry.name)
        except OSError:
            closed += 1
            continue
        entries_seen += len(names)
        if most_entries is not None and entries_seen > most_entries:
            raise BadData("library.folder_large", folder=str(root), most=most_entries)
        for entry in reversed(names):
            if entry.name.startswith("."):
                continue
            path = f"{place}/{entry.name}" if place else entry.name
            try:
                kind = entry.stat()
            except OSError:  # a link to nothing, or gone meanwhile
                continue
            if stat.S_ISDIR(kind.st_mode):
                (linked if entry.is_symlink() else waiting).append(path)
            elif stat.S_ISREG(kind.st_mode) and Path(entry.name).suffix.lower() in endings:
                if _is_text(entry.name):
                    found.append(TreeFile(path, kind.st_size, kind.st_mtime_ns))
                else:
                    odd += 1
    return Tree(tuple(sorted(found, key=lambda file: file.path)), odd, closed)


def _is_text(name: str) -> bool:
    """Whether a name can be written down: bytes of no encoding, and control signs, can't."""
    return all(unicodedata.category(sign) not in ("Cc", "Cs") for sign in name)


def _identity(kind: os.stat_result) -> tuple[int, int]:
    return kind.st_dev, kind.st_ino
