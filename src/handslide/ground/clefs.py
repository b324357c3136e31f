"""Clefs that slide-brass parts are written in, and where a pitch stands in them.

Conventions: a staff place counts steps upwards from the middle line (0); its lines are -4, -2, 0,
2 and 4.
"""

from dataclasses import dataclass

from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch

_LETTERS = "CDEFGAB"


@dataclass(frozen=True, slots=True)
class Clef:
    """A clef: its SMuFL sign and the staff place of that sign, the pitch on the middle line, and
    how far a written note lies above the sounding one (letters, semitones)."""

    name: str
    sign: str
    sign_place: int
    middle: Pitch
    letters_up: int = 0
    semitones_up: int = 0

    def written(self, sounding: Pitch) -> Pitch:
        """The pitch to write for one that sounds."""
        if not self.semitones_up:
            return sounding
        return sounding.transposed(self.letters_up, self.semitones_up)

    def place(self, written: Pitch) -> int:
        """Steps above the middle line."""
        return _step_number(written) - _step_number(self.middle)


def _step_number(pitch: Pitch) -> int:
    return 7 * pitch.octave + _LETTERS.index(pitch.step)


CLEFS = {
    clef.name: clef
    for clef in (
        Clef("bass", "fClef", 2, Pitch("D", 0, 3)),
        Clef("tenor", "cClef", 2, Pitch("A", 0, 3)),
        Clef("alto", "cClef", 0, Pitch("C", 0, 4)),
        Clef("treble", "gClef", -2, Pitch("B", 0, 4)),
        # British brass bands: written C4 sounds B flat 2, a major ninth lower (common practice).
        Clef("treble-bb", "gClef", -2, Pitch("B", 0, 4), 8, 14),
    )
}


def clef_named(name: str) -> Clef:
    """The clef of a name. Raises BadUsage."""
    if name not in CLEFS:
        raise BadUsage("usage.clef", name=name, known=tuple(CLEFS))
    return CLEFS[name]
