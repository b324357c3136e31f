"""How far a long piece of work is, told to whoever waits for it."""

from collections.abc import Callable
from typing import TypeAlias

# Called with the stage that is under way (a key such as ``hearing``), and how much of it is done.
ProgressCallback: TypeAlias = Callable[[str, int, int], None]


def silent(stage: str, done: int, total: int) -> None:
    """Tells nobody."""
