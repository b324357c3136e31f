"""Which parts of which files are taken, where a person knows better: a small TOML file.

A table for each file, by its path in the library, or for several by a pattern such as
``"marches/*"``: ``take`` lists parts by id, name or number (``"*"``: all with notes; an empty list:
none); ``sounds`` says how they sound where the file doesn't. Later tables have the last word.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from handslide.edges.files.plainfile import is_there, read_plain
from handslide.edges.files.toml import WrongToml, parse_toml
from handslide.ground.errors import BadData
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import TYPED_BYTES
from handslide.ground.system import system_reason
from handslide.instrument.markstyle import SOUNDS

FILE_NAME = "parts.toml"


@dataclass(frozen=True, slots=True)
class PartChoice:
    """What a person says of a file; None: nothing."""

    take: tuple[str, ...] | None = None
    sounds: str | None = None


@dataclass(frozen=True, slots=True)
class PartChoices:
    """All that is said, in its order: patterns and what they are for."""

    rows: tuple[tuple[str, PartChoice], ...] = ()

    def of(self, path: str) -> PartChoice:
        """What is said of a file."""
        take, sounds = None, None
        for pattern, choice in self.rows:
            if path == pattern or fnmatchcase(path, pattern):
                take = take if choice.take is None else choice.take
                sounds = choice.sounds or sounds
        return PartChoice(take, sounds)

    def and_then(self, other: "PartChoices") -> "PartChoices":
        """These, and others that have the last word."""
        return PartChoices(self.rows + other.rows)


def read_part_choices(path: Path) -> PartChoices:
    """What a file says; nothing where it isn't there. Raises BadData."""
    if not is_there(path):
        return PartChoices()
    try:
        table = parse_toml(read_plain(path, TYPED_BYTES).decode("utf-8-sig"))
    except (OSError, UnicodeDecodeError) as error:
        raise _wrong(path, system_reason(error)) from None
    except WrongToml as error:
        raise _wrong(path, error.reason) from None
    rows = []
    for pattern, row in table.items():
        if not isinstance(row, dict):
            raise _wrong(path, fact("library.no_table", name=pattern))
        rows.append((pattern, _choice(path, pattern, row)))
    return PartChoices(tuple(rows))


def _choice(path: Path, pattern: str, row: Mapping[str, Any]) -> PartChoice:
    for key in row:
        if key not in ("take", "sounds"):
            raise _wrong(path, fact("library.unknown_key", name=pattern, key=key))
    take, sounds = row.get("take"), row.get("sounds")
    if take is not None and not (
        isinstance(take, list) and all(isinstance(name, str | int) for name in take)
    ):
        raise _wrong(path, fact("library.take", name=pattern))
    if sounds is not None and sounds not in SOUNDS:
        raise _wrong(path, fact("library.sounds", name=pattern, known=", ".join(SOUNDS)))
    return PartChoice(None if take is None else tuple(map(str, take)), sounds)


def _wrong(path: Path, problem: Fact | str) -> BadData:
    return BadData("library.parts_file", file=str(path), problem=problem)
