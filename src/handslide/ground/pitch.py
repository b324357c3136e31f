"""Note names: scientific pitch (middle C is C4, MIDI 60), spelled.

A name is a letter, any number of accidentals, an octave: ``Eb2``, ``F#3``, ``B♭1``, ``Cx4``,
``Abb3``, ``E♮2``. The octave belongs to the letter, so ``Cb4`` is MIDI 59 and ``B#3`` is MIDI 60.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from handslide.ground.errors import PitchError
from handslide.ground.units import midi_to_hz

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_LETTERS = "CDEFGAB"
_ACCIDENTALS = {
    "b": -1, "♭": -1, "𝄫": -2, "#": 1, "♯": 1, "x": 2, "X": 2, "𝄪": 2, "♮": 0, "n": 0,
}  # fmt: skip
_NAME = re.compile(r"([A-Ga-g])([b♭𝄫#♯xX𝄪♮n]{0,8})(-?\d{1,2})")
_FLAT_SPELLING = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_PRETTY = str.maketrans({"b": "♭", "#": "♯", "x": "𝄪"})


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled note: letter ``step`` (C to B), ``alter`` in semitones, ``octave``."""

    step: str
    alter: int
    octave: int

    def __post_init__(self) -> None:
        if self.step not in STEPS:
            raise PitchError("pitch.letter", letter=self.step)

    @property
    def midi(self) -> int:
        """MIDI note number (C4 = 60)."""
        return 12 * (self.octave + 1) + STEPS[self.step] + self.alter

    @property
    def name(self) -> str:
        """ASCII name such as ``Eb2``."""
        sign = "b" * -self.alter if self.alter < 0 else "#" * self.alter
        return f"{self.step}{sign}{self.octave}"

    @property
    def pretty(self) -> str:
        """Name with real signs, such as ``E♭2``."""
        sign = "♭" * -self.alter if self.alter < 0 else "♯" * self.alter
        return f"{self.step}{sign}{self.octave}"

    def hz(self, a4_hz: float = 440.0) -> float:
        """Frequency in equal temperament, in Hz."""
        return midi_to_hz(self.midi, a4_hz)

    def transposed(self, diatonic: int, chromatic: int) -> "Pitch":
        """This pitch moved by ``diatonic`` letters and ``chromatic`` semitones."""
        index = _LETTERS.index(self.step) + diatonic
        step, octave = _LETTERS[index % 7], self.octave + index // 7
        natural = 12 * (octave + 1) + STEPS[step]
        return Pitch(step, self.midi + chromatic - natural, octave)


def parse_pitch(text: str) -> Pitch:
    """Read a note name.

    Raises
    ------
    PitchError
        When the name isn't a letter A to G, accidentals and an octave number.
    """
    match = _NAME.fullmatch(text.strip())
    if match is None:
        raise _why_not(text)
    letter, signs, octave = match.groups()
    alter = sum(_ACCIDENTALS[sign] for sign in signs)
    return Pitch(letter.upper(), alter, int(octave))


def _why_not(text: str) -> PitchError:
    stripped = text.strip()
    if re.fullmatch(r"[A-Ga-g][b♭𝄫#♯xX𝄪♮n]*", stripped):
        return PitchError("pitch.no_octave", text=text, name=stripped)
    if re.match(r"[Hh]", stripped):
        return PitchError("pitch.german", text=text)
    if re.match(r"(?i)(do|re|mi|sol|la|si)", stripped):
        return PitchError("pitch.fixed_do", text=text)
    return PitchError("pitch.not_a_note", text=text)


@lru_cache(maxsize=256)
def from_midi(midi: int) -> Pitch:
    """The usual brass spelling (flats) of a MIDI note number."""
    name, octave = _FLAT_SPELLING[midi % 12], midi // 12 - 1
    return Pitch(name[0], -1 if name.endswith("b") else 0, octave)


def respelled(pitch: Pitch) -> Pitch | None:
    """The other usual spelling of a black key, E♭ as D♯ or F♯ as G♭; None for a white key."""
    flat = from_midi(pitch.midi)
    if not flat.alter:
        return None
    if pitch.alter > 0:
        return flat
    below = from_midi(pitch.midi - 1)
    return Pitch(below.step, 1, below.octave)


def pretty_name(name: str) -> str:
    """ASCII note or valve name with real signs: ``Gb`` becomes ``G♭``."""
    return name[:1] + name[1:].translate(_PRETTY)
