"""Places on the slide in words: the one list of how far, how called, with which valve."""

import re
from collections.abc import Mapping, Sequence
from typing import Protocol

from handslide.ground.notenames import class_name
from handslide.ground.pitch import parse_pitch, pretty_name
from handslide.instrument.marks import LAST, split_position
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.notes import note_name
from handslide.words.translate import Translator

# Positions and partials by their number, from 1; a language may write them as it likes.
_POSITIONS = (
    NP_("position", "1st"), NP_("position", "2nd"), NP_("position", "3rd"),
    NP_("position", "4th"), NP_("position", "5th"), NP_("position", "6th"),
    NP_("position", "7th"),
)  # fmt: skip
_PARTIALS = (
    NP_("partial", "1st"), NP_("partial", "2nd"), NP_("partial", "3rd"), NP_("partial", "4th"),
    NP_("partial", "5th"), NP_("partial", "6th"), NP_("partial", "7th"), NP_("partial", "8th"),
    NP_("partial", "9th"), NP_("partial", "10th"), NP_("partial", "11th"), NP_("partial", "12th"),
    NP_("partial", "13th"), NP_("partial", "14th"), NP_("partial", "15th"),
    NP_("partial", "16th"),
)  # fmt: skip
_OTHER = N_("{number:d}th")
# Translators: a position is put in as its number with its ending: 6th. Six forms are needed. The
# place alone ("6th; 1st with the F valve would do as well"):
_ALONE = {
    "": NP_("a place alone", "{position}"),
    "½": NP_("a place alone", "halfway between {position} and {next_position}"),
    "♭": NP_("a place alone", "a long {position}"),
    "♯": NP_("a place alone", "a raised {position}"),
}
# Translators: where the slide is ("in 6th the slide would turn back 49 cm"):
_IN = {
    "": NP_("in a place", "in {position}"),
    "½": NP_("in a place", "halfway between {position} and {next_position}"),
    "♭": NP_("in a place", "in a long {position}"),
    "♯": NP_("in a place", "in a raised {position}"),
}
# Translators: where the slide comes from ("from 6th it would be 49 cm"):
_FROM = {
    "": NP_("from a place", "from {position}"),
    "½": NP_("from a place", "from halfway between {position} and {next_position}"),
    "♭": NP_("from a place", "from a long {position}"),
    "♯": NP_("from a place", "from a raised {position}"),
}
# Translators: where the slide goes ("from 1st to 6th the slide is 12 mm too short"):
_TO = {
    "": NP_("to a place", "to {position}"),
    "½": NP_("to a place", "to halfway between {position} and {next_position}"),
    "♭": NP_("to a place", "to a long {position}"),
    "♯": NP_("to a place", "to a raised {position}"),
}
# Translators: the place with the word position, where nothing around it says what 6th means:
_FULL = {
    "": NP_("a place in full", "{position} position"),
    "½": NP_("a place in full", "halfway between {position} and {next_position} position"),
    "♭": NP_("a place in full", "a long {position} position"),
    "♯": NP_("a place in full", "a raised {position} position"),
}
# Translators: what a sentence speaks of ("6th needs a valve", "surer than 6th"), with its article
# where the language has one.
_THE = {
    "": NP_("a place spoken of", "{position}"),
    "½": NP_("a place spoken of", "halfway between {position} and {next_position}"),
    "♭": NP_("a place spoken of", "a long {position}"),
    "♯": NP_("a place spoken of", "a raised {position}"),
}
# Translators: the same six forms of a place beyond 7th position.
_END = {
    "": NP_("a place alone", "as far as the slide goes"),
    "in": NP_("in a place", "as far out as the slide goes"),
    "from": NP_("from a place", "from as far as the slide goes"),
    "to": NP_("to a place", "to as far as the slide goes"),
    "full": NP_("a place in full", "as far as the slide goes"),
    "the": NP_("a place spoken of", "as far as the slide goes"),
}
FORMS: Mapping[str, Mapping[str, Message]] = {
    "": _ALONE, "in": _IN, "from": _FROM, "to": _TO, "full": _FULL, "the": _THE,
}  # fmt: skip
_WITH_VALVES = NN_("with the {valves} valve", "with the {valves} valves")
# Translators: a place with its valves: "6th" + "with the F valve".
_PLACE = N_("{where} {with_valves}")
# Translators: a place and how far the slide is out there: "6th position, 49.5 cm out".
_OUT = N_("{place}, {cm:.1f} cm out")
# Translators: the same where the slide isn't out at all: "1st position, slide closed".
_CLOSED = N_("{place}, slide closed")
_LEAST_OUT_MM = 0.5  # what one decimal of a centimetre can say
_NOTE = re.compile("[A-G](b{0,2}|#{0,2}|♭{0,2}|♯{0,2})")


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


def where(say: Translator, position: float, form: str = "") -> str:
    """How far out: ``6th``, ``a long 2nd``, ``halfway between 3rd and 4th``.

    ``form``: "" alone; ``in``, ``from``, ``to`` and ``full`` as in ``in 6th``, ``from 6th``,
    ``to 6th`` and ``6th position``; ``the`` as what a sentence speaks of.
    """
    sign, number = split_position(position)
    if (sign, number) == ("½", LAST):
        return say(_END[form])
    return say(
        FORMS[form][sign],
        position=position_name(say, number),
        next_position=position_name(say, number + 1),
    )


def valve_name(say: Translator, name: str) -> str:
    """A valve by the note of its loop, as the language names valves: ``G♭``, ``Ges``."""
    if _NOTE.fullmatch(name) is None:
        return pretty_name(name)
    return note_name(say, parse_pitch(f"{name}2"), octave=False, names=say.valve_names)


def valve_label(say: Translator, name: str) -> str:
    """The same as short as beside a drawing: ``G♭``, ``Ges``, ``sol♭``."""
    if _NOTE.fullmatch(name) is None:
        return pretty_name(name)
    return class_name(parse_pitch(f"{name}2"), say.valve_names)


def with_valves(say: Translator, valves: Sequence[str]) -> str:
    """``with the F valve``, ``with the F and G♭ valves``; empty for the open horn."""
    if not valves:
        return ""
    names = say.listed(valve_name(say, name) for name in valves)
    return say(_WITH_VALVES, count=len(valves), valves=names)


def place_words(say: Translator, place: AnyPlace, form: str = "") -> str:
    """A place in words: ``6th``, ``a long 2nd with the F valve``. ``form`` as in `where`."""
    out = where(say, place.position, form)
    if not place.valves:
        return out
    return say(_PLACE, where=out, with_valves=with_valves(say, place.valves))


def place_out(say: Translator, position: float, valves: Sequence[str], extension_mm: float) -> str:
    """A place in full, with its extension: ``a long 2nd position with the F valve, 12.3 cm out``.

    Of what the pages know of a place.
    """
    out = where(say, position, "full")
    if valves:
        out = say(_PLACE, where=out, with_valves=with_valves(say, valves))
    if extension_mm < _LEAST_OUT_MM:
        return say(_CLOSED, place=out)
    return say(_OUT, place=out, cm=extension_mm / 10.0)
