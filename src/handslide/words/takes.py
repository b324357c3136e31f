"""A take in words: what became of each note, what to practise, and what there is to know of it."""

from collections.abc import Iterable

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.translate import Translator

_HIGH = N_("{cents:.0f} cents too high")
_LOW = N_("{cents:.0f} cents too low")
# Of a take that is out of tune as a whole: beside its other notes.
_ABOVE_REST = N_("{cents:.0f} cents above the rest")
_BELOW_REST = N_("{cents:.0f} cents below the rest")
_WHOLE_HIGH = N_("the whole take {cents:.0f} cents too high")
_WHOLE_LOW = N_("the whole take {cents:.0f} cents too low")
# Translators: {group} are notes that share something: "notes with the F valve", "moves out";
# {example} is one of them: "E♭2 in T3½", "C3 to E♭3 (1 to 3)".
_GROUP = NP_("a group of notes to practise, and one of them", "{group}, such as {example}")
# Translators: {off} is such as "14 cents too low".
_UNSURE = N_("{off}, but too short or rough to be sure")
# Translators: {off} is such as "14 cents too low", {why} such as "slide 12 mm too far out".
_BECAUSE = NP_("how a note was off, and why", "{off}: {why}")
# Translators: two remarks on a note: "in tune; after a wait".
_REMARKS = NP_("two remarks on a note", "{first}; {second}")
_OCTAVES_HIGH = NN_("an octave too high", "{count} octaves too high")
_OCTAVES_LOW = NN_("an octave too low", "{count} octaves too low")
_CLIMBS = N_("climbs by about {cents:.0f} cents from beginning to end")
_SINKS = N_("sinks by about {cents:.0f} cents from beginning to end")
_WHOLE_ABOVE = NN_(
    "the whole take an octave above the part", "the whole take {count} octaves above the part"
)
_WHOLE_BELOW = NN_(
    "the whole take an octave below the part", "the whole take {count} octaves below the part"
)
_PASSAGE = N_("measures {first} to {last} left out")
_PASSAGE_OF_ONE = N_("measure {first} left out")
_PARTIAL_ABOVE = NN_(
    "played {pitch}: the partial above, with the slide in its place",
    "played {pitch}: {count} partials above, with the slide in its place",
)
_PARTIAL_BELOW = NN_(
    "played {pitch}: the partial below, with the slide in its place",
    "played {pitch}: {count} partials below, with the slide in its place",
)

# What can be wrong with a note, as it stands in the sentences below and in the page's legend.
FAULTS = {
    "missing": N_("not heard"),
    "wrong": NP_("of a note", "wrong"),
    "octave": N_("in another octave"),
    "stopped": N_("stopped or started again"),
}
# Translators: {faults} is one or more of "not heard", "wrong", "in another octave", "stopped or
# started again", joined with "or"; {measures} the numbers of the measures.
_FAULTS = NN_("{faults} in measure {measures}", "{faults} in measures {measures}")
# Translators: numbers of measures, of which the first are named: "3, 5, 8, 9, 12 and 2 more".
_MEASURES_MORE = N_("{measures} and {more} more")
_SHIFTED_UP = NN_(
    "Hardly a note fits, but all would {count} semitone higher: was it read in another clef or "
    "transposition?",
    "Hardly a note fits, but all would {count} semitones higher: was it read in another clef or "
    "transposition?",
)
_SHIFTED_DOWN = NN_(
    "Hardly a note fits, but all would {count} semitone lower: was it read in another clef or "
    "transposition?",
    "Hardly a note fits, but all would {count} semitones lower: was it read in another clef or "
    "transposition?",
)


def off_words(say: Translator, told: Fact) -> str:
    """How far a note was off: ``14 cents too low``."""
    cents = told["cents"]
    high, low = (_ABOVE_REST, _BELOW_REST) if "rest" in told.values else (_HIGH, _LOW)
    return say(high if cents > 0 else low, cents=abs(cents))


def whole_words(say: Translator, told: Fact) -> str:
    """That a take is off as a whole."""
    cents = told["cents"]
    return say(_WHOLE_HIGH if cents > 0 else _WHOLE_LOW, cents=abs(cents))


def group_words(say: Translator, told: Fact) -> str:
    """A group of notes to practise, with its worst."""
    return say(_GROUP, group=say.capital(say.written(told["group"])), example=told["example"])


def off_unsure(say: Translator, told: Fact) -> str:
    """How far a note seemed to be off."""
    return say(_UNSURE, off=off_words(say, told))


def off_because(say: Translator, told: Fact) -> str:
    """How far a note was off, and why."""
    return say(_BECAUSE, off=off_words(say, told), why=told["why"])


def octave_words(say: Translator, told: Fact) -> str:
    """That a note was played in another octave."""
    octaves = told["octaves"]
    return say(_OCTAVES_HIGH if octaves > 0 else _OCTAVES_LOW, count=abs(octaves))


def drift_words(say: Translator, told: Fact) -> str:
    """That a take gets higher or lower as a whole."""
    cents = told["cents"]
    return say(_CLIMBS if cents > 0 else _SINKS, cents=abs(cents))


def whole_octave(say: Translator, told: Fact) -> str:
    """That a take is in another octave as a whole."""
    octaves = told["octaves"]
    return say(_WHOLE_ABOVE if octaves > 0 else _WHOLE_BELOW, count=abs(octaves))


def passage_words(say: Translator, told: Fact) -> str:
    """Which measures were left out."""
    message = _PASSAGE_OF_ONE if told["first"] == told["last"] else _PASSAGE
    return say(message, first=told["first"], last=told["last"])


def wrong_partial(say: Translator, told: Fact) -> str:
    """That another partial was hit."""
    steps = told["steps"]
    message = _PARTIAL_ABOVE if steps > 0 else _PARTIAL_BELOW
    return say(message, pitch=told["pitch"], count=abs(steps))


def fault_words(say: Translator, told: Fact) -> str:
    """What went wrong with a note, and where."""
    measures = ", ".join(told["measures"])
    if told["more"]:
        measures = say(_MEASURES_MORE, measures=measures, more=told["more"])
    faults = say.listed((FAULTS[kind] for kind in told["faults"]), either=True)
    count = len(told["measures"]) + told["more"]
    return say(_FAULTS, faults=faults, measures=measures, count=count)


def shifted_words(say: Translator, told: Fact) -> str:
    """That the take fits the part if it is shifted."""
    semitones = told["semitones"]
    return say(_SHIFTED_UP if semitones > 0 else _SHIFTED_DOWN, count=abs(semitones))


def remarks(say: Translator, told: Iterable[Fact]) -> str:
    """All that there is to say of a note, in one line."""
    line = ""
    for fact in told:
        said = say.written(fact)
        line = say(_REMARKS, first=line, second=said) if line else said
    return line


def summary_line(say: Translator, told: Iterable[Fact]) -> str:
    """A take in one line: its counts, with dots between."""
    return " · ".join(say.written(fact) for fact in told)


def as_told(say: Translator, told: Fact) -> str:
    """A sentence of an older studio, kept as it was said."""
    text: str = told["text"]
    return text


COUNTS: dict[str, Message] = {
    "takes.right": NN_("{right} of {count} note right", "{right} of {count} notes right"),
    "takes.count_wrong": NN_("{count} wrong", "{count} wrong"),
    "takes.count_octave": NN_("{count} in another octave", "{count} in another octave"),
    "takes.count_missing": NN_("{count} not heard", "{count} not heard"),
    "takes.count_unsure": NN_("{count} not sure", "{count} not sure"),
    "takes.count_extra": NN_("{count} that isn't in the part", "{count} that aren't in the part"),
    "takes.count_again": NN_("{count} played again", "{count} played again"),
    "takes.count_outside": NN_(
        "{count} note of the part is before or after this take",
        "{count} notes of the part are before or after this take",
    ),
    "takes.count_repeat": NN_(
        "{count} note of a repeat that wasn't played",
        "{count} notes of a repeat that wasn't played",
    ),
    "takes.tempo": N_("tempo {percent:.0f} % of the part's"),
    # Translators: {why} is "the take is silent" or "no note was found in the take".
    "takes.nothing_heard": N_("nothing was heard: {why}"),
    "takes.count_heard": NN_("{count} note heard", "{count} notes heard"),
    "takes.count_tuned": NN_("{count} in tune to the ear", "{count} in tune to the ear"),
    "takes.count_placeless": NN_(
        "{count} that this horn doesn't have within the student's reach and valves",
        "{count} that this horn doesn't have within the student's reach and valves",
    ),
}
