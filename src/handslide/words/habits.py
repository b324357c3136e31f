"""Habits of a take in words: what the slide does again and again, and how to mend it.

The facts give cents above (+) or below (-) the note, and mm too far out (+) or too short (-).
"""

from collections.abc import Mapping
from typing import NamedTuple

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.places import partial_name, place_words, with_valves
from handslide.words.translate import Translator

# Translators: {where} in the sentences below is one of these two.
_WHERE = N_("on {count} of {total} notes")
_WHERE_BEYOND = N_("on {count} of {total} notes, beyond the tuning")

_ALL = {
    True: N_(
        "The whole take is about {cents:.0f} cents too high ({where}): move the main tuning slide "
        "{pull_mm:.0f} mm out, if the piano or the band agrees."
    ),
    False: N_(
        "The whole take is about {cents:.0f} cents too low ({where}): move the main tuning slide "
        "{pull_mm:.0f} mm in, if the piano or the band agrees."
    ),
}
_AWAY = {
    True: N_("Away from 1st the slide is about {mm:.0f} mm too far out everywhere ({where})."),
    False: N_("Away from 1st the slide is about {mm:.0f} mm too short everywhere ({where})."),
}
_OUT = {
    True: N_("After a move out the slide goes about {mm:.0f} mm too far out ({where})."),
    False: N_("After a move out the slide stops about {mm:.0f} mm too short ({where})."),
}
_IN = {
    True: N_("After a move in the slide stops about {mm:.0f} mm too far out ({where})."),
    False: N_("After a move in the slide comes back about {mm:.0f} mm too short ({where})."),
}
# Translators: {place} is a place in full with a capital: "3rd position", "Halfway between ...".
_PLACE = {
    True: N_("{place}: about {mm:.0f} mm too far out {where}."),
    False: N_("{place}: about {mm:.0f} mm too short {where}."),
}
_CLOSED = {
    True: N_(
        "{place}: about {cents:.0f} cents too high {where}; the slide can't be shorter, so it's "
        "the lip or the tuning slide."
    ),
    False: N_(
        "{place}: about {cents:.0f} cents too low {where}; close the slide fully, and blow freely."
    ),
}
_VALVE = {
    True: N_(
        "Notes {with_valves} are about {cents:.0f} cents too high ({where}): the valve's own "
        "tuning slide may have to go out."
    ),
    False: N_(
        "Notes {with_valves} are about {cents:.0f} cents too low ({where}): the valve's own "
        "tuning slide may have to go in."
    ),
}
_PARTIAL = {
    True: N_(
        "Notes on the {partial} partial are about {cents:.0f} cents too high ({where}), wherever "
        "the slide is: the horn or the lip."
    ),
    False: N_(
        "Notes on the {partial} partial are about {cents:.0f} cents too low ({where}), wherever "
        "the slide is: the horn or the lip."
    ),
}
# Translators: {start} and {end} are places: "From 1st", "to a long 2nd with the F valve".
_MOVE = {
    True: N_("{start} {end} the slide is about {mm:.0f} mm too far out ({where})."),
    False: N_("{start} {end} the slide is about {mm:.0f} mm too short ({where})."),
}
_SCOOP = {
    True: N_("Notes begin about {cents:.0f} cents too high and sink {where}."),
    False: N_("Notes begin about {cents:.0f} cents too low and slide up {where}."),
}
_FALL = {
    True: N_("Long notes climb about {cents:.0f} cents {where}."),
    False: N_("Long notes sink about {cents:.0f} cents to their end {where}: keep the air on."),
}

# What a group of notes is called, in the middle of a sentence.
GROUPS: Mapping[str, Message] = {
    "all": NP_("notes that were played", "all notes"),
    "away": N_("all places away from 1st"),
    "out": N_("notes after a move out"),
    "in": N_("notes after a move in"),
    "valve": N_("notes {valves:valves}"),
    "partial": N_("notes on the {partial:partial} partial"),
    # Translators: {start} and {end} are places: "from 1st", "to a long 2nd with the F valve".
    "move": N_("moves {start} {end}"),
    "scoop": N_("beginnings of notes"),
    "fall": N_("ends of long notes"),
}
_NOTE_OFF_REST = {
    True: NN_(
        "about {cents:.0f} cents above the rest, {count} time",
        "about {cents:.0f} cents above the rest, {count} times",
    ),
    False: NN_(
        "about {cents:.0f} cents below the rest, {count} time",
        "about {cents:.0f} cents below the rest, {count} times",
    ),
}

# Why to practise something, and how: {where} as above.
_SLIDE_OFF = {
    True: N_("about {mm:.0f} mm too far out {where}"),
    False: N_("about {mm:.0f} mm too short {where}"),
}
_PITCH_OFF = {
    True: N_("about {cents:.0f} cents too high {where}"),
    False: N_("about {cents:.0f} cents too low {where}"),
}
_NOTE_OFF_ONCE = {
    True: N_("{cents:.0f} cents too high once"),
    False: N_("{cents:.0f} cents too low once"),
}
# Translators: the median of so many times.
_NOTE_OFF = {
    True: NN_(
        "about {cents:.0f} cents too high, {count} time",
        "about {cents:.0f} cents too high, {count} times",
    ),
    False: NN_(
        "about {cents:.0f} cents too low, {count} time",
        "about {cents:.0f} cents too low, {count} times",
    ),
}
_HOW_MOVE = {
    True: N_("slowly, then in time; let the slide arrive {mm:.0f} mm further in before you tongue"),
    False: N_(
        "slowly, then in time; let the slide arrive {mm:.0f} mm further out before you tongue"
    ),
}
_HOW_SLIDE = {
    True: N_("hold it against a drone, move the slide {mm:.0f} mm further in until the beats stop"),
    False: N_(
        "hold it against a drone, move the slide {mm:.0f} mm further out until the beats stop"
    ),
}


class _Spot(NamedTuple):
    position: float
    valves: tuple[str, ...]


def spot_words(say: Translator, position: float, valves: tuple[str, ...], form: str = "") -> str:
    """A place that is given by its position and valves; ``form`` as in `words.places.where`."""
    return place_words(say, _Spot(position, valves), form)


def habit_words(say: Translator, told: Fact) -> str:
    """One sentence on a habit."""
    where = _where(say, told)
    match told.kind.partition(".")[2]:
        case "all":
            cents = told["cents"]
            pull = abs(told["tuning_slide_mm"])
            return say(_ALL[cents > 0], cents=abs(cents), pull_mm=pull, where=where)
        case "away":
            return _by_slide(say, _AWAY, told)
        case "out":
            return _by_slide(say, _OUT, told)
        case "in":
            return _by_slide(say, _IN, told)
        case "place":
            return _by_slide(say, _PLACE, told, place=_capital_place(say, told))
        case "closed_place":
            return _by_pitch(say, _CLOSED, told, place=_capital_place(say, told))
        case "valve":
            return _by_pitch(say, _VALVE, told, with_valves=with_valves(say, told["valves"]))
        case "partial":
            return _by_pitch(say, _PARTIAL, told, partial=partial_name(say, told["partial"]))
        case "move":
            start = spot_words(say, told["from_position"], told["from_valves"], "from")
            end = spot_words(say, told["position"], told["valves"], "to")
            return _by_slide(say, _MOVE, told, start=say.capital(start), end=end)
        case "scoop":
            return _by_pitch(say, _SCOOP, told)
        case "fall":
            return _by_pitch(say, _FALL, told)
    raise KeyError(told.kind)


def habit_group(say: Translator, told: Fact) -> str:
    """The notes of a habit as what they are: ``notes with the F valve``."""
    which, values = told["which"], dict(told.values)
    if which == "place":
        return spot_words(say, told["position"], told["valves"], "full")
    if which == "move":
        values["start"] = spot_words(say, told["from_position"], told["from_valves"], "from")
        values["end"] = spot_words(say, told["position"], told["valves"], "to")
    return say(GROUPS[which], **values)


def slide_off(say: Translator, told: Fact) -> str:
    """Why to practise a note or an interval that the slide is at fault of."""
    return _by_slide(say, _SLIDE_OFF, told)


def pitch_off(say: Translator, told: Fact) -> str:
    """Why to practise a note that isn't the slide's fault."""
    return _by_pitch(say, _PITCH_OFF, told)


def note_off(say: Translator, told: Fact) -> str:
    """Why to practise a note that was off, habit or not."""
    cents, count = told["cents"], told["count"]
    if told.values.get("rest"):
        return say(_NOTE_OFF_REST[cents > 0], cents=abs(cents), count=count)
    if count == 1:
        return say(_NOTE_OFF_ONCE[cents > 0], cents=abs(cents))
    return say(_NOTE_OFF[cents > 0], cents=abs(cents), count=count)


def how_move(say: Translator, told: Fact) -> str:
    """How to practise a move that ends in the wrong place."""
    return _mended(say, _HOW_MOVE, told)


def how_slide(say: Translator, told: Fact) -> str:
    """How to practise a place that the slide isn't in."""
    return _mended(say, _HOW_SLIDE, told)


def _mended(say: Translator, messages: dict[bool, Message], told: Fact) -> str:
    return say(messages[told["slide_mm"] > 0], mm=abs(told["slide_mm"]))


def _by_slide(say: Translator, messages: dict[bool, Message], told: Fact, **more: str) -> str:
    mm = told["slide_mm"]
    return say(messages[mm > 0], mm=abs(mm), where=_where(say, told), **more)


def _by_pitch(say: Translator, messages: dict[bool, Message], told: Fact, **more: str) -> str:
    cents = told["cents"]
    return say(messages[cents > 0], cents=abs(cents), where=_where(say, told), **more)


def _where(say: Translator, told: Fact) -> str:
    beyond = told.values.get("beyond", False)
    message = _WHERE_BEYOND if beyond else _WHERE
    return say(message, count=told["count"], total=told["total"])


def _capital_place(say: Translator, told: Fact) -> str:
    return say.capital(spot_words(say, told["position"], told["valves"], "full"))
