"""Note names as they are said in English, in German and with fixed do.

German: H is the English B, B the English B flat; ``is`` and ``es`` raise and lower, with the usual
As, Es. Fixed do as in the Romance languages. The octave number stays scientific in all of them.
"""

from handslide.ground.pitch import Pitch

LANGUAGES = ("english", "german", "do")
_DO = {"C": "do", "D": "re", "E": "mi", "F": "fa", "G": "sol", "A": "la", "B": "si"}
_SIGNS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}


def class_name(pitch: Pitch, language: str = "english") -> str:
    """The name of a pitch without its octave: ``E♭``, ``Es`` or ``mi♭``."""
    if language == "german":
        return _german(pitch.step, pitch.alter)
    sign = _SIGNS.get(pitch.alter, ("♭" if pitch.alter < 0 else "♯") * abs(pitch.alter))
    return (_DO[pitch.step] if language == "do" else pitch.step) + sign


def full_name(pitch: Pitch, language: str = "english") -> str:
    """The name with its octave: ``E♭3``, ``Es3``, ``mi♭3``."""
    return f"{class_name(pitch, language)}{pitch.octave}"


def _german(step: str, alter: int) -> str:
    if step == "B":
        if alter == -1:
            return "B"
        step = "H"
        if alter < -1:
            return "Heses" if alter == -2 else step + "es" * -alter
    if alter < 0 and step in "AE":
        return step + "s" + "es" * (-alter - 1)
    return step + ("es" * -alter if alter < 0 else "is" * alter)
