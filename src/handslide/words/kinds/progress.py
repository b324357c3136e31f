"""What is said of each kind of fact whose topic is ``progress``."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message
from handslide.words.progress import off_words, slide_off_words, tuning_words, valve_off_words
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # What is the matter with something to practise.
    "progress.off": off_words,
    "progress.slide_off": slide_off_words,
    "progress.valve_off": valve_off_words,
    "progress.unsteady": N_("now higher, now lower: ±{spread_cents:.0f} cents"),
    "progress.faults": N_("{wrong} of {tried} wrong or not heard"),
    # Translators: {reason} is one of the five above.
    "progress.unsure": N_("{reason}, as far as can be told yet"),
    "progress.how_unsteady": N_(
        "play it three times in a row, each time from the air, until all three sound alike"
    ),
    # The horn as a whole.
    "progress.tuning": tuning_words,
    # What can't be told yet, and what would tell.
    "progress.no_takes": N_("There are no takes yet: record one, then come back."),
    "progress.known": N_("{known} of {places} places are known to within what a listener hears."),
    "progress.known_and_more": NN_(
        "{known} of {places} places are known to within what a listener hears; one more take would "
        "tell of {near} more.",
        "{known} of {places} places are known to within what a listener hears; about {count} more "
        "takes would tell of {near} more.",
    ),
    "progress.no_changes_yet": N_(
        "Nothing can be said about changes yet: that takes four takes of a place over ten days or "
        "more."
    ),
    "progress.change_after": NN_(
        "Where nothing is said, a change that is heard would show after one more take of that "
        "place at the earliest.",
        "Where nothing is said, a change that is heard would show after about {count} more takes "
        "of that place at the earliest.",
    ),
    # What must be known to read the numbers rightly.
    "progress.doubtful": NN_(
        "{count} take didn't fit the part and isn't counted.",
        "{count} takes didn't fit the part and aren't counted.",
    ),
    "progress.guessed": N_("Notes played without a part are counted in their usual place."),
    "progress.tuning_untold": N_(
        "No take has enough notes in 1st: the tuning of the horn can't be told from the slide."
    ),
    "progress.tests": NN_(
        "{count} change was looked at; on average one in twenty of those called better or worse is "
        "chance, at most.",
        "{count} changes were looked at together; on average one in twenty of those called better "
        "or worse is chance, at most.",
    ),
    # What can't be asked for.
    "progress.no_time": N_("from {since} to {until} is no time: the end is before it"),
    "progress.not_a_day": N_("{text!q} isn't a day: write it as 2026-11-25"),
    "progress.no_studio": N_("there is no studio in {folder}: begin one with 'handslide studio'"),
    "progress.which_student": N_("{who!q} may be {names}: give the number"),
    "progress.no_student": N_("there is no student called {who!q} in this studio"),
    "progress.no_such_horn": N_("{text!q} isn't a horn of this studio: choose one from the list"),
    "progress.no_such_part": N_("{text!q} isn't a part of this studio: choose one from the list"),
}
