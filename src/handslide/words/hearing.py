"""Why a heard pitch can't come, or hardly comes, from the slide in a note's place."""

from handslide.ground.facts import Fact
from handslide.words.habits import spot_words
from handslide.words.messages import N_
from handslide.words.places import partial_name, with_valves
from handslide.words.translate import Translator

# By whether it was lower than the marked place can sound, and whether the slide was too far out.
_ELSEWHERE = {
    (True, True): N_(
        "lower than the marked place can sound; perhaps played {place}, {mm:.0f} mm too far out"
    ),
    (True, False): N_(
        "lower than the marked place can sound; perhaps played {place}, {mm:.0f} mm too short"
    ),
    (False, True): N_(
        "higher than the marked place can sound; perhaps played {place}, {mm:.0f} mm too far out"
    ),
    (False, False): N_(
        "higher than the marked place can sound; perhaps played {place}, {mm:.0f} mm too short"
    ),
}
_OPEN_PARTIAL = N_(
    "this is the pitch of the {partial} partial with the slide closed; perhaps not played in the "
    "marked place"
)
_VALVE_PARTIAL = N_(
    "this is the pitch of the {partial} partial with the slide closed {with_valves}; perhaps not "
    "played in the marked place"
)
_TOO_FAR = N_("slide {mm:.0f} mm too far out")
_TOO_SHORT = N_("slide {mm:.0f} mm too short")
_TOO_FAR_IF = N_("{mm:.0f} mm too far out, if it was played in {mark}")
_TOO_SHORT_IF = N_("{mm:.0f} mm too short, if it was played in {mark}")


def elsewhere(say: Translator, told: Fact) -> str:
    """That the note was perhaps played in another of its places."""
    place = spot_words(say, told["position"], told["valves"], "in")
    mm = told["slide_mm"]
    return say(_ELSEWHERE[told["low"], mm > 0], place=place, mm=abs(mm))


def closed_partial(say: Translator, told: Fact) -> str:
    """That the pitch is a partial of the closed slide."""
    partial, valves = partial_name(say, told["partial"]), told["valves"]
    if not valves:
        return say(_OPEN_PARTIAL, partial=partial)
    return say(_VALVE_PARTIAL, partial=partial, with_valves=with_valves(say, valves))


def slide_words(say: Translator, told: Fact) -> str:
    """How far the slide was off."""
    mm = told["slide_mm"]
    return say(_TOO_FAR if mm > 0 else _TOO_SHORT, mm=abs(mm))


def slide_if(say: Translator, told: Fact) -> str:
    """How far the slide was off, if a note was played in its usual place."""
    mm = told["slide_mm"]
    return say(_TOO_FAR_IF if mm > 0 else _TOO_SHORT_IF, mm=abs(mm), mark=told["mark"])
