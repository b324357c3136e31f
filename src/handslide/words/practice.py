"""The words of practice sheets: headings, the log to tick, who a sheet is for."""

from handslide.words.messages import N_, NP_
from handslide.words.translate import Translator

LESSON_TITLE = N_("Lesson sheet: {title}")
WARM_UP = N_("Warm-up")
THIS_WEEK = N_("This week")
NOTHING_SURE = N_(
    "Nothing is surely weak in the takes yet: here is what suits horn and level. More takes of the "
    "same part will tell."
)
LIKELY_ONLY = N_(
    "Nothing is surely weak in the takes yet: here is what may be. More takes of the same part "
    "will tell."
)
HARD_SPOTS = N_("Hard spots")
NO_HARD_SPOTS = N_("none was found")
HARD_SPOTS_OF = N_("Hard spots of “{title}”")
HOW_TO_PRACTISE_SPOTS = N_(
    "Slowly first; when a spot went well three times in a row, a little faster. The marks are "
    "those of the whole part."
)
NOT_AS_WRITTEN = N_("What can't be played as it is written")
HOW_TO_OSSIA = N_(
    "Above the measures as they are written, below what could be played instead: suggestions, the "
    "teacher decides."
)
# Translators: over lines that a teacher or student writes remarks on.
NOTES = NP_("handwritten", "Notes")
# Translators: who plays a staff of a duet.
STUDENT, TEACHER = NP_("duet", "Student"), NP_("duet", "Teacher")
# Translators: who plays a part, on which horn.
PLAYS = N_("{who}: {horn}")
MUSIC_OF = N_("Music of {title}")
LOG = N_("Practice log")
HOW_TO_LOG = N_("Tick what you practised, write the minutes of each day and the tempo you reached.")
WHAT = NP_("practice log", "What")
# Translators: over the column where a student writes the tempo reached that day.
TEMPO_REACHED = NP_("practice log", "Tempo reached")
MINUTES = NP_("practice log", "Minutes")
# Translators: in that column: the tempo to reach, such as "of ♩ = 72".
OF_TEMPO = NP_("practice log", "of {tempo}")
WHOLE_PART = N_("“{title}” from beginning to end")
DAYS = (
    NP_("day of the week, short", "Mon"), NP_("day of the week, short", "Tue"),
    NP_("day of the week, short", "Wed"), NP_("day of the week, short", "Thu"),
    NP_("day of the week, short", "Fri"), NP_("day of the week, short", "Sat"),
    NP_("day of the week, short", "Sun"),
)  # fmt: skip
_FOR = N_("for {student}")


def student_line(say: Translator, student: str, limits: str) -> str:
    """For whom a sheet is, and within which limits."""
    name = say(_FOR, student=student) if student else ""
    return " · ".join(filter(None, (name, limits)))
