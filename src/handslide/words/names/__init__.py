"""Names of what is one of a few kinds: one table a kind, for pages, terminal and paper."""

from collections.abc import Mapping
from functools import cache
from importlib import import_module

from handslide.words.messages import Message

_MODULES = ("charts", "horns", "parts", "pdfmarks", "people", "practice", "studio")


@cache
def names() -> Mapping[str, Mapping[str, Message]]:
    """All tables by the name of their kind: ``drill``, ``clef``, ``horn`` ..."""
    found: dict[str, Mapping[str, Message]] = {}
    for module in _MODULES:
        found |= import_module(f"handslide.words.names.{module}").NAMES
    return found
