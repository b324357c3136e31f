"""TOML of anybody: what its standard allows, and nothing that only Python would take."""

import re
import tomllib
from typing import Any

from handslide.ground.facts import Fact, fact
from handslide.ground.limits import TOML_DEPTH

_LARGEST = 2**63
# A key within a key within a key: the reader's memory grows with the square of how deep it goes.
_PIECE = r"(?:[\w-]+|\"[^\"\n]*\"|'[^'\n]*')"
_DEEP_KEY = re.compile(rf"{_PIECE}(?:[ \t]*\.[ \t]*{_PIECE}){{{TOML_DEPTH},}}")


class WrongToml(Exception):
    """A text isn't TOML; ``reason`` is the reader's own word in English, or a fact."""

    def __init__(self, reason: str | Fact) -> None:
        super().__init__(reason)
        self.reason = reason


def parse_toml(text: str) -> dict[str, Any]:
    """The table of a TOML text. Raises WrongToml."""
    if any(line.count(".") >= TOML_DEPTH and _DEEP_KEY.search(line) for line in text.split("\n")):
        raise WrongToml(fact("files.nested"))
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise WrongToml(str(error)) from None
    except RecursionError:
        raise WrongToml(fact("files.nested")) from None
    except ValueError:  # a number with too many digits for Python
        raise WrongToml(fact("files.huge_number")) from None
    if not _numbers_fit(table):
        raise WrongToml(fact("files.huge_number"))
    return table


def toml_string(text: str) -> str:
    """A text as TOML writes it, in quotes."""
    quoted = text.replace("\\", "\\\\").replace('"', '\\"')
    plain = (c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in quoted)
    return f'"{"".join(plain)}"'


def _numbers_fit(table: dict[str, Any]) -> bool:
    """Whether all whole numbers have the 64 bits of the standard."""
    waiting: list[Any] = [table]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting += value.values()
        elif isinstance(value, list):
            waiting += value
        elif isinstance(value, int) and not -_LARGEST <= value < _LARGEST:
            return False
    return True
