"""What makes a sentence of a fact where one message isn't enough."""

from collections.abc import Callable
from typing import TypeAlias

from handslide.ground.facts import Fact
from handslide.words.translate import Translator

Teller: TypeAlias = Callable[[Translator, Fact], str]
