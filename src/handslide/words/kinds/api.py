"""What is said of each kind of fact whose topic is ``api``: to people who write programs.

Names of arguments stay as they are in every language.
"""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # Translators: which of several notes is wrong, such as notes[2], and why.
    "api.at": N_("{where}: {cause}"),
    "api.no_notes": N_("there are no notes: give at least one"),
    "api.not_notes": N_("{name}: notes are names such as Eb2, or numbers, not both at once"),
    "api.not_midi": N_(
        '{name}: {value:g} is no MIDI number from 0 to 127; of frequencies say unit="hz"'
    ),
    "api.hz": N_("{name}: a frequency is above 0, not {hz:g} Hz"),
    "api.far_hz": N_(
        "{name}: a frequency lies outside all notes (MIDI number {value:.0f}); of MIDI numbers say "
        'unit="midi"'
    ),
    "api.not_numbers": N_("{name} must be numbers"),
    "api.not_finite": N_("{where} is not a number (NaN) or infinite"),
    # Translators: the shape of an array of numbers, such as (12,).
    "api.shape": N_("{name} has the shape {shape}; it must be {wanted}"),
    "api.typed_times": N_("a typed line has its own times and slurs: leave {name} away"),
    "api.no_note": N_("there is no note {index}: the line has {count}, counted from 0"),
    "api.no_such_place": N_("{pitch} has no place {place} on this horn, within these limits"),
    "api.choice": N_("a choice is none of its note's, or no route goes there"),
    "api.repeated": N_("note {index} is played several times: no one route is the best through it"),
    "api.extension": N_(
        "an extension of {extension_mm:g} mm is outside the slide, 0 to {most_mm:.0f} mm"
    ),
    "api.partial": N_("partials are counted from 1"),
    "api.rate": N_("samples need their rate: give rate_hz, such as 44100"),
    "api.either": N_("give {names:either}, one of them"),
    "api.main_only": N_("{name} is for the main slide: loops don't depend on the temperature"),
    "api.valves_wanted": N_("say with valves what was engaged"),
}
