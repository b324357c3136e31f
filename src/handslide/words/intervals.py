"""Musical intervals in words: ``an octave and a minor third lower``."""

from handslide.ground.intervals import Interval
from handslide.words.messages import N_, NP_
from handslide.words.translate import Translator

# By quality and number of letters; the octave and its neighbours stand beside their fellows.
SIZES = {
    ("P", 0): N_("a unison"), ("A", 0): N_("an augmented unison"),
    ("d", 0): N_("a diminished unison"),
    ("m", 1): N_("a minor second"), ("M", 1): N_("a major second"),
    ("A", 1): N_("an augmented second"), ("d", 1): N_("a diminished second"),
    ("m", 2): N_("a minor third"), ("M", 2): N_("a major third"),
    ("A", 2): N_("an augmented third"), ("d", 2): N_("a diminished third"),
    ("P", 3): N_("a fourth"), ("A", 3): N_("an augmented fourth"),
    ("d", 3): N_("a diminished fourth"),
    ("P", 4): N_("a fifth"), ("A", 4): N_("an augmented fifth"),
    ("d", 4): N_("a diminished fifth"),
    ("m", 5): N_("a minor sixth"), ("M", 5): N_("a major sixth"),
    ("A", 5): N_("an augmented sixth"), ("d", 5): N_("a diminished sixth"),
    ("m", 6): N_("a minor seventh"), ("M", 6): N_("a major seventh"),
    ("A", 6): N_("an augmented seventh"), ("d", 6): N_("a diminished seventh"),
    ("A", 7): N_("an augmented octave"), ("d", 7): N_("a diminished octave"),
}  # fmt: skip
# Of more than one sign the size alone is said.
_PLAIN = (
    N_("a unison"), N_("a second"), N_("a third"), N_("a fourth"), N_("a fifth"), N_("a sixth"),
    N_("a seventh"), N_("an octave"),
)  # fmt: skip
_OCTAVES = (
    N_("an octave"), N_("two octaves"), N_("three octaves"), N_("four octaves"),
)  # fmt: skip
# Translators: an interval of more than an octave: "an octave and a minor third".
_BEYOND = NP_("interval", "{octaves} and {rest}")
_SAME = N_("at the same pitch")
_LOWER = N_("{interval} lower")
_HIGHER = N_("{interval} higher")


def interval_size(say: Translator, interval: Interval) -> str:
    """How large an interval is, without its direction: ``an octave and a minor third``."""
    octaves, letter, quality = interval.size
    if letter == 0 and octaves and quality in ("A", "d"):
        octaves, letter = octaves - 1, 7
    elif letter == 0 and octaves:
        return say(_OCTAVES[octaves - 1])
    rest = say(SIZES.get((quality, letter), _PLAIN[letter]))
    return say(_BEYOND, octaves=say(_OCTAVES[octaves - 1]), rest=rest) if octaves else rest


def interval_words(say: Translator, interval: Interval) -> str:
    """Size and direction: ``an octave and a minor third lower``, ``at the same pitch``."""
    if interval.semitones == 0 and interval.letters == 0:
        return say(_SAME)
    return say(_LOWER if interval.down else _HIGHER, interval=interval_size(say, interval))
