"""Words of a section: which student plays which part of a score, and how that was settled."""

from handslide.words.messages import N_, NP_

STUDENT = NP_("head of a column", "student")
PART = NP_("head of a column", "part")
HORN = NP_("head of a column", "horn")
NOTES = NP_("head of a column", "notes")
UNPLAYABLE = NP_("head of a column", "can't be played")
# Translators: part is the name of a column in the teacher's class list and stays as it is.
BY_ORDER = N_(
    "The column part says nothing for {students}: the trombone parts were dealt out in the order "
    "of the score."
)
MORE_THAN_PARTS = N_("There are more students than parts left, so some play the same one.")
IDLE = N_("Nobody plays {parts}.")
