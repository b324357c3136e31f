"""What is said of each kind of fact whose topic is ``places``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

# Translators: a glissando from one note to another, and what is wrong with it.
_NEAREST = N_(
    "glissando {first} to {last}: no partial holds both ends within the slide; the nearest that "
    "works is {near_first} to {near_last} on the {partial:partial} partial"
)
_NEAREST_VALVES = N_(
    "glissando {first} to {last}: no partial holds both ends within the slide; the nearest that "
    "works is {near_first} to {near_last} on the {partial:partial} partial {valves:valves}"
)
_SHORT = N_(
    "the slide would have to go to {position:.1f}, {missing_cm:.0f} cm further than it does"
)
_SHORT_VALVES = N_(
    "the slide {valves:valves} would have to go to {position:.1f}, {missing_cm:.0f} cm further "
    "than it does"
)
_UNPLAYABLE = N_("{pitch} can't be played: {causes}")


def _nearest(say: Translator, told: Fact) -> str:
    return say(_NEAREST_VALVES if told["valves"] else _NEAREST, **told.values)


def _short(say: Translator, told: Fact) -> str:
    message = _SHORT_VALVES if told["valves"] else _SHORT
    return say(message, missing_cm=told["missing_mm"] / 10.0, **told.values)


def _unplayable(say: Translator, told: Fact) -> str:
    causes = "; ".join(say.written(cause) for cause in told["causes"])
    return say(_UNPLAYABLE, pitch=told["pitch"], causes=causes)


KINDS: Mapping[str, Message | Teller] = {
    "places.none": N_("a note of the line has no place on this horn"),
    # Translators: a lock is the place that a teacher has fixed for a note.
    "places.two_locks": N_("locks give two places to one written note"),
    "places.no_such_lock": N_("a lock names a place that its note doesn't have"),
    "places.unplayable": _unplayable,
    # Translators: why a note can't be played.
    "places.beyond_reach": N_("it lies {place:in}, beyond the reach of {reach:g}"),
    "places.unlearned": N_("{place:the} needs a valve that isn't learned yet"),
    "places.high_partial": N_(
        "it needs the {partial:partial} partial, higher than this profile goes"
    ),
    "places.above": N_("it lies above the horn's {partial:partial} partial"),
    "places.below": N_("it lies below the horn's lowest note"),
    "places.slide_short": _short,
    # Translators: a place that a student's limits forbid, and why.
    "places.forbidden_valve": N_("{place}: needs a valve that isn't learned yet"),
    "places.forbidden_reach": N_("{place}: beyond the reach of {reach:g}"),
    "places.forbidden_partial": N_(
        "{place}: on the {partial:partial} partial, higher than this profile goes"
    ),
    "places.glissando": N_(
        "glissando {first} to {last}: no partial holds both ends within the slide"
    ),
    "places.glissando_nearest": _nearest,
    "places.glissando_chain": N_(
        "glissando {first} to {last}: it can't follow the one before it, which needs another "
        "partial"
    ),
    "places.glissando_end": N_("glissando {first} to {last}: one of its ends has no place"),
}
