"""What signs are called: by the code points and names of SMuFL, and by the names of LilyPond's
fonts.

The tables lie in ``data/signs``. Kinds of signs:

- ``clef.G``, ``clef.F``, ``clef.C``, after which ``.8b``, ``.8a``, ``.15b``, ``.15a`` say the
  octave; ``clef.percussion``, ``clef.tab``; ``clef.8``, ``clef.15`` alone under a clef;
- ``head.double``, ``.whole``, ``.half``, ``.black``; without a sure pitch ``head.cross``,
  ``head.slash``, ``head.diamond``, ``head.triangle``;
- ``acc.-3`` … ``acc.3``, ``acc.other`` for microtones; ``paren.left``, ``paren.right``;
- ``rest.maxima``, ``rest.longa``, ``rest.double``, ``rest.1`` … ``rest.1024``, ``multirest``,
  ``measurerepeat.1``, ``.2``, ``.4``;
- ``flag.1`` … ``flag.8`` by the number of flags; ``dot``; ``tremolo.1`` … ``tremolo.5``;
- ``digit.0`` … ``digit.9`` of time signatures (in LilyPond's fonts of all else, too),
  ``tuplet.0`` … and ``tuplet.colon``, ``finger.0`` …; ``meter.common``, ``.cut``, ``.plus``;
- ``notevalue.N`` a note whole in one sign (of a metronome mark), N its denominator, 0 a double
  whole;
- ``ottava.8``, ``.15``, ``.22``, with ``a`` or ``b`` after the number where the sign says above or
  below;
- ``repeatdot``, ``repeatdots``, ``barline.…``, ``segno``, ``coda``, ``dalsegno``, ``dacapo``;
- ``dynamic.`` with its letters; ``articulation.`` accent, staccato, tenuto, staccatissimo, marcato
  and pairs of them, stress, scoop, fall, doit, lift, plop, flip, smear, bend; ``mute.open``,
  ``.half``, ``.closed``; ``trill``, ``wiggle.trill``, ``wiggle.glissando``, ``ornament.turn``,
  ``ornament.mordent``, ``fermata``, ``breath``, ``caesura``, ``brace``, ``bracket``;
- ``other``: known, and of no matter here.
"""

import re
from collections.abc import Mapping
from functools import cache
from importlib import resources

_CODE = re.compile(r"uni(E[0-9A-F]{3})")
_FETA_NAME = re.compile(
    r"(noteheads|clefs|accidentals|dots|rests|flags|scripts|timesig|pedal|brackettips|arrowheads"
    r"|accordion|custodes|figbass|fattened|fixedwidth|ties)\."
)
_FETA_FONT = re.compile(r"emmentaler|feta", re.IGNORECASE)


@cache
def smufl_kinds() -> tuple[Mapping[int, str], Mapping[str, str]]:
    """Kinds by code point and by name of the Standard Music Font Layout (SMuFL 1.4)."""
    rows = [line.split("\t") for line in _table("smufl.tsv")]
    codes = {int(code, 16): kind for code, _, kind in rows if code.startswith("E")}
    return codes, {name: kind for _, name, kind in rows}


@cache
def feta_kinds() -> Mapping[str, str]:
    """Kinds by the names of LilyPond's fonts (Notation Reference, A.8)."""
    return dict(line.split("\t") for line in _table("feta.tsv"))


def _table(name: str) -> list[str]:
    file = resources.files("handslide.data") / "signs" / name
    return file.read_text(encoding="utf-8").splitlines()


def kind_by_name(text: str, name: str, font: str) -> str:
    """The kind of a glyph by what its font calls it; "" where that says nothing.

    Codes of the private area beyond SMuFL's are those of letters in older fonts and say nothing.
    """
    codes, names = smufl_kinds()
    if text and 0xE000 <= ord(text[0]) < 0xF000:
        return codes.get(ord(text[0]), "other")
    if found := _CODE.fullmatch(name):
        return codes.get(int(found[1], 16), "other")
    if len(name) > 2 and name in names:
        return names[name]
    if _FETA_NAME.match(name):
        return feta_kinds().get(name, "other")
    if _FETA_FONT.search(font):
        return feta_kinds().get(name, "other")
    return ""
