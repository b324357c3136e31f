"""What is said of each kind of fact whose topic is ``pitch``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NP_, Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

# Intervals of a kind, by the number of letters.
_INTERVALS = (
    NP_("intervals", "unisons and octaves"),
    NP_("intervals", "seconds"),
    NP_("intervals", "thirds"),
    NP_("intervals", "fourths"),
    NP_("intervals", "fifths"),
    NP_("intervals", "sixths"),
    NP_("intervals", "sevenths"),
)
# Translators: intervals are typed with the English letters P, M, m, A and d: leave them.
_PERFECT = N_(
    "{text!q} isn't an interval: {intervals} are perfect (P), augmented (A) or diminished (d)"
)
_MAJOR = N_(
    "{text!q} isn't an interval: {intervals} are major (M) or minor (m), augmented (A) or "
    "diminished (d)"
)


def _perfect(say: Translator, told: Fact) -> str:
    return say(_PERFECT, text=told["text"], intervals=_INTERVALS[told["letters"]])


def _major(say: Translator, told: Fact) -> str:
    return say(_MAJOR, text=told["text"], intervals=_INTERVALS[told["letters"]])


KINDS: Mapping[str, Message | Teller] = {
    "pitch.letter": N_("{letter!q} is not a letter from A to G"),
    # Translators: notes are typed with English letters in every language; say so in yours.
    "pitch.no_octave": N_(
        "{text!q} is not a note: the octave is missing: did you mean {name}2 or {name}3?"
    ),
    "pitch.german": N_(
        "{text!q} is not a note: H is the German name: write B for it, and Bb for the German B"
    ),
    "pitch.fixed_do": N_(
        "{text!q} is not a note: write letters: do is C, re is D, mi is E, fa is F, sol is G, la "
        "is A, si is B"
    ),
    "pitch.not_a_note": N_(
        "{text!q} is not a note: a note is a letter A to G, signs b or #, and an octave, such as "
        "Eb2 (middle C is C4)"
    ),
    "pitch.interval": N_(
        "{text!q} isn't an interval: give a name such as P8, P5, m3 or M2 (a - before it: down), "
        "or semitones such as -12, four octaves at the most"
    ),
    "pitch.interval_far": N_(
        "{text!q} is too far: give a name such as P8, P5, m3 or M2 (a - before it: down), or "
        "semitones such as -12, four octaves at the most"
    ),
    "pitch.interval_perfect": _perfect,
    "pitch.interval_major": _major,
    "pitch.interval_unison": N_(
        "{text!q} isn't an interval: a unison can't be diminished; for a semitone down write -m2 "
        "or -1"
    ),
    "pitch.chord": N_("there is no chord {name!q}; the chords are {known}"),
}
