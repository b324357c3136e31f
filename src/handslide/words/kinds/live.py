"""What is said of each kind of fact whose topic is ``live``."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "live.far": N_("another note: {hz:.1f} Hz"),
    "live.too_many": NN_(
        "{count} live view is open already: close it",
        "{count} live views are open already: close one of them",
    ),
    "live.silent": N_("the live view heard nothing for a minute and was closed"),
    "live.broken": N_(
        "the live view stopped: something went wrong in handslide; recording goes on"
    ),
    "live.long": N_("the live view ends after {most_minutes:g} minutes: begin again"),
    # A note that is listened for.
    "live.tone_held": N_("Long enough: take the horn down."),
    "live.tone_before": N_("This note sounds already: stop for a moment, and switch a drone off."),
    "live.tone_apart": N_(
        "More than {apart_cents:.0f} cents from an earlier tone, which no longer counts: once more."
    ),
    "live.tone_short": N_("Too short: hold it for about {hold_s:g} seconds."),
    "live.tone_unsteady": N_("Not steady enough to be measured: once more."),
    "live.other_tone": N_("That is {pitch}."),
    # For whoever writes to the live view.
    "live.begin": N_("the live view begins with a text message: rate_hz, student, stand, aim"),
    "live.not_an_object": N_("a message to the live view must be a JSON object"),
    "live.rate_not_a_number": N_("rate_hz must be a number: the samples a second"),
    "live.rate": N_("rate_hz = {rate_hz:g} is outside {lowest_hz:g} to {highest_hz:g}"),
    "live.student": N_("student must be the number of a student"),
    "live.stand": N_("stand must be the number of a stand, or null"),
    "live.aim": N_("aim must be a MIDI note from {lowest} to {highest}, or null"),
    "live.from": N_("from must be the number of a written note"),
    "live.number_wanted": N_("{key} must be a number from {low:g} to {high:g}"),
    "live.odd_block": N_("a block must hold whole samples of two bytes"),
    "live.long_block": N_("a block may hold up to {most_s:g} s of sound"),
}
