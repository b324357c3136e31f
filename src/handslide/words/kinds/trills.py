"""What is said of each kind of fact whose topic is ``trills``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # Translators: a trill from one note to the one above it.
    "trills.lip": N_("{note} to {upper}: with the lip, {place:in}"),
    "trills.valve": N_("{note} to {upper}: with the valve, {place:in}"),
    "trills.slide": N_(
        "{note} to {upper}: with the slide, {place} and {upper_place}, {way_cm:.0f} cm to and fro; "
        "up to {notes_s:.0f} notes a second"
    ),
    "trills.slide_quick": N_(
        "{note} to {upper}: with the slide, {place} and {upper_place}, {way_cm:.0f} cm to and fro; "
        "quick enough for any trill"
    ),
    "trills.impossible": N_(
        "{note} to {upper}: not possible {place:in}; the slide would have to go {way_cm:.0f} cm "
        "to and fro"
    ),
    "trills.no_upper": N_("{note} to {upper}: not possible {place:in}; there is no {upper}"),
    "trills.other_valves": N_(
        "{note} to {upper}: not possible {place:in}; {upper} would be {other:in}"
    ),
    "trills.unplayable": N_("{note} to {upper}: {note} itself can't be played"),
    # Translators: {trill} is one of the sentences above.
    "trills.elsewhere": N_("{trill}. With {note} {place:in} no move of the slide would be needed"),
}
