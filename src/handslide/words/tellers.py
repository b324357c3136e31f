"""What makes a sentence of a fact where one message isn't enough."""

from collections.abc import Callable, Hashable, Mapping
from typing import TypeAlias

from handslide.ground.facts import Fact
from handslide.words.messages import Message
from handslide.words.translate import Translator

Teller: TypeAlias = Callable[[Translator, Fact], str]


def by(which: Callable[[Fact], Hashable], messages: Mapping[Hashable, Message]) -> Teller:
    """One of several messages: the one that ``which`` finds in a fact. All get its values."""

    def told(say: Translator, fact: Fact) -> str:
        return say(messages[which(fact)], **fact.values)

    return told


def with_or_without(valves: Message, open_horn: Message) -> Teller:
    """``valves`` where the fact's ``valves`` are down, ``open_horn`` where there are none."""
    return by(lambda fact: bool(fact["valves"]), {True: valves, False: open_horn})
