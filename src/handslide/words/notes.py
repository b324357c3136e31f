"""Names of notes in a sentence, as a language or its reader says them."""

from handslide.ground.notenames import class_name, full_name
from handslide.ground.pitch import Pitch
from handslide.words.messages import N_, NP_
from handslide.words.translate import Translator

# Which way of naming notes a language has unless its reader chose another.
USUAL_NAMES = NP_("setting: names of notes, out of english, german, do", "english")
_SPELLED = {
    -2: N_("{note} double flat"), -1: NP_("fixed do", "{note} flat"),
    1: NP_("fixed do", "{note} sharp"), 2: N_("{note} double sharp"),
}  # fmt: skip


def note_name(say: Translator, pitch: Pitch, names: str, *, octave: bool = True) -> str:
    """A note in a sentence: ``E♭3``, ``es``, ``mi flat``. ``names`` as in `ground.notenames`."""
    if names == "do" and pitch.alter in _SPELLED:
        natural = class_name(Pitch(pitch.step, 0, pitch.octave), names)
        return say(_SPELLED[pitch.alter], note=natural)
    return full_name(pitch, names) if octave else class_name(pitch, names)
