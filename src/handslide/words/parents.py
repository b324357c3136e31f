"""The words of the sheet for parents: progress for somebody who plays nothing."""

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.instrument.progress.judge import Change
from handslide.words.messages import N_, NN_, NP_
from handslide.words.progress import high_low
from handslide.words.translate import Translator

TITLE = N_("Progress: {name}")
LEGEND = N_("slide position: 1st is closed, 7th is furthest out")
BETTER, TOO_EARLY = N_("What got better"), N_("What changed: too early to tell")
NEXT, HELPING = N_("What comes next"), N_("How to help")
NO_CHANGE = N_("Everything is as it was, as far as a listener can hear.")
# Translators: {group} is such as "6th position".
NOT_BETTER = N_("Not better: {group}")
NOTHING_STANDS_OUT = N_("Nothing stands out: play to somebody.")
FIRST_TAKE = N_("Record the first take.")
# Translators: how often something stands in a part, by the part's title.
WHERE = NN_(
    "Once in {title}, first in measure {measure}.",
    "{count} times in {title}, first in measure {measure}.",
)
HELP = (
    N_(
        "Ten minutes a day do more than an hour on Sunday. Listen to one of these notes at the "
        "beginning and at the end, ask which was easier, and praise what got better."
    ),
    N_(
        "A drone is a long, soft tone that a note is held against. Two tones that nearly agree "
        "waver: these are the beats. When they stop, the note is in tune."
    ),
)
SAFE = N_(
    "Far positions and long practice can hurt, above all a growing player: rest when something "
    "hurts. Play drones and recordings softly, above all on headphones. This sheet holds no "
    "recordings."
)
SERIES_NOTE = N_(
    "Each dot is a take: above the line it was too high, below it too low; the thin line through "
    "it shows how far its notes lay apart. Inside the grey band most listeners hear no difference. "
    "A semitone, the smallest step on a piano, is 100 cents on this scale."
)
STRIP_NOTE = N_(
    "The slide, drawn to scale: the grey strokes are where the notes lie, the dots where they were "
    "played in the last takes, the bars how much that varied."
)

_EMPTY = N_("{name} has no takes yet: with the first recording this sheet begins to fill.")
_RIGHT = NN_(
    "{name} played {right} of {count} note right in the last takes.",
    "{name} played {right} of {count} notes right in the last takes.",
)
_HEARD = N_("About {in_ten} in 10 notes sound in tune to a listener.")
_RIGHT_AND_HEARD = NN_(
    "{name} played {right} of {count} note right in the last takes; about {in_ten} in 10 sound in "
    "tune to a listener.",
    "{name} played {right} of {count} notes right in the last takes; about {in_ten} in 10 sound in "
    "tune to a listener.",
)
_EARLY = N_("It is too early to say what changes.")
_NOTHING_SURE = N_("No change is sure yet: small steps take many takes to show.")
# Translators: {better} and {worse} are such as "nothing", "one thing", "3 things".
_CHANGED = N_("Surely better: {better}; surely worse: {worse}.")
_NOTHING = NP_("how many things changed", "nothing")
_THINGS = NN_("one thing", "{count} things")

# What changed. {early} and {late} are such as "12 cents too high".
_BIAS = N_("At first {early}, now {late}.")
_BIAS_HEARD_NO_MORE = N_("At first {early}, now {late}: most listeners don't hear that any more.")
_STEADIER = N_("Steadier: the notes lie within ±{late:.0f} cents, before within ±{early:.0f}.")
_LESS_STEADY = N_(
    "Less steady: the notes lie within ±{late:.0f} cents, before within ±{early:.0f}."
)
_NOTES_RIGHT = N_("{late:.0f} of 100 notes right, before {early:.0f}.")


def played_words(say: Translator, name: str, right: int, tried: int, in_tune: float | None) -> str:
    """How many notes were right, and how many of them in tune (a share; None: unknown)."""
    values = {"name": name, "right": right, "count": tried, "in_ten": round(10 * (in_tune or 0.0))}
    if not tried:
        return "" if in_tune is None else say(_HEARD, **values)
    return say(_RIGHT if in_tune is None else _RIGHT_AND_HEARD, **values)


def empty_words(say: Translator, name: str) -> str:
    """What the sheet of a student without takes says."""
    return say(_EMPTY, name=name)


def count_words(say: Translator, improved: int, worse: int, asked: int) -> str:
    """How many changes are sure, of those that could be asked for."""
    if asked == 0:
        return say(_EARLY)
    if improved + worse == 0:
        return say(_NOTHING_SURE)
    return say(_CHANGED, better=_things(say, improved), worse=_things(say, worse))


def _things(say: Translator, count: int) -> str:
    return say(_THINGS, count=count) if count else say(_NOTHING)


def change_sentence(say: Translator, change: Change) -> str:
    """What a change that is sure means, in plain words."""
    early, late = change.early, change.late
    if change.measure == "bias":
        no_more = abs(late) < IN_TUNE_CENTS <= abs(early)
        message = _BIAS_HEARD_NO_MORE if no_more else _BIAS
        return say(message, early=high_low(say, early), late=high_low(say, late))
    if change.measure == "spread":
        return say(_STEADIER if late < early else _LESS_STEADY, early=early, late=late)
    return say(_NOTES_RIGHT, early=100 * early, late=100 * late)
