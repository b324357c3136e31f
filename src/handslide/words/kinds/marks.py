"""What is said of each kind of fact whose topic is ``marks``."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "marks.style": N_("{word!q} is not a mark style: combine words out of {known}"),
    "marks.show": N_("{name!q} isn't a choice of marks: {known}"),
    "marks.existing": N_("{name!q} isn't a way with fingerings: {known}"),
    "marks.report": N_("{name!q} isn't a place for the report: {known}"),
    # Translators: {text} stands over a note in the part, as a fingering.
    "marks.fingering_unread": N_("{text!q} over {note} isn't a slide position"),
    "marks.fingering_no_place": N_("{note} isn't in {text!q} on this horn"),
    "marks.fingering_no_valve": N_("{text!q} over {note} asks for a valve; this horn has none"),
    # Translators: {why} is such as "6th: beyond the reach of 5".
    "marks.fingering_forbidden": N_("{text!q} over {note} can't be used ({why})"),
    "marks.fingering_torn": N_("{text!q} over {note} would break the glissando"),
    # Translators: {best} is another mark; points say how much harder a route is.
    "marks.fingering_costs": N_(
        "{text!q} over {note} costs {worse_by:.1f} points more than {best!q}"
    ),
    # Translators: {why} is such as "F3 isn't in '2' on this horn".
    "marks.fingering_impossible": N_(
        "measure {measure}: {why}, and fingerings were to be kept at any cost"
    ),
    # Translators: what would help where some notes can't be played. A reach is a position.
    "marks.remedy_reach": N_("all would be playable with a reach of {reach:g}"),
    "marks.remedy_valves": N_("all would be playable {valves:valves}"),
    "marks.remedy_horn": N_("all would be playable on this horn: {horn}"),
    "marks.original": N_("{path} is the original itself"),
    # Translators: a lock fixes the place of a note; it is typed as MEASURE:INDEX=PLACE or, in a
    # line of notes, as INDEX=PLACE. Leave these words as the program's --help has them.
    "marks.not_a_lock": N_("{text!q} isn't a lock: write MEASURE:INDEX=PLACE, such as 12:3=T1"),
    "marks.not_a_lock_of_line": N_("{text!q} isn't a lock: write INDEX=PLACE, such as 3=6"),
    "marks.lock_from_one": N_("{text!q}: notes count from 1"),
    "marks.lock_no_place": N_("lock {lock}: {pitch} has no place {place} (its places: {has})"),
    "marks.lock_unplayable": N_("lock {lock}: {pitch} has no place on this horn"),
    "marks.lock_no_measure": N_("lock {lock}: no note to mark in a measure {measure}"),
    "marks.lock_measures": N_(
        "lock {lock}: {count} measures are numbered {measure}; write #N for the Nth of the part: "
        "{spelled}"
    ),
    "marks.lock_no_note": NN_(
        "lock {lock}: measure {measure} has only {count} note to mark",
        "lock {lock}: measure {measure} has only {count} notes to mark",
    ),
    "marks.lock_no_note_of_line": NN_(
        "lock {lock}: the line has only {count} note",
        "lock {lock}: the line has only {count} notes",
    ),
}
