"""Why a note has its place, in a sentence that a teacher would say."""

from collections.abc import Sequence
from typing import Any

from handslide.instrument.rivalry import Reason, same_spot
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.translate import Translator

# Translators: a place and why: "6th" + "the line is already moving out; in 1st the slide would turn
# back 49 cm". The reason is put in as a main clause, and also stands alone.
_BECAUSE = N_("{place}, because {reason}")
_LOCKED = N_("{place}, as it was given")
# Translators: the place was in the part already, as a fingering.
_WRITTEN = N_("{place}, as written in the part")
_EITHER = N_("{place}; {rival:the} would do as well")
_RIVAL_EITHER = N_("{rival:the} would do as well")
_NEARLY = N_("{place}; {rival:the} would do nearly as well")
_RIVAL_NEARLY = N_("{rival:the} would do nearly as well")
# Translators: how far the slide would go, in the sentences about moves.
_WAY = NP_("way of the slide", "{cm:.0f} cm")
_QUICK_WAY = NP_("way of the slide", "{cm:.0f} cm at {speed_m_s:.1f} m/s")
# Translators: another place of the note where its neighbour would have another place too: "in 1st
# (D3 then in 4th)". In sentences about moves such a place is put in as {there}, "in 1st", or as
# {thence}, "from 1st".
_THERE_WITH = NP_("another place", "{rival:in} ({neighbour} then {rival_neighbour:in})")
_THENCE_WITH = NP_("another place", "{rival:from} ({neighbour} then {rival_neighbour:in})")
# Translators: where another note is, beside the one that is told of.
_BEFORE = NP_("in the line", "before it")
_AFTER = NP_("in the line", "after it")
_COMES_BACK = N_("it is {near_cm:.0f} cm from {neighbour}; {there} the slide would come back {far}")
REASONS: dict[str, Message] = {
    "glissando": N_("the glissando must stay on one partial"),
    "smears": N_("{rival:the} would smear the slur"),
    "natural_slur": N_(
        "the change of partial makes the slur; {rival:in} the slide would go along with the pitch"
    ),
    "repeated": N_("the repeated note keeps its place"),
    "returns": N_("the note comes back in the place that it has"),
    # Translators: the note would have to be lipped up that far.
    "flat": NN_("{rival:in} it is {count} cent flat", "{rival:in} it is {count} cents flat"),
    "between": N_("a whole position is surer than {rival:the}"),
    "unsure": N_("the {partial:partial} partial {rival:in} is less sure"),
    "looked_for": N_("{rival:the} is an alternate that has to be looked for"),
    "freer": N_("the note sounds freer without the valve than {rival:in}"),
    "fewer_valves": N_("the note sounds freer with fewer valves than {rival:in}"),
    "high_with_valve": N_(
        "{rival:in} it is the {partial:partial} partial, which doesn't speak well with a valve"
    ),
    "pedal_with_valve": N_("{rival:in} the pedal note is stuffy"),
    "first_valve": N_("the first valve is surer than {rival:the}"),
    "valve_stays": N_("no valve has to move; {rival:the} would need one to"),
    "changes_less": NN_(
        "{rival:the} takes {count} more move of a valve",
        "{rival:the} takes {count} more moves of a valve",
    ),
    "further_out": N_("{rival:the} lies {further_cm:.0f} cm further out"),
    "moving_out": N_("the line is already moving out; {there} the slide would turn back {far}"),
    "moving_in": N_("the line is already moving in; {there} the slide would turn back {far}"),
    "on_the_way": N_(
        "it lies on the way from {neighbour} to {onward}; {there} the slide would turn back {far}"
    ),
    "leads_on": N_(
        "the slide goes on through {neighbour} the same way; {thence} it would turn back {far} "
        "after {neighbour}"
    ),
    "stays": N_(
        "the slide stays where it was for {neighbour}; {there} the slide would travel {far}"
    ),
    "nearer": N_("it is {near_cm:.0f} cm from {neighbour}; {there} the slide would travel {far}"),
    "can_stay": N_("the slide can stay for {neighbour}; {thence} it would be {far}"),
    "next_nearer": N_(
        "{neighbour} {neighbour_place:in} comes next, {near_cm:.0f} cm away; {thence} it would be "
        "{far}"
    ),
    "neighbour_worse": N_("{rival:the} would put {neighbour} {rival_neighbour:in}"),
    "moves_less": N_("{rival:in} the slide would go {further_cm:.0f} cm further in all"),
    # Translators: a slide vibrato, in a long note.
    "room_to_shake": N_("the slide has room to shake the long note; {rival:in} it is closed"),
    # Translators: {when} is "before it" or "after it", that is, in the line.
    "puts_elsewhere": N_("{rival:in}, {neighbour} {when} would go {rival_neighbour:in}"),
    "goes_elsewhere": N_(
        "{rival:in} the slide would have {far} to go from {neighbour} to {onward} {when}, "
        "not {near_cm:.0f} cm"
    ),
    "turns_elsewhere": N_(
        "{rival:in} the slide would turn at {neighbour} {when} and go back {far} to {onward}"
    ),
    "presses_elsewhere": N_(
        "{rival:in} a valve would have to move between {neighbour} and {onward} {when}"
    ),
    "costs_more": N_("{rival:in} the whole line would cost {points:.1f} points more"),
}
# The same where it holds for several notes, whose neighbours and ways differ.
SHARED: dict[str, Message] = {
    "changes_less": N_("{rival:the} takes more moves of a valve"),
    "moving_out": N_("the line is already moving out; {rival:in} the slide would turn back"),
    "moving_in": N_("the line is already moving in; {rival:in} the slide would turn back"),
    "on_the_way": N_(
        "it lies on the way from the note before to the next; {rival:in} the slide would turn back"
    ),
    "leads_on": N_(
        "the slide goes on the same way with the next notes; {rival:from} it would turn back"
    ),
    "stays": N_("the slide stays where it was for the note before"),
    "nearer": N_("the slide has less way to it than to {rival:the}"),
    "can_stay": N_("the slide can stay for the next note"),
    "next_nearer": N_("the way to the next note is shorter than {rival:from}"),
    "neighbour_worse": N_("{rival:the} would put a note beside it in a less plain place"),
    "moves_less": N_("{rival:in} the slide would go further in all"),
    "puts_elsewhere": N_("{rival:in} another note would go to a less plain place"),
    "goes_elsewhere": N_("{rival:in} the slide would have a longer way elsewhere"),
    "turns_elsewhere": N_("{rival:in} the slide would turn elsewhere"),
    "presses_elsewhere": N_("{rival:in} a valve would have to move elsewhere"),
    "costs_more": N_("{rival:in} the whole line would cost more points"),
}


def reason_words(say: Translator, reason: Reason) -> str:
    """The place of a note and why it has it: ``6th, because the line is already moving out; ...``.

    A place that is the teacher's own, or a near tie, is said to be one.
    """
    if reason.kind in ("locked", "written"):
        return say(_LOCKED if reason.kind == "locked" else _WRITTEN, place=reason.place)
    if reason.kind in ("would_do", "nearly"):
        message = _EITHER if reason.kind == "would_do" else _NEARLY
        return say(message, place=reason.place, rival=reason.rival)
    return say(_BECAUSE, place=reason.place, reason=_clause(say, reason))


def against_words(say: Translator, reason: Reason) -> str:
    """Why a note hasn't the other place that was asked for."""
    if reason.kind in ("would_do", "nearly"):
        message = _RIVAL_EITHER if reason.kind == "would_do" else _RIVAL_NEARLY
        return say(message, rival=reason.rival)
    return _clause(say, reason)


def shared_words(say: Translator, reasons: Sequence[Reason]) -> str:
    """Why notes of one pitch have one place, in words that are true of each of them.

    ``reasons`` are of one kind and about the same two places.
    """
    said = {reason_words(say, reason) for reason in reasons}
    first = reasons[0]
    if len(said) == 1:
        return said.pop()
    clause = say(SHARED[first.kind], rival=first.rival)
    return say(_BECAUSE, place=first.place, reason=clause)


def _clause(say: Translator, reason: Reason) -> str:
    message = REASONS[reason.kind]
    if reason.kind == "nearer" and reason.rival_way_m < 0 < reason.way_m:
        message = _COMES_BACK
    values: dict[str, Any] = {
        "near_cm": 100.0 * abs(reason.way_m),
        "further_cm": 100.0 * (reason.rival_way_m - reason.way_m),
        "far": _far(say, reason),
        "neighbour": reason.neighbour,
        "neighbour_place": reason.neighbour_place,
        "rival_neighbour": reason.rival_neighbour_place,
        "onward": reason.onward,
        "count": reason.more,
        "when": say(_AFTER if reason.later else _BEFORE),
        "points": reason.points,
    }
    if reason.rival is not None:
        values["rival"] = reason.rival
        values["partial"] = reason.rival.partial
        values["there"], values["thence"] = _there(say, reason)
        if reason.kind == "flat":
            values["count"] = round(reason.rival.lip_cents)
    return say(message, **values)


def _there(say: Translator, reason: Reason) -> tuple[str, str]:
    """The other place as where the slide would be and whence it would go."""
    here, other = reason.neighbour_place, reason.rival_neighbour_place
    moved = here is not None and other is not None and not same_spot(here, other)
    if not moved:
        return say.written(reason.rival, "in"), say.written(reason.rival, "from")
    told = {"rival": reason.rival, "neighbour": reason.neighbour, "rival_neighbour": other}
    return say(_THERE_WITH, **told), say(_THENCE_WITH, **told)


def _far(say: Translator, reason: Reason) -> str:
    cm = 100.0 * abs(reason.rival_way_m)
    if reason.rival_speed_m_s is None:
        return say(_WAY, cm=cm)
    return say(_QUICK_WAY, cm=cm, speed_m_s=reason.rival_speed_m_s)
