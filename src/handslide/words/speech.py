"""One reader's way to be spoken to: a language, and how notes are named in it."""

from collections.abc import Sequence
from functools import cache
from typing import Any

from handslide.ground.errors import HandslideError
from handslide.ground.facts import Fact
from handslide.ground.pitch import Pitch
from handslide.instrument.places import Place
from handslide.words.catalogues import SOURCE
from handslide.words.messages import NP_
from handslide.words.notes import note_name
from handslide.words.places import partial_name, place_words, valve_name, where, with_valves
from handslide.words.tell import tell
from handslide.words.translate import Translator

# German says B-Dur and b-Moll.
_MINOR_TONICS = NP_("setting: letters of the tonic of a minor key, capital or small", "capital")


class Speech(Translator):
    """Says messages, facts, notes and places.

    In a message a pitch may stand as ``{p}``, without its octave as ``{p:class}``, as the tonic of
    a key as ``{p:key}``, of a minor one as ``{p:minor}``. A place may stand as ``{p}``, ``{p:in}``
    and with the other forms of `handslide.words.places.where`, a position as ``{x:position}``,
    ``{x:position_in}`` and so on.
    """

    def naming(self, names: str | None) -> "Speech":
        """The same reader, naming notes another way; None: as now."""
        return self if names is None else speech(self.language.code, names, self.face)

    @property
    def on_paper(self) -> "Speech":
        """The same speech for what is printed, where no face can be used."""
        return speech(self.language.code, self.names) if self.face else self

    def fact(self, told: Fact | HandslideError) -> str:
        """A fact, or what an error says, as text."""
        return tell(self, told.fact if isinstance(told, HandslideError) else told)

    def note(self, pitch: Pitch, *, octave: bool = True) -> str:
        """A note's name in a sentence."""
        return note_name(self, pitch, octave=octave)

    def place(self, place: Place, form: str = "") -> str:
        """A place in words; ``form`` as in `handslide.words.places.where`."""
        return place_words(self, place, form)

    def position(self, position: float, form: str = "") -> str:
        """A position in words: ``6th``, ``a long 2nd`` for 2.3; ``form`` as for a place."""
        return where(self, position, form)

    def partial(self, number: int) -> str:
        """A partial by its number: ``3rd``."""
        return partial_name(self, number)

    def valves(self, valves: Sequence[str]) -> str:
        """``with the F valve``; empty for the open horn."""
        return with_valves(self, valves)

    def written(self, value: Any, spec: str = "") -> str:
        """One value as it stands in a sentence."""
        if isinstance(value, Pitch):
            if spec in ("key", "minor"):
                named = note_name(self, value, octave=False, names=self.key_names)
                small = spec == "minor" and self.setting(_MINOR_TONICS) == "small"
                return named.lower() if small else named
            return self.note(value, octave=spec != "class")
        if isinstance(value, Place):
            return self.place(value, spec)
        if isinstance(value, Fact):
            return tell(self, value)
        if spec.startswith("position"):
            return self.position(value, spec.removeprefix("position").removeprefix("_"))
        if spec == "partial":
            return self.partial(value)
        if spec == "valves":
            return self.valves(value)
        if spec == "valve":
            return valve_name(self, value)
        if spec == "together":
            return "+".join(valve_name(self, name) for name in value)
        return super().written(value, spec)


@cache
def speech(code: str = SOURCE, names: str | None = None, face: str = "") -> Speech:
    """The speech of a language, made once. Raises KeyError for a language that there isn't.

    ``face`` is where it is read: `handslide.words.hints` says what is added there.
    """
    return Speech(code, names, face)
