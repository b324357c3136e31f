"""Words of the lists and tables that the command line prints."""

from handslide.words.messages import N_, NN_, NP_

# Translators: heads of the columns of tables.
NAME = NP_("head of a column", "name")
HORN = NP_("head of a column", "horn")
SLIDE = NP_("head of a column", "slide")
# Translators: the furthest position that a slide reaches.
LAST_POSITION = NP_("head of a column", "last position")
NOTE = NP_("head of a column", "note")
MARK = NP_("head of a column", "mark")
POSITION = NP_("head of a column", "position")
PARTIAL = NP_("head of a column", "partial")
# Translators: other places of a note, with how much worse each is.
ELSE = NP_("head of a column", "else (worse by)")
WHY = NP_("head of a column", "why")
MILLIMETRES = N_("{mm:.0f} mm")
OWN_HORN = N_("your own: {horn}")
OWN_HORNS = N_("Horn files of your own can be kept in {folder}")
LIPPED = NN_("lip up {count} cent; {place}", "lip up {count} cents; {place}")
UNPLAYABLE = N_("can't be played")
WRITTEN = N_("written: {file}")
