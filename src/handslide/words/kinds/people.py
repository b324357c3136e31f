"""What is said of each kind of fact whose topic is ``people``: students and their horns."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.places import valve_name
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

_NO_VALVE = N_("no horn of this student has a valve {valve!q} (its valves: {valves})")
_NO_VALVES = N_("no horn of this student has a valve {valve!q}: it has no valves")


def _no_valve(say: Translator, told: Fact) -> str:
    if not told["has"]:
        return say(_NO_VALVES, valve=told["valve"])
    return say(_NO_VALVE, valve=told["valve"], valves=", ".join(told["has"]))


def _valves(say: Translator, told: Fact) -> str:
    return ", ".join(valve_name(say, name) for name in told["valves"]) or "–"


_SINCE = N_("since {day}")


def _since(say: Translator, told: Fact) -> str:
    return say(_SINCE, day=say.day(told["day"]))


KINDS: Mapping[str, Message | Teller] = {
    # What a teacher wrote, or an older handslide in English: word for word.
    "people.as_told": NP_("what somebody wrote", "{text}"),
    # Translators: a former version of a horn is in use again.
    "people.restored": N_("version {number} used again"),
    "people.since": _since,
    # Translators: beside the name of a student, or the title of a part, that another has too.
    "people.counted": NP_("of one name", "no. {number}"),
    # Students.
    "people.no_student": N_("this student isn't in the studio (any more)"),
    "people.nameless": N_("a student needs a name: type the one you call the student by"),
    "people.long_name": NN_(
        "the name has {count} letter: at most {most} fit on a sheet",
        "the name has {count} letters: at most {most} fit on a sheet",
    ),
    "people.long_note": NN_(
        "the note has {count} letter: at most {most} are kept",
        "the note has {count} letters: at most {most} are kept",
    ),
    "people.no_valve": _no_valve,
    "people.no_clef": N_("{value!q} isn't a clef: there are {allowed}"),
    "people.no_naming": N_("{value!q} isn't a way to name notes: there are {allowed}"),
    "people.no_profile": N_("{value!q} isn't a profile: there are {allowed}"),
    "people.no_choice": N_("{value!q} isn't a choice of marks: there are {allowed}"),
    "people.no_language": N_("{value!q} isn't a language: there are {allowed}"),
    "people.no_consent": N_(
        "recordings are kept only with a note of who agreed to it, and how: fill it in, or leave "
        "recordings off"
    ),
    "people.no_day": N_("{text!q} isn't a day: write it as {example}"),
    "people.consent_to_come": N_("the consent is dated {day}, which is still to come"),
    # Horns.
    "people.no_horn": N_("this horn isn't in the studio (any more)"),
    "people.without_horn": N_("this student has no horn yet: give one first"),
    "people.no_origin": N_("{value!q} isn't an origin of a horn: {allowed}"),
    "people.large_horn_file": N_("{file} is too large for a horn file: is it one?"),
    "people.horn_file_no_text": N_("{file} isn't text in UTF-8: is it a horn file?"),
    "people.nameless_horn": N_("the horn needs a name: type what you call it"),
    "people.long_horn_name": NN_(
        "the horn's name has {count} letter: at most {most}",
        "the horn's name has {count} letters: at most {most}",
    ),
    "people.not_finite": N_("the values of a horn must be numbers, not {number}"),
    # Translators: {hz} is what was typed as the frequency of the closed tube's first partial.
    "people.closed_outside": N_(
        "closed slide: {hz} Hz is outside 15 to 500 Hz: is it the first partial, the pedal note?"
    ),
    "people.valve_closed_outside": N_(
        "with the {valve:valve} valve: {hz} Hz is outside 15 to 500 Hz: is it the first partial, "
        "the pedal note?"
    ),
    "people.millimetres": N_("{mm:g} mm"),
    "people.measured": N_("{hz} Hz"),
    "people.valves": _valves,
    "people.version_in_use": N_("version {number} is the one in use"),
    "people.no_version": N_("this horn has no version {number}: it has 1 to {newest}"),
    "people.archived_horn": N_("this horn is archived: take it out of the archive first"),
    "people.only_horn": N_("a student keeps one horn at least: add another before this one goes"),
}
