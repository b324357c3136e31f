"""What is said when a profile is learnt from a teacher's choices, and when they are forgotten."""

from handslide.words.messages import N_, NN_

# Translators: a part that a profile is learnt from: its title and its file.
TAKEN = N_("“{title}” ({key}): {counts}")
# Translators: notes of a part, in a list: where the teacher wrote a position himself.
WRITTEN = NN_("{count} note written", "{count} notes written")
# Translators: notes of a part, in a list: where the teacher put another position for ours.
CHANGED = NN_("{count} note changed", "{count} notes changed")
# Translators: notes of a part, in a list: where the teacher read the position and let it stand.
STANDING = NN_("{count} note left standing", "{count} notes left standing")
AGAIN = N_("In place of what was learnt from it before.")
OURS = NN_(
    "{count} mark of handslide's own wasn't counted: say with --seen MEASURE how far you have read "
    "them.",
    "{count} marks of handslide's own weren't counted: say with --seen MEASURE how far you have "
    "read them.",
)
# Translators: fingerings in the part that teach nothing, a table below.
UNUSED = N_("What couldn't be used")
ANSWERS = NN_("{count} question answered", "{count} questions answered")
# Translators: {counts} is such as "112 notes written and 3 questions answered", as it stands alone.
LEARNT_FROM = N_("{name} is learnt from {counts}.")
FROM_NOTHING = N_("{name} has nothing to learn from yet: it is as it began, {began_from}.")
# Translators: what a profile began from, where it depends on the horn, in a sentence such as "it is
# as it began, each horn's usual profile".
BY_HORN = N_("each horn's usual profile")
# Translators: {kind} is such as "Horns in B♭ with one valve".
TAKES = N_(
    "{kind}: of {notes} choices, left out in turn, {learnt} come out as yours by what the others "
    "say; by {began_from}, from which it began, {base} do."
)
KEEPS = N_(
    "{kind}: of {notes} choices, left out in turn, {learnt} come out as yours by what the others "
    "say; by {began_from}, from which it began, {base} do. So it stays as it began there."
)
TOO_LITTLE = N_(
    "{kind}: there is too little yet to leave some out and see, so it stays as it began there."
)
LEFT = N_("Not explained by it; lock these where you want them so")
CLASHES = N_("These choices contradict each other")
USE = N_("Use it with --profile {name}.")
FORGOTTEN = N_("Forgotten: {counts}.")
NOTES = NN_("{count} note", "{count} notes")
RESET = N_("{name} is again as it began, {began_from}. What it was learnt from is kept.")
NOTHING_SHOWS = N_(
    "Nothing of what {name} learnt shows by itself in the music that it was learnt from."
)
NOTHING_LEARNT = N_("{name} is as it began, {began_from}: nothing is learnt.")
# Translators: the two ways to play the same notes, of which a teacher chooses one.
WHICH = N_("Which would you write?")
WHERE = N_("“{title}”, measure {measure}")
WAY = N_("{number}: {marks} ({words})")
PICTURE = N_("Both are drawn in {path}")
# Translators: 1, 2, 0 and q are typed as they stand.
PROMPT = N_("1, 2, 0 for neither, q to stop")
NOT_AN_ANSWER = N_("Type 1, 2, 0 or q.")
NOTHING_TO_ASK = N_("There is nothing left to ask about this part.")
STOPPED = N_("Stopped; what you answered is kept.")
