"""Words of a library: what was marked for whom, what is hard about it, and what wasn't taken."""

from collections.abc import Iterable, Mapping

from handslide.ground.pitch import from_midi
from handslide.instrument.pace import pace
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.report import PACE
from handslide.words.translate import Translator

# Why a part of a score is taken, or isn't.
TAKEN: Mapping[str, Message] = {
    "name": N_("called a trombone's"),
    "clef_and_range": N_("by its clef and range"),
    "person": N_("as parts.toml says"),
}
NOT_TAKEN: Mapping[str, Message] = {
    "others_named": N_("other parts of the score are called trombones'"),
    "instrument": N_("its name is another instrument's"),
    "clef": N_("in a clef that isn't a slide player's"),
    "range": N_("beyond the range of a slide"),
    "chords": N_("chords, or more than one staff"),
    "empty": N_("without notes of its own"),
    "person": N_("as parts.toml says"),
}
# Why a file of a folder has nothing for a slide player is that of its parts. What goes on in the
# studio's background:
DOING: Mapping[str, Message] = {
    "looking": N_("Looking into the folders: {done} of {total}"),
    "reading": N_("Reading new files: {done} of {total}"),
    "taking": N_("Taking parts in: {done} of {total}"),
}
CLEFS: Mapping[str, Message] = {
    "F4": N_("bass clef"), "F": N_("bass clef"), "C4": N_("tenor clef"), "C3": N_("alto clef"),
    "C": N_("C clef"), "F3": N_("baritone clef"), "G2": N_("treble clef"), "G": N_("treble clef"),
    "percussion": N_("percussion"),
}  # fmt: skip
# Translators: clefs of a part, and its range.
AND_CLEF = N_("{first}, {second}")
TITLE = N_("The library")
MARKED = NN_("{count} part is marked", "{count} parts are marked")
MADE = NN_("{count} of them now", "{count} of them now")
COPIED = NN_("{count} was in place of another file", "{count} were in place of other files")
TO_DO = NN_("{count} is still to do", "{count} are still to do")
FAILED = NN_("{count} could not be marked", "{count} could not be marked")
UNREAD = NN_("{count} file could not be read", "{count} files could not be read")
FILES = NN_("{count} file", "{count} files")
WOULD = NN_("{count} part would be marked", "{count} parts would be marked")
STOPPED = N_("Stopped; the same command goes on.")
LEFT = NN_("{count} part was not taken", "{count} parts were not taken")
# Translators: parts.csv and parts.toml are files and stay as they are.
CORRECT = N_("parts.csv lists what was taken for what; parts.toml in {folder} corrects it.")
NOTHING_FOUND = N_("No part of the library fits.")
FOUND_MORE = NN_("and {count} more; --most shows them", "and {count} more; --most shows them")
# Translators: the bar of a long run: how many parts a second, and how long it still takes.
RATE = N_("{done} of {total} · {rate:.0f} a second · {left} left")
STAGES: Mapping[str, Message] = {
    "looking": NP_("stage of a long run", "looking"),
    "reading": NP_("stage of a long run", "reading"),
    "marking": NP_("stage of a long run", "marking"),
}
# Translators: how long something still takes: hours and minutes, minutes and seconds.
HOURS = N_("{hours} h {minutes:02d} min")
MINUTES = N_("{minutes} min {seconds:02d} s")
SECONDS = N_("{seconds} s")
# The page.
ONLY_HARDEST = N_("The {count} hardest of {total}; all of them are in grades.csv.")
SEARCH = N_("Search")
TROUBLED = NN_("{count} can't wholly be played", "{count} can't wholly be played")
# Translators: where something comes, in a list of measures by their numbers.
IN_MEASURES = N_("measures {measures}")
CANT = N_("What can't be played")
PROBLEMS = N_("What could not be marked")
PASSED_OVER = N_("Parts that were not taken")
MORE = NN_("and {count} more", "and {count} more")
PART = NP_("head of a column", "part")
RANGE = NP_("head of a column", "range")
REACH = NP_("head of a column", "furthest position")
QUICKEST = NP_("head of a column", "quickest move")
VALVES = NP_("head of a column", "valves")
UNPLAYABLE = NP_("head of a column", "can't be played")
EFFORT = NP_("head of a column", "effort a note")
# Translators: from the lowest to the highest note: E2 to F4.
SPAN = NP_("range of a part", "{low} to {high}")
OF_NOTES = NN_("{bad} of {count} note", "{bad} of {count} notes")
# Translators: how many notes use a valve: "F valve 12×".
WITH_VALVE = N_("{valves:together} {count}×")
NONE = NP_("valves", "none")
POSITION_FIGURE = N_("{position:.1f}")
HOW_HARD = N_(
    "Harder is what has a larger share of notes that can't be played, then what costs more effort "
    "a note: way and speed of the slide, turns, valves, far positions, as the profile counts them."
)


def span(say: Translator, low: int, high: int) -> str:
    """The range of a part: ``E2 to F4``; MIDI notes."""
    return say(SPAN, low=from_midi(low), high=from_midi(high))


def glance(say: Translator, clefs: Iterable[str], low: int | None, high: int | None) -> str:
    """A part at a glance: ``bass clef, E2 to F4``; empty where nothing is known of it."""
    names = dict.fromkeys(say(CLEFS[clef]) for clef in clefs if clef in CLEFS)
    range_ = "" if low is None or high is None else span(say, low, high)
    told = [*names, range_] if range_ else [*names]
    text = ""
    for one in told:
        text = say(AND_CLEF, first=text, second=one) if text else one
    return text


def furthest(say: Translator, position: float | None) -> str:
    """The furthest position of a route, a number; a dash where nothing can be played."""
    return "–" if position is None else say(POSITION_FIGURE, position=position)


def quickest(say: Translator, speed_m_s: float) -> str:
    """How quick the quickest move is: ``easy, 1.8 m/s``."""
    return say(PACE, pace=say.named("pace", pace(speed_m_s)), speed_m_s=speed_m_s)


def valves_used(say: Translator, valves: Iterable[tuple[str, int]]) -> str:
    """Which valves are used, and on how many notes."""
    used = [say(WITH_VALVE, valves=name.split("+"), count=count) for name, count in valves]
    return ", ".join(used) or say(NONE)


def unplayable(say: Translator, bad: int, notes: int) -> str:
    """How many notes can't be played: ``3 of 120 notes``; a dash for none."""
    return say(OF_NOTES, bad=bad, count=notes) if bad else "–"


def time_left(say: Translator, seconds: float) -> str:
    """How long something still takes."""
    whole = round(seconds)
    if whole >= 3600:
        return say(HOURS, hours=whole // 3600, minutes=whole % 3600 // 60)
    if whole >= 60:
        return say(MINUTES, minutes=whole // 60, seconds=whole % 60)
    return say(SECONDS, seconds=whole)
