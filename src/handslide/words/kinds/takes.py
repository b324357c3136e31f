"""What is said of each kind of fact whose topic is ``takes``."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message
from handslide.words.takes import (
    COUNTS,
    as_told,
    drift_words,
    fault_words,
    group_words,
    octave_words,
    off_because,
    off_unsure,
    off_words,
    passage_words,
    shifted_words,
    whole_octave,
    whole_words,
    wrong_partial,
)
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    **COUNTS,
    "takes.as_told": as_told,
    "takes.no_file": N_("there is no recording in what was sent: choose a file first"),
    "takes.whose": N_("whose take is it? Choose the student"),
    "takes.not_in_list": N_("the student or part isn't a number: choose it in the list"),
    "takes.no_note": N_(
        "no note was found in {file}: was the right microphone chosen, and near enough?"
    ),
    "takes.silent": N_(
        "{file} is silent: was the right microphone chosen, and is it switched on and turned up?"
    ),
    "takes.other_stand": N_("this part is on another student's stand, not on {student}'s"),
    "takes.source": N_("{source!q} isn't a source of takes: {known}"),
    "takes.no_title": N_("a take needs a title: write one"),
    "takes.long_title": N_("a title may have up to {most} letters"),
    "takes.not_a_time": N_("{text!q} isn't a time: write it as 2026-11-25 or 2026-11-25T16:30"),
    "takes.gone": N_("this take isn't in the studio (any more)"),
    "takes.sound_gone": N_(
        "the sound of this take wasn't kept: only takes of the last hour have it"
    ),
    "takes.no_consent": N_(
        "a recording is kept only with consent: write on the student's page who agreed, and "
        "choose there to keep recordings"
    ),
    "takes.too_many_waiting": NN_(
        "{count} take is waiting to be heard: send this one later",
        "{count} takes are waiting to be heard: send this one later",
    ),
    "takes.not_waiting": N_("this take isn't being heard (any more): look for it among the takes"),
    "takes.broken": N_(
        "this take couldn't be heard: handslide made a mistake, and its terminal says which"
    ),
    "takes.unreadable_report": N_(
        "the report of this take can't be read: the take itself and its notes are untouched"
    ),
    # What became of a note.
    "takes.in_tune": N_("in tune"),
    "takes.in_tune_with_rest": N_("in tune with the rest"),
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
    # Translators: of a note whose pitch couldn't be measured in cents.
    "takes.too_quick": N_("too quick to measure"),
    "takes.waited": N_("after a wait"),
    # What to practise.
    "takes.note": N_("{pitch}"),
    # Translators: a note and the sign over it: "E♭3 in 3".
    "takes.note_in": N_("{pitch} in {mark}"),
    # Translators: two notes and the signs over them: "C3 to E♭3 (1 to 3)".
    "takes.interval": N_("{before} to {pitch} ({before_mark} to {mark})"),
    "takes.faults": fault_words,
    "takes.group": group_words,
    # The take as a whole.
    "takes.whole": whole_words,
    "takes.drift": drift_words,
    "takes.whole_octave": whole_octave,
    "takes.left_out": passage_words,
    "takes.doubt": N_("Hardly a note of the take fits this part: is it the right one?"),
    "takes.doubt_shifted": shifted_words,
}
