"""Facts: what there is to say, before anybody says it.

A fact is a kind and values: numbers, names that a user gave, pitches, other facts. ``words`` makes
a sentence of it, in the language of whoever reads it; nothing below ``words`` holds a sentence.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Fact:
    """Something to be said. ``items`` are its values by name, sorted by name.

    ``kind`` is ``topic.what``, such as ``pitch.no_octave``; it never changes with the language.
    """

    kind: str
    items: tuple[tuple[str, Any], ...] = ()

    @property
    def values(self) -> Mapping[str, Any]:
        """The values by their names."""
        return dict(self.items)

    def __getitem__(self, name: str) -> Any:
        """One value. Raises KeyError."""
        return self.values[name]

    def __iter__(self) -> Iterator[str]:
        return (name for name, _ in self.items)


def fact(kind: str, /, **values: Any) -> Fact:
    """A fact from its kind and its values by name; lists become tuples."""
    return Fact(kind, tuple(sorted((name, _frozen(value)) for name, value in values.items())))


def _frozen(value: Any) -> Any:
    return tuple(map(_frozen, value)) if isinstance(value, list) else value
