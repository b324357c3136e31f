"""Horns, profiles: TOML files that are called by name, ours and the user's own, or by their path.

Ours lie in a folder of the package; the number before a file's name orders them.
"""

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from handslide.edges.files.plainfile import NotPlain, TooLarge, is_there, read_plain
from handslide.edges.files.toml import WrongToml, parse_toml
from handslide.edges.files.userfolder import user_files
from handslide.ground.errors import BadData
from handslide.ground.limits import TYPED_BYTES
from handslide.ground.system import system_reason

_OURS = re.compile(r"\d+-(.+)\.toml")
_Read = TypeVar("_Read")

Table = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class FileKind:
    """A kind of files: the folder that they lie in, the error for a wrong one, and the kinds of
    fact for what can be wrong with any of them."""

    folder: str
    error: type[BadData]
    unknown: str
    unknown_near: str
    unknown_here: str
    is_folder: str
    too_large: str
    missing: str
    not_text: str
    unreadable: str
    not_toml: str
    unknown_key: str
    unknown_key_near: str

    @property
    def ours(self) -> tuple[str, ...]:
        """The names of those that come along, in their order."""
        return tuple(_ours(self.folder))

    @property
    def known(self) -> tuple[str, ...]:
        """All names: ours, then the user's own."""
        return (*self.ours, *(name for name in user_files(self.folder) if name not in self.ours))

    def text_of_ours(self, name: str) -> str:
        """The text of one of ours. Raises KeyError."""
        file = resources.files("handslide") / "data" / self.folder / _ours(self.folder)[name]
        return file.read_text(encoding="utf-8")

    def named_text(self, name: str) -> str:
        """The text of the file called ``name``, ours or the user's; no path. Raises BadData."""
        if name in self.ours:
            return self.text_of_ours(name)
        own = user_files(self.folder)
        if name not in own:
            raise self.error(self.unknown_here, name=name, known=", ".join(self.known))
        return self._text(own[name])

    def load(self, name: str, read: Callable[[str, str], _Read]) -> _Read:
        """What ``read`` makes of the text called ``name``, or at that path. Raises BadData."""
        if name in self.ours:
            found: _Read = _read_ours(self, name, read)
            return found
        own = user_files(self.folder)
        path = own.get(name, Path(name))
        if not (path.suffix or is_there(path) or len(path.parts) > 1):
            known = ", ".join(self.known)
            close = difflib.get_close_matches(name, self.known, 1)
            if close:
                raise self.error(self.unknown_near, name=name, near=close[0], known=known)
            raise self.error(self.unknown, name=name, known=known)
        return read(self._text(path), path.name)

    def _text(self, path: Path) -> str:
        try:
            text = read_plain(path, TYPED_BYTES).decode("utf-8-sig")
            return text.replace("\r\n", "\n")
        except IsADirectoryError:
            raise self.error(self.is_folder, path=str(path)) from None
        except NotPlain:
            raise self.error("files.not_plain", path=str(path)) from None
        except TooLarge:
            raise self.error(self.too_large, path=str(path)) from None
        except FileNotFoundError:
            raise self.error(self.missing, path=str(path)) from None
        except UnicodeDecodeError:
            raise self.error(self.not_text, path=str(path)) from None
        except OSError as error:
            reason = system_reason(error)
            raise self.error(self.unreadable, path=str(path), reason=reason) from error

    def parse(self, text: str, source: str) -> Table:
        """The table of a TOML text that ``source`` names. Raises BadData."""
        try:
            return parse_toml(text)
        except WrongToml as error:
            raise self.error(self.not_toml, source=source, reason=error.reason) from None

    def check_keys(self, table: Table, known: tuple[str, ...]) -> None:
        """Raises BadData for a key that isn't ``known``."""
        for key in table:
            if key in known:
                continue
            close = difflib.get_close_matches(key, known, 1)
            if close:
                raise self.error(self.unknown_key_near, key=key, near=close[0])
            raise self.error(self.unknown_key, key=key, known=", ".join(known))


@cache
def _ours(folder: str) -> Mapping[str, str]:
    """Names of files that come along, in their order, with the files' own names."""
    entries = (resources.files("handslide") / "data" / folder).iterdir()
    found = (_OURS.fullmatch(name) for name in sorted(entry.name for entry in entries))
    return {match[1]: match[0] for match in found if match is not None}


@cache
def _read_ours(files: FileKind, name: str, read: Callable[[str, str], _Read]) -> _Read:
    """What is made of one of ours, which never changes: once for all who ask."""
    return read(files.text_of_ours(name), name)
