"""The clefs of `handslide.ground.clefs` by name."""

from handslide.words.messages import N_
from handslide.words.translate import Translator

CLEFS = {
    "bass": N_("bass clef"),
    "tenor": N_("tenor clef"),
    "alto": N_("alto clef"),
    "treble": N_("treble clef, concert pitch"),
    "treble-bb": N_("treble clef in B♭, sounding a major ninth lower"),
}


def clef_name(say: Translator, name: str) -> str:
    """What a clef of `handslide.ground.clefs.CLEFS` is called. Raises KeyError."""
    return say(CLEFS[name])
