"""Progress in words: groups of notes, how they stand, what changed, what to practise next."""

from collections.abc import Sequence
from datetime import date

from handslide.ground.facts import Fact
from handslide.ground.pitch import from_midi
from handslide.instrument.progress.advice import Next
from handslide.instrument.progress.judge import Change, GroupProgress
from handslide.words.habits import GROUPS, spot_words
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.translate import Translator

# Translators: a note and where it is played: "C3" + "in 6th".
_NOTE = N_("{pitch} {place}")
_IN_TUNE = N_("in tune")
_HIGH = NN_("{count} cent too high", "{count} cents too high")
_LOW = NN_("{count} cent too low", "{count} cents too low")
_OPEN_HORN = N_("open horn")

# Changes. {early} and {late} are such as "12 cents too high".
_BIAS_CHANGED = N_("{early} at first, {late} now")
_STEADIER = N_("steadier, within ±{late:.0f} cents now, ±{early:.0f} at first")
_LESS_STEADY = N_("less steady, within ±{late:.0f} cents now, ±{early:.0f} at first")
_RIGHT_CHANGED = N_("{late:.0f} of 100 notes right now, {early:.0f} at first")
_BY_CENTS = N_("change {by:+.0f} cents, 95 % interval {low:+.0f} to {high:+.0f}")
_BY_SHARE = N_("change {by:+.0f} of 100, 95 % interval {low:+.0f} to {high:+.0f}")
# Translators: a group of notes, and what is said of it.
_SAID = N_("{group}: {said}")

# What to practise next.
# Translators: a group of notes, and one of them to practise it with.
_SUCH_AS = N_("{group} (such as {pitch})")
_ON_STAND = NN_("{reason}; on the stand once", "{reason}; on the stand {count} times")
_SLIDE_OFF = {
    True: N_("{off}: the slide is about {mm:.0f} mm too far out"),
    False: N_("{off}: the slide is about {mm:.0f} mm too short"),
}
_VALVE_OFF = {
    True: N_("{off}: the valve's own tuning slide may have to go out"),
    False: N_("{off}: the valve's own tuning slide may have to go in"),
}
# Translators: {what} is to be practised because of {why}; {how} says how.
_PRACTISE = N_("{what}: {why}; {how}.")

_MANY_MORE = N_("many more takes")
_ENOUGH = N_("enough takes")
_MORE = NN_("one more take", "about {count} more takes")

_NO_TAKES = N_("no takes yet")
_SPAN = N_("{first} to {last}")
_TAKES = NN_("one take", "{count} takes")
_NOTES = NN_("{count} note", "{count} notes")

# The horn as a whole.
_TUNING = {
    True: N_(
        "Tuning of the horn: {off} as a whole in the last takes; the main tuning slide may have to "
        "go out. This is taken off from everything below."
    ),
    False: N_(
        "Tuning of the horn: {off} as a whole in the last takes; the main tuning slide may have to "
        "go in. This is taken off from everything below."
    ),
}

# Pictures.
HIGH = NP_("above the line of a picture", "high")
LOW = NP_("below the line of a picture", "low")
FURTHER = NP_("along the slide", "further out")
TUNING_PICTURE = N_("Tuning of the horn")
SLIDE_PICTURE = N_(
    "The slide with each place and where it was played; the table of places says the same in "
    "numbers"
)

# The report in a terminal.
COLUMNS: Sequence[Message] = (
    NP_("column", "place"), NP_("column", "now"), NP_("column", "slide"), NP_("column", "spread"),
    NP_("column", "right"), NP_("column", "notes"), NP_("column", "takes"),
    NP_("column", "change"),
)  # fmt: skip
# Translators: a cell of the table: so many notes right of so many.
RIGHT_OF = N_("{right} of {tried}")
BETTER, WORSE, PRACTISE = N_("Better"), N_("Worse"), N_("Practise")
NOTHING_SURE, NOTHING_STANDS_OUT = N_("nothing that is sure"), N_("nothing stands out")


def group_words(say: Translator, group: GroupProgress) -> str:
    """What a group is called: ``6th position``, ``C3 in 6th``, ``notes after a move out``."""
    valves = group.valves or ()
    if group.kind == "note":
        pitch = from_midi(group.midi or 0)
        if group.position is None:
            return say.written(pitch)
        return say(_NOTE, pitch=pitch, place=spot_words(say, group.position, valves, "in"))
    if group.kind == "place":
        # With the valve nobody takes 1st for anything but a position.
        return spot_words(say, group.position or 1.0, valves, "" if valves else "full")
    return say(GROUPS[group.kind], valves=valves, partial=group.partial or 1)


def group_heading(say: Translator, group: GroupProgress) -> str:
    """What a group is called, at the beginning of a line. A note's name stays as it is."""
    words = group_words(say, group)
    return words if group.kind == "note" else say.capital(words)


def lane_words(say: Translator, valves: tuple[str, ...]) -> str:
    """A set of valves: ``with the F valve``, ``open horn``."""
    return say.written(valves, "valves") if valves else say(_OPEN_HORN)


def high_low(say: Translator, cents: float) -> str:
    """``12 cents too high``; ``in tune`` for less than one."""
    count = round(abs(cents))
    if count == 0:
        return say(_IN_TUNE)
    return say(_HIGH if cents > 0 else _LOW, count=count)


def change_words(say: Translator, change: Change) -> str:
    """From what to what, for any verdict."""
    early, late = change.early, change.late
    if change.measure == "bias":
        return say(_BIAS_CHANGED, early=high_low(say, early), late=high_low(say, late))
    if change.measure == "spread":
        return say(_STEADIER if late < early else _LESS_STEADY, early=early, late=late)
    return say(_RIGHT_CHANGED, early=100 * early, late=100 * late)


def interval_words(say: Translator, change: Change) -> str:
    """By how much, with the 95 % interval: of the distance from 0, the spread or the share."""
    scale, message = (100.0, _BY_SHARE) if change.measure == "right" else (1.0, _BY_CENTS)
    by = change.by
    return say(message, by=scale * by.value, low=scale * by.low, high=scale * by.high)


def changed_words(say: Translator, group: GroupProgress, change: Change) -> str:
    """A change that is sure, as a sentence."""
    said = change_words(say, change)
    return say.sentence(say(_SAID, group=group_heading(say, group), said=said))


def picture_words(say: Translator, group: GroupProgress) -> str:
    """What the picture of a place shows, for those who hear the page."""
    said = [] if group.bias is None else [high_low(say, group.bias.value)]
    said += [
        change_words(say, one) for one in group.changes if one.verdict in ("improved", "worse")
    ]
    return say(_SAID, group=group_heading(say, group), said="; ".join(said))


def off_words(say: Translator, told: Fact) -> str:
    """How high something is; the values of ``progress.off``."""
    return high_low(say, told["cents"])


def slide_off_words(say: Translator, told: Fact) -> str:
    """How high, and how far off the slide is; the values of ``progress.slide_off``."""
    mm = told["slide_mm"]
    return say(_SLIDE_OFF[mm > 0], off=off_words(say, told), mm=abs(mm))


def valve_off_words(say: Translator, told: Fact) -> str:
    """How high the notes of a valve are; the values of ``progress.valve_off``."""
    return say(_VALVE_OFF[told["cents"] > 0], off=off_words(say, told))


def practise_what(say: Translator, found: Next) -> str:
    """What to practise: a note, or a group with one of its notes."""
    what = group_words(say, found.group)
    if found.group.kind in ("note", "all"):
        return what
    return say(_SUCH_AS, group=what, pitch=from_midi(found.midi))


def practise_why(say: Translator, found: Next) -> str:
    """What is the matter, whether that is sure, and how often it stands on the stand."""
    reason = say.written(found.reason)
    return say(_ON_STAND, reason=reason, count=found.on_stand) if found.on_stand else reason


def practise_words(say: Translator, found: Next) -> str:
    """What to practise, why and how, as a sentence."""
    return say(
        _PRACTISE,
        what=practise_what(say, found),
        why=practise_why(say, found),
        how=found.how,
    )


def tuning_words(say: Translator, told: Fact) -> str:
    """What the tuning of the horn was; the values of ``progress.tuning``."""
    return say(_TUNING[told["cents"] > 0], off=off_words(say, told))


def more_words(say: Translator, more: int | None) -> str:
    """How many more takes would tell: ``about 3 more takes``; None: many."""
    if more is None:
        return say(_MANY_MORE)
    return say(_MORE, count=more) if more else say(_ENOUGH)


def span_words(
    say: Translator, first: date | None, last: date | None, takes: int, notes: int
) -> str:
    """``5 September 2026 to 25 November 2026 · 14 takes · 620 notes``."""
    if first is None or last is None:
        return say(_NO_TAKES)
    days = [say.day(day, in_full=True) for day in (first, last)]
    span = days[0] if first == last else say(_SPAN, first=days[0], last=days[1])
    return " · ".join((span, say(_TAKES, count=takes), say(_NOTES, count=notes)))
