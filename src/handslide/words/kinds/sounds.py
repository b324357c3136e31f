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
    # Translators: the end of a note that dies away, or the room's answer to it.
    "sounds.release": N_("dying away"),
    "sounds.beep": N_("metronome"),
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
    "sounds.drone": N_(
        "{pitch} sounds through the whole take, as from a drone: it was taken out, but notes that "
        "go together with it may be unsure; use headphones next time"
    ),
    "sounds.silent": N_("the take is silent"),
    "sounds.no_note": N_("no note was found in the take"),
    "sounds.a4_assumed": N_("there is no note to estimate A4 from: {a4_hz:g} Hz is used"),
    "sounds.a4_of_few": NN_(
        "A4 is estimated from {count} note only", "A4 is estimated from {count} notes only"
    ),
    # What can't be.
    "sounds.a4": N_("A4 at {a4_hz:g} Hz is outside {lowest_hz:g} to {highest_hz:g} Hz"),
    "sounds.not_mono": N_("samples of shape {shape} aren't mono: give one row"),
    "sounds.closed": N_("this stream is closed: make a new listener"),
    "sounds.empty_part": N_("there is no note in the part, so there is nothing to follow"),
    "sounds.too_many": N_(
        "{heard} heard notes against {expected} of the part are too many to follow at once: cut "
        "the take into shorter ones"
    ),
    "sounds.nothing_to_hear": N_("there is nothing to hear in it: it is silent"),
    "sounds.no_loop": NN_(
        "no loop of {shortest_s:.1f} to {longest_s:.1f} s holds whole periods of the tone: ask "
        "for a longer one",
        "no loop of {shortest_s:.1f} to {longest_s:.1f} s holds whole periods of all {count} "
        "tones: ask for a longer one, or for fewer tones",
    ),
    "sounds.no_such_tone": N_(
        "a tone of {f0_hz:g} Hz can't be made at {rate_hz:g} samples a second: give 0 to "
        "{most_hz:g} Hz"
    ),
    "sounds.a4_weak": N_("the notes don't agree on a tuning pitch: the estimate of A4 is weak"),
}
