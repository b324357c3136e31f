"""What is asked of a library."""

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from handslide.edges.musicxml.read import ENDINGS as MUSICXML
from handslide.edges.otherscores.read import ENDINGS as OTHERS
from handslide.edges.otherscores.read import can_convert
from handslide.ground.errors import BadUsage, NotInstalled
from handslide.jobs.library.players import Player
from handslide.jobs.mark.mark import MarkOptions

KNOWN = (*MUSICXML, *OTHERS)


@dataclass(frozen=True, slots=True)
class LibraryWishes:
    """Which files of ``source`` are marked for whom, how, and where to.

    ``workers`` is how many processes work at once, ``scheduler`` the address of a cluster that
    works in their place. ``force``: files that stand where ours are to stand are replaced.
    """

    source: Path
    folder: Path
    players: tuple[Player, ...]
    options: MarkOptions = field(default_factory=MarkOptions)
    pdf: bool = True
    endings: tuple[str, ...] = KNOWN
    workers: int = 1
    scheduler: str | None = None
    retry_errors: bool = False
    force: bool = False


def parse_formats(text: str | None) -> tuple[str, ...]:
    """Endings of names as typed: ``mxl,musicxml``; None for all that can be read.

    Raises BadUsage for one that can't be read.
    """
    if text is None:
        return KNOWN
    found = [f".{word.strip().lower().lstrip('.')}" for word in text.split(",") if word.strip()]
    for ending in found:
        if ending not in KNOWN:
            known = ", ".join(one.lstrip(".") for one in KNOWN)
            raise BadUsage("library.format", name=ending.lstrip("."), known=known)
    return tuple(found) or KNOWN


def processors() -> int:
    """How many processors this program may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def check_folders(source: Path, folder: Path) -> None:
    """Raises BadUsage where results would stand among what they are made of."""
    here, there = source.resolve(), folder.resolve()
    if here == there or there in here.parents:
        raise BadUsage("library.one_folder", folder=str(folder), source=str(source))


def check_readers(paths: Sequence[str]) -> None:
    """Raises NotInstalled, before anything is done, where some of these files can't be read for
    want of the extra ``formats``."""
    others = [path for path in paths if path.lower().endswith(OTHERS)]
    if others and not can_convert():
        rest = ",".join(one.lstrip(".") for one in MUSICXML)
        raise NotInstalled("library.no_reader", count=len(others), file=others[0], rest=rest)


def names_of(paths: Sequence[str]) -> dict[str, str]:
    """What the files made of each source are called, with its folders: its stem; where several of a
    folder share one, the whole name."""
    stems: dict[str, list[str]] = {}
    for path in paths:
        stems.setdefault(_stem(path).casefold(), []).append(path)
    return {
        path: _stem(path) if len(group) == 1 else _whole(path)
        for group in stems.values()
        for path in group
    }


def _whole(path: str) -> str:
    folder, slash, name = path.rpartition("/")
    return f"{folder}{slash}{name.replace('.', '-')}"


def _stem(path: str) -> str:
    folder, slash, name = path.rpartition("/")
    return f"{folder}{slash}{name.rpartition('.')[0]}"
