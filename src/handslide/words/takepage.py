"""The report of a take: what stands on its page, on the student's sheet and on the terminal."""

from handslide.instrument.practice import Practice
from handslide.words.listening import HEARD, NOTHING_HEARD, TRUST
from handslide.words.messages import N_, NP_
from handslide.words.takes import FAULTS
from handslide.words.translate import Translator

# Translators: what the terminal says below each take.
PRIVACY = N_(
    "Nothing left this machine and no copy of the take was kept; for recordings of minors follow "
    "your local rules and get consent first."
)
# Translators: the last line of the page that a studio prints.
PRIVACY_OF_STUDIO = N_(
    "Nothing left the teacher's machine; for recordings of minors follow your local rules and get "
    "consent first."
)
# What stands instead of habits and advice where no note was heard.
NOTHING = N_("Nothing was heard")
WHAT_TO_DO = N_("What to do")
RECORD_AGAIN = N_(
    "See that the right microphone is chosen, switched on and near enough: its level must move "
    "while you play. Then record it again."
)
FIND_OUT = N_("First find out which part this is, and how it is read.")
ABOUT_FREE = N_(
    "Free playing: each note beside the nearest note of the horn in its usual place; the numbers "
    "above are minutes and seconds."
)
_TITLE = N_("How it sounded: {title}")
_TITLE_OF_STUDENT = N_("How it sounded: {title} · {student}")
# Translators: why to practise a note, and how.
_ADVICE = NP_("why to practise it, and how", "{why}: {how}.")
# Translators: what to practise, why, and how, in one line on the terminal.
_ADVICE_LINE = NP_("what to practise, why, and how", "{what}: {why}; {how}.")
# What the page says, by the fields of `handslide.sheets.takecontent.PageTexts`.
SHEET = {
    "cents": N_("cents"),
    "slide": N_("slide position"),
    # Translators: the upper end of a scale of cents.
    "high": NP_("end of a scale", "high"),
    # Translators: the lower end of a scale of cents.
    "low": NP_("end of a scale", "low"),
    "how_to": N_(
        "Upper picture: dots above the line are too high, below it too low; 100 cents are a "
        "semitone, and inside the grey band it is in tune to the ear. Lower picture: the grey line "
        "is where the slide should be, the dots are where it was."
    ),
    "habits": N_("Again and again"),
    "no_habits": N_("No habit stands out in this take."),
    "practice": N_("Practise this first"),
    "no_practice": N_("Nothing stands out: play it to somebody."),
    "heard": HEARD,
    "nothing_heard": NOTHING_HEARD,
    "trust": TRUST,
}
# What the signs in the pictures mean.
LEGEND = {
    "dot:0": N_("as played"),
    "|": N_("how sure the pitch is"),
    "↓12": N_("slide 12 mm further out"),
    "↑12": N_("slide 12 mm further in"),
    "×": N_("another note (its name below)"),
    "dot:1": FAULTS["octave"],
    "ring:0": FAULTS["missing"],
    "?": N_("not sure"),
}
FREE_PLAYING = N_("Free playing")
# Translators: a note of a take and what is to be said of it: "E♭3: in tune".
NAMED_NOTE = NP_("a note of a take and what is said of it", "{note}: {words}")

# The terminal.
A4_GIVEN = N_("A4 = {a4_hz:.1f} Hz (given); {length_s:.1f} s; cents are against equal temperament")
A4_ESTIMATED = N_(
    "A4 = {a4_hz:.1f} Hz (estimated from the notes); {length_s:.1f} s; cents are against equal "
    "temperament"
)
# Translators: heads of the columns of the table of heard notes.
HEARD_HEADS = (
    NP_("head of a column", "note"),
    NP_("head of a column", "start s"),
    NP_("head of a column", "length s"),
    NP_("head of a column", "cents"),
    NP_("head of a column", "±"),
    NP_("head of a column", "spread"),
    NP_("head of a column", "vibrato"),
)
PLAYED_HEADS = (
    NP_("head of a column", "measure"),
    NP_("head of a column", "note"),
    NP_("head of a column", "mark"),
    NP_("head of a column", "cents"),
    NP_("head of a column", "slide"),
)
DRONE_HEADS = (
    NP_("head of a column", "note"),
    NP_("head of a column", "start s"),
    NP_("head of a column", "interval"),
    NP_("head of a column", "cents from just"),
    NP_("head of a column", "beats a second"),
)
# Translators: how far the pitch swings, and how often in a second.
VIBRATO = N_("±{cents:.0f} at {speed_hz:.1f} Hz")
LEFT_OUT = N_("left out:")
# Translators: why something was left out, and where: "click: 0.10 to 0.12 s".
LEFT_OUT_ROW = NP_("why something was left out, and where", "{why}: {where}")
LEFT_OUT_ONE = N_("{start_s:.2f} to {end_s:.2f} s")
LEFT_OUT_MANY = N_("{count} times between {start_s:.2f} and {end_s:.2f} s, {length_s:.2f} s in all")
SIGNED_MILLIMETRES = N_("{mm:+.0f} mm")
HABITS = N_("Habits")
NO_HABITS = N_("none that is sure")
PRACTISE = N_("Practise")
NO_PRACTICE = N_("nothing stands out")
# What stands in the column of cents where there are none.
SIGNS = {
    "wrong": NP_("of a note", "wrong"),
    "octave": NP_("of a note", "octave"),
}


def sheet_title(say: Translator, title: str, student: str = "") -> str:
    """The title of the page for a student."""
    return say(_TITLE_OF_STUDENT if student else _TITLE, title=title, student=student)


def advice_text(say: Translator, item: Practice) -> str:
    """Why to practise something, and how."""
    return say(_ADVICE, why=item.why, how=item.how)


def advice_line(say: Translator, item: Practice) -> str:
    """What to practise, why and how, in one line."""
    return say(_ADVICE_LINE, what=item.what, why=item.why, how=item.how)
