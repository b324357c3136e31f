"""One reader's way to be spoken to: a language, and how notes are named in it."""

from collections.abc import Sequence
from functools import cache
from typing import Any

from handslide.ground.errors import HandslideError
from handslide.ground.facts import Fact
from handslide.ground.pitch import Pitch, pretty_name
from handslide.instrument.places import Place
from handslide.words.catalogues import SOURCE
from handslide.words.notes import USUAL_NAMES, note_name
from handslide.words.places import partial_name, place_words, position_name, where, with_valves
from handslide.words.tell import tell
from handslide.words.translate import Translator


class Speech(Translator):
    """Says messages, facts, notes and places. ``names``: english, german, do; None: the usual."""

    def __init__(self, code: str = SOURCE, names: str | None = None) -> None:
        """Raises KeyError for a language that there isn't."""
        super().__init__(code)
        self.names = names or self.setting(USUAL_NAMES)

    def fact(self, told: Fact | HandslideError) -> str:
        """A fact, or what an error says, as text."""
        return tell(self, told.fact if isinstance(told, HandslideError) else told)

    def note(self, pitch: Pitch, *, octave: bool = True) -> str:
        """A note's name in a sentence."""
        return note_name(self, pitch, self.names, octave=octave)

    def place(self, place: Place) -> str:
        """A place in words."""
        return place_words(self, place)

    def position(self, position: float | int) -> str:
        """A position in words: ``6th`` for a whole number, ``a long 2nd`` for 2.3."""
        if isinstance(position, int):
            return position_name(self, position)
        return where(self, position)

    def partial(self, number: int) -> str:
        """A partial by its number: ``3rd``."""
        return partial_name(self, number)

    def valves(self, valves: Sequence[str]) -> str:
        """``with the F valve``; empty for the open horn."""
        return with_valves(self, valves)

    def written(self, value: Any, spec: str = "") -> str:
        """One value as it stands in a sentence."""
        if isinstance(value, Pitch):
            return self.note(value, octave=spec != "class")
        if isinstance(value, Place):
            return self.place(value)
        if isinstance(value, Fact):
            return tell(self, value)
        if spec == "position":
            return self.position(value)
        if spec == "partial":
            return self.partial(value)
        if spec == "valves":
            return self.valves(value)
        if spec == "valve":
            return pretty_name(value)
        if spec == "together":
            return "+".join(pretty_name(name) for name in value)
        return super().written(value, spec)


@cache
def speech(code: str = SOURCE, names: str | None = None) -> Speech:
    """The speech of a language, made once. Raises KeyError for a language that there isn't."""
    return Speech(code, names)
