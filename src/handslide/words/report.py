"""The words of the report of a marked part, and of measures in a list."""

from collections.abc import Sequence

from handslide.words.messages import N_, NN_, NP_
from handslide.words.translate import Translator

IN_SHORT = N_("In short")
PLACED = NN_("{placed} of {count} note has a place.", "{placed} of {count} notes have a place.")
NO_TEMPO = N_("The part states no tempo; a moderate one was taken.")
NOT_EXACT = N_("The repeats were settled one after the other, without proof of the best.")
UNPLAYABLE = N_("Notes that can't be played")
HELPS = N_("What would help")
# Translators: what each row is about: to transpose the part, to reach further, and so on.
HELPS_TRANSPOSE = NP_("row of a report", "transposing")
HELPS_REACH = NP_("row of a report", "reach")
HELPS_VALVES = NP_("row of a report", "valves")
HELPS_HORN = NP_("row of a report", "horn")
GLISSANDI = N_("Glissandi that can't be played")
TRILLS = N_("Trills")
QUICKEST = N_("Quickest slide moves")
VALVES = N_("Notes with a valve")
UNUSUAL = N_("Unusual places, and why")
CHECKED = N_("Fingerings in the part")
CHECKED_NOTHING = NN_(
    "{count} fingering was read; there is nothing to say against it.",
    "{count} fingerings were read; there is nothing to say against them.",
)
CHECKED_NONE = N_("The part has no fingerings.")
CHECKED_SOME = NN_("{count} fingering was read.", "{count} fingerings were read.")
# Translators: what is said of a fingering, and why the other place is better.
WITH_REASON = N_("{text}: {reason}")
TOGETHER = N_("Played as written the part costs {worse_by:.1f} points more than the best way.")
CARE = N_("Read with care")
CAUTION = N_("Caution")
PRINT = N_("Print")
FAR = N_(
    "Far positions: a short arm reaches 6th and 7th only by leaning or turning. Set the reach to "
    "what the child reaches at ease, stop when anything hurts, and follow the rules of your school."
)
# Translators: heads of the columns of tables.
MEASURE = NP_("head of a column", "measure")
MEASURES = NP_("head of a column", "measures")
NOTE = NP_("head of a column", "note")
NOTES = NP_("head of a column", "notes")
MARK = NP_("head of a column", "mark")
PLACES = NP_("head of a column", "places")
WAY = NP_("head of a column", "way")
SPEED = NP_("head of a column", "peak speed")
# Translators: a move between two notes or two places: "E♭3 to D3", "3 to 4".
MOVE = NP_("a move", "{first} to {second}")
CENTIMETRES = N_("{cm:.0f} cm")
# Translators: how quick a move is, and its speed: "quick, 3.1 m/s".
PACE = N_("{pace}, {speed_m_s:.1f} m/s")
# Translators: the end of a list that was cut.
MORE = NN_("and {count} more", "and {count} more")
_LIST_MORE = NN_("{listed} and {count} more", "{listed} and {count} more")
MOVEMENTS = N_("A Roman numeral before measures is their movement.")
PICTURE = N_("Music of {title}, page {page} of {pages}")
# Translators: who a sheet is for.
FOR_STUDENT = N_("for {student}")


def listed_measures(say: Translator, measures: Sequence[str], most: int = 14) -> str:
    """Measure numbers, each once, ``most`` of them."""
    unique = list(dict.fromkeys(measures))
    return listed_more(say, ", ".join(unique[:most]), len(unique) - most)


def listed_more(say: Translator, listed: str, more: int) -> str:
    """The beginning of a list, and how many ``more`` it has."""
    return say(_LIST_MORE, listed=listed, count=more) if more > 0 else listed
