"""What is said of each kind of fact whose topic is ``parts``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "parts.too_large": N_("{file} is too large: a score may have up to {most_mb} MB here"),
    "parts.no_notes": N_("{file} has no pitched notes: is it a drum part or only words?"),
    "parts.no_score": N_("this part isn't in the studio (any more)"),
    "parts.long_title": N_("a title or composer may have up to {most} letters"),
    "parts.untitled": N_("a part needs a title: write one"),
    "parts.nobody_chosen": N_("nobody was chosen: tick at least one student"),
    "parts.not_their_horn": N_("{horn} isn't a horn of {student}: choose one of theirs"),
    "parts.not_pdf": N_("{file} isn't a PDF: nothing was read from pages"),
    "parts.no_page": N_("there is no music on page {page}"),
    "parts.no_place_read": N_("there is nothing at this place (any more): load the page again"),
    "parts.no_stand": N_("this part isn't on a stand (any more)"),
    # Translators: another part of a score was chosen for a stand.
    "parts.part_stands": N_(
        "{part} has a stand of its own for this student and horn: open that, or take it off first"
    ),
    "parts.tempo_outside": N_(
        "a tempo of {tempo_qpm:g} quarter notes a minute is outside {least:g} to {most:g}"
    ),
    # Translators: a part is a line of music for one player; it lies on a student's stand.
    "parts.no_note": N_("this part has no such note (any more): load the page again"),
    # Translators: what a teacher has fixed for a note is locked.
    "parts.no_place": N_(
        "{pitch} has no such place on this horn (its places: {has}); load the page again"
    ),
    "parts.nothing_to_lock": N_("a note that can't be played has no place to lock"),
    "parts.lock_lost": N_(
        "{note}: the place locked here isn't on {horn} within {student}'s limits; it is kept and "
        "passed over"
    ),
    "parts.torn_glissando": N_(
        "glissando {first} to {last}: the places locked here are on two partials, so that the "
        "slide can't join them"
    ),
    "parts.sound_otherwise": N_(
        "only what sounds alike can be compared: set under “Part, tempo, locks” how each part "
        "sounds, and whether its small notes are played"
    ),
    "parts.not_the_same": N_(
        "only the same part and voice of one score can be compared: here {first!q}, voice "
        "{first_voice}, there {second!q}, voice {second_voice}"
    ),
}
