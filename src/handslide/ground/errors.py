"""All errors that handslide raises on purpose.

Each carries a fact: what is wrong, where, what is allowed and the likely slip. The sentence is made
in ``words``, and each face adds its own hint.

    HandslideError            exit code 1
    ├── BadData (ValueError)  exit code 1: a file or value that can't be used
    │   ├── PitchError        a note name
    │   ├── HornError         a horn file or value
    │   ├── LineError         a typed line of notes
    │   ├── ScoreError        a notated part
    │   ├── TakeError         a recording
    │   ├── AirError          air outside a formula's range
    │   ├── StoreError        a studio's database
    │   └── NotFound          something that isn't, or is no longer, in the studio
    ├── OutputError (OSError) exit code 1: a result that can't be written
    └── BadUsage (ValueError) exit code 2: options that don't fit together
        └── NotInstalled      exit code 2: asks for an extra that isn't installed
"""

from collections.abc import Callable
from typing import Any, ClassVar

from handslide.ground.facts import Fact, fact


class HandslideError(Exception):
    """Root of all errors that a user is told of: a fact, from which each face makes a sentence."""

    exit_code = 1
    teller: ClassVar["Callable[[HandslideError], str] | None"] = None
    """What makes a sentence of an error for who reads it in a traceback; None: only the fact."""

    def __init__(self, kind: str, /, **values: Any) -> None:
        """``kind`` and ``values`` as in `handslide.ground.facts.fact`."""
        super().__init__(kind)
        self.fact = fact(kind, **values)

    def __str__(self) -> str:
        teller = type(self).teller
        if teller is not None:
            return teller(self)
        said = ", ".join(f"{name}={value!r}" for name, value in self.fact.items)
        return f"{self.fact.kind}({said})" if said else self.fact.kind

    def __reduce__(self) -> tuple[Any, ...]:
        return _again, (type(self), self.fact)


def _again(kind: type[HandslideError], told: Fact) -> HandslideError:
    # Across processes: arguments by name aren't pickled with an exception.
    return kind(told.kind, **told.values)


class BadData(HandslideError, ValueError):
    """A file or value can't be used."""


class PitchError(BadData):
    """A note name can't be read."""


class HornError(BadData):
    """A horn can't exist as described."""


class LineError(BadData):
    """A typed line of notes can't be read."""


class ScoreError(BadData):
    """A notated part can't be read."""


class TakeError(BadData):
    """A recording can't be used."""


class AirError(BadData):
    """Air outside the range of a formula."""


class StoreError(BadData):
    """A studio's database can't be opened or was left as it is."""


class NotFound(BadData):
    """There is no such thing in the studio, or no longer."""


class OutputError(HandslideError, OSError):
    """A result can't be written."""


class BadUsage(HandslideError, ValueError):
    """Options or arguments that don't fit together."""

    exit_code = 2


class NotInstalled(BadUsage):
    """What is asked for takes an extra that isn't installed."""
