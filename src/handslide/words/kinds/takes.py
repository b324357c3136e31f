"""What is said of each kind of fact whose topic is ``takes``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.takes import (
    COUNTS,
    as_told,
    fault_words,
    octave_words,
    off_because,
    off_unsure,
    off_words,
    shifted_words,
    wrong_partial,
)
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    **COUNTS,
    "takes.as_told": as_told,
    # What became of a note.
    "takes.in_tune": N_("in tune"),
    "takes.off": off_words,
    "takes.off_unsure": off_unsure,
    "takes.off_because": off_because,
    "takes.octave": octave_words,
    "takes.outside": N_("not in this take"),
    "takes.missing": N_("not heard"),
    "takes.not_on_horn": N_("not on this horn"),
    "takes.no_place": N_("no place on this horn within the student's limits"),
    "takes.unsure": N_("not sure what was played here"),
    "takes.wrong": N_("played {pitch}"),
    "takes.wrong_partial": wrong_partial,
    # Translators: {mark} is the sign of a position over a note, such as 3½.
    "takes.wrong_position": N_("played {pitch}: the slide was about in {mark}"),
    "takes.joined": N_("ran together with the note before"),
    "takes.unsteady": N_("unsteady"),
    "takes.waited": N_("after a wait"),
    # What to practise.
    "takes.note": N_("{pitch}"),
    # Translators: a note and the sign over it: "E♭3 in 3".
    "takes.note_in": N_("{pitch} in {mark}"),
    # Translators: two notes and the signs over them: "C3 to E♭3 (1 to 3)".
    "takes.interval": N_("{before} to {pitch} ({before_mark} to {mark})"),
    "takes.faults": fault_words,
    # The take as a whole.
    "takes.doubt": N_("Hardly a note of the take fits this part: is it the right one?"),
    "takes.doubt_shifted": shifted_words,
}
