"""What is said of each kind of fact whose topic is ``sounds``."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # Why something that sounded isn't among the notes.
    "sounds.click": N_("click"),
    "sounds.noise": N_("noise"),
    "sounds.too_short": N_("too short"),
    "sounds.sliding": N_("sliding"),
    "sounds.no_steady_pitch": N_("no steady pitch"),
    # Translators: of the mains.
    "sounds.hum": N_("hum"),
    "sounds.struck_string": N_("struck string"),
    "sounds.several_pitches": N_("several pitches at once"),
    # What to know about a recording.
    "sounds.clipped": NN_(
        "{count} of {total} notes is clipped: its pitch can be trusted, its level can't; record "
        "with less gain",
        "{count} of {total} notes are clipped: their pitch can be trusted, their level can't; "
        "record with less gain",
    ),
    "sounds.silent": N_("the take is silent"),
    "sounds.no_note": N_("no note was found in the take"),
    "sounds.a4_assumed": N_("there is no note to estimate A4 from: {a4_hz:g} Hz is used"),
    "sounds.a4_of_few": NN_(
        "A4 is estimated from {count} note only", "A4 is estimated from {count} notes only"
    ),
    "sounds.a4_weak": N_("the notes don't agree on a tuning pitch: the estimate of A4 is weak"),
}
