"""The parts of a score, each with the number by which it can be asked for."""

from collections.abc import Iterable

from handslide.words.messages import N_
from handslide.words.translate import Translator

# Translators: the number of a part and its name, such as: 1 'Trombone'.
_PART = N_("{number} {name!q}")


def listed_parts(say: Translator, names: Iterable[str]) -> str:
    """``1 'Trombone', 2 'Tuba'``."""
    return ", ".join(say(_PART, number=number, name=name) for number, name in enumerate(names, 1))
