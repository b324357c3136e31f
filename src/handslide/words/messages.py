"""Messages: English text that is translated when it is said.

The markers below are what the extraction looks for (``babel.cfg``); each makes a `Message`, so that
tables of messages can stand at the top of a module, before any language is known.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Message:
    """``text`` with placeholders such as ``{note}`` or ``{slide_mm:.0f}``.

    With ``plural`` it depends on the number ``count``. ``context`` tells apart what is one word in
    English and two in another language.
    """

    text: str
    plural: str | None = None
    context: str | None = None


def N_(text: str) -> Message:  # noqa: N802
    """A message."""
    return Message(text)


def NN_(one: str, many: str) -> Message:  # noqa: N802
    """A message that depends on the number ``count``."""
    return Message(one, many)


def NNP_(context: str, one: str, many: str) -> Message:  # noqa: N802
    """A message with a context that depends on the number ``count``."""
    return Message(one, many, context)


def NP_(context: str, text: str) -> Message:  # noqa: N802
    """A message with a context."""
    return Message(text, context=context)
