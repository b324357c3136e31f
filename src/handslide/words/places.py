"""Places on the slide in words: the one list of how far, how called, with which valve."""

from collections.abc import Sequence
from typing import Protocol

from handslide.ground.pitch import pretty_name
from handslide.instrument.marks import split_position
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.translate import Translator

# Positions and partials by their number, from 1; a language may write them as it likes.
_POSITIONS = (
    NP_("position", "1st"), NP_("position", "2nd"), NP_("position", "3rd"),
    NP_("position", "4th"), NP_("position", "5th"), NP_("position", "6th"),
    NP_("position", "7th"), NP_("position", "8th"), NP_("position", "9th"),
    NP_("position", "10th"), NP_("position", "11th"), NP_("position", "12th"),
)  # fmt: skip
_PARTIALS = (
    NP_("partial", "1st"), NP_("partial", "2nd"), NP_("partial", "3rd"), NP_("partial", "4th"),
    NP_("partial", "5th"), NP_("partial", "6th"), NP_("partial", "7th"), NP_("partial", "8th"),
    NP_("partial", "9th"), NP_("partial", "10th"), NP_("partial", "11th"), NP_("partial", "12th"),
    NP_("partial", "13th"), NP_("partial", "14th"), NP_("partial", "15th"),
    NP_("partial", "16th"),
)  # fmt: skip
_OTHER = N_("{number:d}th")
_WHERE = {
    "": N_("{position}"),
    "½": N_("halfway between {position} and {next_position}"),
    "♭": N_("a long {position}"),
    "♯": N_("a raised {position}"),
}
_WITH_VALVES = NN_("with the {valves} valve", "with the {valves} valves")
_PLACE = N_("{where} {with_valves}")


class AnyPlace(Protocol):
    """What is said of a place: its position in open-horn semitones, and the valves down."""

    @property
    def position(self) -> float: ...

    @property
    def valves(self) -> tuple[str, ...]: ...


def position_name(say: Translator, number: int) -> str:
    """``1st``, ``2nd`` ... of a whole position."""
    return _ordinal(say, number, _POSITIONS)


def partial_name(say: Translator, number: int) -> str:
    """``1st``, ``2nd`` ... of a partial."""
    return _ordinal(say, number, _PARTIALS)


def _ordinal(say: Translator, number: int, names: Sequence[Message]) -> str:
    if 1 <= number <= len(names):
        return say(names[number - 1])
    return say(_OTHER, number=number)


def where(say: Translator, position: float) -> str:
    """How far out: ``6th``, ``a long 2nd``, ``halfway between 3rd and 4th``."""
    sign, number = split_position(position)
    return say(
        _WHERE[sign],
        position=position_name(say, number),
        next_position=position_name(say, number + 1),
    )


def with_valves(say: Translator, valves: Sequence[str]) -> str:
    """``with the F valve``, ``with the F and G♭ valves``; empty for the open horn."""
    if not valves:
        return ""
    names = say.listed(pretty_name(name) for name in valves)
    return say(_WITH_VALVES, count=len(valves), valves=names)


def place_words(say: Translator, place: AnyPlace) -> str:
    """A place in words: ``6th``, ``a long 2nd with the F valve``."""
    out = where(say, place.position)
    if not place.valves:
        return out
    return say(_PLACE, where=out, with_valves=with_valves(say, place.valves))
