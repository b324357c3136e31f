"""The words of what was read from a PDF."""

from handslide.words.messages import N_, NN_, NP_

READ = N_("What was read from the PDF")
DOUBTS = N_("Notes read with doubt")
DOUBTS_SHOWN = N_(
    "On the pages these notes are tinted, and their marks are framed and end with a question mark."
)
# Translators: what a framed mark such as [3?] means.
READ_IN_DOUBT = N_("read with doubt: compare with the page")
UNKNOWN = N_("Signs that nobody knows here")
TO_CHECK = N_("Bars to look at")
# Translators: heads of the columns of tables.
PAGE = NP_("head of a column", "page")
SYSTEM = NP_("head of a column", "system")
SYSTEMS = NP_("head of a column", "systems")
BAR = NP_("head of a column", "bar")
ITEM = NP_("head of a column", "item")
CLEF = NP_("head of a column", "clef")
KEY = NP_("head of a column", "key")
RANGE = NP_("head of a column", "range")
DOUBTFUL = NP_("head of a column", "doubtful")
WHY = NP_("head of a column", "why")
SIGN = NP_("head of a column", "sign")
TIMES = NP_("head of a column", "times")
FIRST = NP_("head of a column", "first in")
SIZE = NP_("head of a column", "size")
GUESS = NP_("head of a column", "perhaps")
# Translators: from the lowest to the highest note.
FROM_TO = NP_("a range", "{lowest} to {highest}")
SHARPS = NP_("a key signature", "{count}♯")
FLATS = NP_("a key signature", "{count}♭")
PLAIN = NP_("a key signature", "none")
# Translators: width and height of a sign, in spaces between staff lines.
SPACES = N_("{width:.1f} × {height:.1f} spaces")
# Translators: a place on a page.
PLACE = N_("page {page}, system {system}, bar {bar}")
SYSTEM_PLACE = N_("page {page}, system {system}")
REST = NP_("in place of a note's name", "rest")
# Translators: a note by its name and place; an item is a note or rest of a bar.
NOTE_AT = N_("{note}, {place}, item {item}")
ITEM_AT = N_("{place}, item {item}")
DOUBTED = N_("{note}; doubtful: {why}")
STAFF = N_("staff {number}")
NO_NOTE = N_("no note")
MORE_ROWS = NN_("and {count} more bar", "and {count} more bars")
