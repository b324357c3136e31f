"""Why a note has its place, in a sentence that a teacher would say."""

from typing import Any

from handslide.instrument.reasons import Reason
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.translate import Translator

# Translators: a place and why: "6th" + "the line is already moving out; in 1st the slide would turn
# back 49 cm". The reason is put in as a main clause, and also stands alone.
_BECAUSE = N_("{place}, because {reason}")
_LOCKED = N_("{place}, as locked")
_EITHER = N_("{place}; {rival:the} would do as well")
_RIVAL_EITHER = N_("{rival:the} would do as well")
_RIVAL_MOVES_MORE = N_("with {rival:the} the line as a whole moves more")
# Translators: how far the slide would go, in the sentences about moves.
_WAY = NP_("way of the slide", "{cm:.0f} cm")
_QUICK_WAY = NP_("way of the slide", "{cm:.0f} cm at {speed_m_s:.1f} m/s")
_COMES_BACK = N_(
    "it is {near_cm:.0f} cm from {neighbour}; {rival:in} the slide would come back {far}"
)
REASONS: dict[str, Message] = {
    "unlearned": N_("{rival:the} needs a valve that isn't learned yet"),
    "glissando": N_("the glissando must stay on one partial"),
    "smears": N_("{rival:the} would smear the slur"),
    "repeated": N_("the repeated note keeps its place"),
    # Translators: the note would have to be lipped up that far.
    "flat": NN_("{rival:in} it is {count} cent flat", "{rival:in} it is {count} cents flat"),
    "between": N_("{rival:the} falls between two positions"),
    "unsure": N_("the {partial:partial} partial {rival:in} is less sure"),
    "looked_for": N_("{rival:the} is an alternate that has to be looked for"),
    "freer": N_("the note sounds freer without the valve than {rival:in}"),
    "first_valve": N_("the first valve is surer than {rival:the}"),
    "valve_stays": N_("the valve needn't move; {rival:the} would need it to"),
    "moving_out": N_(
        "the line is already moving out; {rival:in} the slide would turn back {far}"
    ),
    "moving_in": N_("the line is already moving in; {rival:in} the slide would turn back {far}"),
    "stays": N_(
        "the slide stays where it was for {neighbour}; {rival:in} the slide would travel {far}"
    ),
    "nearer": N_(
        "it is {near_cm:.0f} cm from {neighbour}; {rival:in} the slide would travel {far}"
    ),
    "can_stay": N_("the slide can stay for {neighbour}; {rival:from} it would be {far}"),
    "next_nearer": N_(
        "{neighbour} {neighbour_place:in} comes next, {near_cm:.0f} cm away; {rival:from} it "
        "would be {far}"
    ),
    "moves_less": N_("the line as a whole moves less so"),
}  # fmt: skip


def reason_words(say: Translator, reason: Reason) -> str:
    """The place of a note and why it has it: ``6th, because the line is already moving out; ...``.

    A place that is the teacher's own, or a near tie, is said to be one.
    """
    if reason.kind == "locked":
        return say(_LOCKED, place=reason.place)
    if reason.kind == "would_do":
        return say(_EITHER, place=reason.place, rival=reason.rival)
    return say(_BECAUSE, place=reason.place, reason=_clause(say, reason))


def against_words(say: Translator, reason: Reason) -> str:
    """Why a note hasn't the other place that was asked for."""
    if reason.kind == "would_do":
        return say(_RIVAL_EITHER, rival=reason.rival)
    if reason.kind == "moves_less":
        return say(_RIVAL_MOVES_MORE, rival=reason.rival)
    return _clause(say, reason)


def _clause(say: Translator, reason: Reason) -> str:
    message = REASONS[reason.kind]
    if reason.kind == "nearer" and reason.rival_way_m < 0 < reason.way_m:
        message = _COMES_BACK
    values: dict[str, Any] = {
        "near_cm": 100.0 * abs(reason.way_m),
        "far": _far(say, reason),
        "neighbour": reason.neighbour,
        "neighbour_place": reason.neighbour_place,
    }
    if reason.rival is not None:
        values["rival"] = reason.rival
        values["partial"] = reason.rival.partial
        values["count"] = round(reason.rival.lip_cents)
    return say(message, **values)


def _far(say: Translator, reason: Reason) -> str:
    cm = 100.0 * abs(reason.rival_way_m)
    if reason.rival_speed_m_s is None:
        return say(_WAY, cm=cm)
    return say(_QUICK_WAY, cm=cm, speed_m_s=reason.rival_speed_m_s)
