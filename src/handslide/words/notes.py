"""Notes in a sentence, as a language or its reader says them."""

from handslide.ground.notenames import FIXED_DO, class_name, full_name
from handslide.ground.pitch import Pitch
from handslide.words.messages import N_, NP_
from handslide.words.translate import Translator

_SPELLED = {
    -2: N_("{note} double flat"), -1: NP_("fixed do", "{note} flat"),
    1: NP_("fixed do", "{note} sharp"), 2: N_("{note} double sharp"),
}  # fmt: skip


def note_name(
    say: Translator, pitch: Pitch, *, octave: bool = True, names: str | None = None
) -> str:
    """A note in a sentence: ``E♭3``, ``es``, ``mi flat``.

    ``names``: the way to name notes; None: the reader's.
    """
    names = names or say.names
    if names in FIXED_DO and pitch.alter in _SPELLED:
        natural = class_name(Pitch(pitch.step, 0, pitch.octave), names)
        return say(_SPELLED[pitch.alter], note=natural)
    return full_name(pitch, names) if octave else class_name(pitch, names)
