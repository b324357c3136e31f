"""Note names as they are said in English, in German and with fixed do.

English names carry the scientific octave (middle C is C4). German: H is the English B, B the
English B flat, ``is`` and ``es`` raise and lower, with the usual As and Es; octaves after Helmholtz
(great Es, small es, es′), with strokes, since a raised figure reads like a power beside positions.
Fixed do as in the Romance languages, without an octave: its numbers differ from country to country.
``do-ré`` is the same as French writes it.
"""

from handslide.ground.pitch import Pitch

LANGUAGES = ("english", "german", "do")
_DO = {"C": "do", "D": "re", "E": "mi", "F": "fa", "G": "sol", "A": "la", "B": "si"}
FIXED_DO = {"do": _DO, "do-ré": _DO | {"D": "ré"}}
_LOWERED = ("", "₁", "₂", "₃", "₄")
_SIGNS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}


def class_name(pitch: Pitch, language: str = "english") -> str:
    """The name of a pitch without its octave: ``E♭``, ``Es`` or ``mi♭``."""
    if language == "german":
        return _german(pitch.step, pitch.alter)
    sign = _SIGNS.get(pitch.alter, ("♭" if pitch.alter < 0 else "♯") * abs(pitch.alter))
    return (FIXED_DO[language][pitch.step] if language in FIXED_DO else pitch.step) + sign


def full_name(pitch: Pitch, language: str = "english") -> str:
    """The name with its octave, where the language has one way to say it.

    E flat 3 is ``E♭3``, ``es`` or ``mi♭``.
    """
    name = class_name(pitch, language)
    if language in FIXED_DO:
        return name
    if language != "german":
        return f"{name}{pitch.octave}"
    if pitch.octave >= 3:
        pairs, single = divmod(pitch.octave - 3, 2)
        return name.lower() + "″" * pairs + "′" * single
    return name + _LOWERED[2 - pitch.octave]


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
