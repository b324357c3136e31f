"""Names of chords as they stand over music: the root as it is called, and a sign for the kind."""

from handslide.ground.notenames import class_name
from handslide.ground.pitch import Pitch

_SIGNS = {
    "major": "", "minor": "m", "augmented": "+", "diminished": "°", "dominant": "7",
    "major-seventh": "maj7", "minor-seventh": "m7", "diminished-seventh": "°7",
    "augmented-seventh": "+7", "half-diminished": "ø7", "major-minor": "m(maj7)",
    "major-sixth": "6", "minor-sixth": "m6", "suspended-second": "sus2",
    "suspended-fourth": "sus4", "power": "5", "pedal": "",
    **{
        f"{name}-{degree}": sign + degree.removesuffix("th").replace("nin", "9")
        for name, sign in (("dominant", ""), ("major", "maj"), ("minor", "m"))
        for degree in ("ninth", "11th", "13th")
    },
}  # fmt: skip


def chord_name(root: Pitch, kind: str, language: str) -> str:
    """A chord's name, such as ``B♭m7``; ``language`` is that of `class_name`. A kind without a sign
    is its root alone."""
    return class_name(root, language) + _SIGNS.get(kind, "")
