"""Musical intervals with a direction: ``-P8`` is an octave down, ``m3`` a minor third up.

A name is a quality (P perfect, M major, m minor, A augmented, d diminished) and a number, 1 and
more: ``P12`` is an octave and a fifth. A plain number counts semitones: ``-12``.
"""

import re
from dataclasses import dataclass

from handslide.ground.errors import BadUsage

MOST_SEMITONES = 48
MOST_SIGNS = 6
_NATURAL = (0, 2, 4, 5, 7, 9, 11)
_PERFECT = frozenset({0, 3, 4})
# Semitones in an octave to letters, as they are named where no key says otherwise.
_LETTERS_OF = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
_NAME = re.compile(r"([PMmAd])([1-9][0-9]?)")
_SEMITONES = re.compile(r"[0-9]{1,3}")


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval of ``letters`` and ``semitones``, both negative for down.

    ``free``: only the semitones are meant, and the letters may follow the key.
    """

    letters: int
    semitones: int
    free: bool = False

    @property
    def is_octaves(self) -> bool:
        """Whether all notes keep their names and keys: octaves or nothing at all."""
        return self.semitones % 12 == 0 and 7 * self.semitones == 12 * self.letters

    @property
    def fifths(self) -> int:
        """How many sharps more (negative: flats) a key has after the move."""
        return 7 * self.semitones - 12 * self.letters

    @property
    def name(self) -> str:
        """The name, such as ``-P8``."""
        octaves, letter, quality = self.size
        return f"{'-' if self.down else ''}{quality}{7 * octaves + letter + 1}"

    @property
    def down(self) -> bool:
        """Whether it goes down."""
        return self.letters < 0 or (self.letters == 0 and self.semitones < 0)

    @property
    def size(self) -> tuple[int, int, str]:
        """Whole octaves, letters beyond them (0 to 6) and the quality of these."""
        sign = -1 if self.down else 1
        octaves, letter = divmod(sign * self.letters, 7)
        return octaves, letter, _quality(letter, sign * self.semitones - 12 * octaves)

    @property
    def inverse(self) -> "Interval":
        """The way back."""
        return Interval(-self.letters, -self.semitones, self.free)

    def into_key(self, fifths: int) -> tuple["Interval", int]:
        """This interval as it is spelled from a key of ``fifths`` sharps, and the new key.

        A key of more than six signs becomes its enharmonic; a free interval takes the key with
        the fewest signs, flats when there are as many of both. Octaves keep any key.
        """
        if self.is_octaves:
            return self, fifths
        letters, new = self.letters, fifths + self.fifths
        while new > MOST_SIGNS or (self.free and new >= MOST_SIGNS):
            letters, new = letters + 1, new - 12
        while new < -MOST_SIGNS:
            letters, new = letters - 1, new + 12
        return Interval(letters, self.semitones, self.free), new


def of_semitones(semitones: int) -> Interval:
    """The usual interval of so many semitones, free in its spelling."""
    octaves, rest = divmod(abs(semitones), 12)
    letters = 7 * octaves + _LETTERS_OF[rest]
    return Interval(-letters if semitones < 0 else letters, semitones, free=True)


def parse_interval(text: str) -> Interval:
    """Read an interval as typed.

    Raises
    ------
    BadUsage
        No such interval, or one of more than four octaves.
    """
    plain = text.strip().replace("−", "-").replace("–", "-")
    down, body = plain.startswith("-"), plain.lstrip("+-") if plain[:2] not in ("--",) else plain
    if len(plain) - len(body) > 1:
        raise BadUsage("pitch.interval", text=text)
    sign = -1 if down else 1
    if _SEMITONES.fullmatch(body):
        _check_size(int(body), text)
        return of_semitones(sign * int(body))
    match = _NAME.fullmatch(body)
    if match is None:
        raise BadUsage("pitch.interval", text=text)
    quality, number = match[1], int(match[2])
    octaves, letter = divmod(number - 1, 7)
    if (quality == "P") != (letter in _PERFECT) and quality in ("P", "M", "m"):
        if letter in _PERFECT:
            raise BadUsage("pitch.interval_perfect", text=text, letters=letter)
        raise BadUsage("pitch.interval_major", text=text, letters=letter)
    semitones = 12 * octaves + _NATURAL[letter] + _offset(letter, quality)
    if number == 1 and semitones < 0:
        raise BadUsage("pitch.interval_unison", text=text)
    _check_size(semitones, text)
    return Interval(sign * (number - 1), sign * semitones)


def _check_size(semitones: int, text: str) -> None:
    if abs(semitones) > MOST_SEMITONES:
        raise BadUsage("pitch.interval_far", text=text)


def _offset(letter: int, quality: str) -> int:
    """Semitones from the major or perfect size to this quality."""
    if quality in ("P", "M"):
        return 0
    if quality == "m":
        return -1
    return 1 if quality == "A" else -1 - (letter not in _PERFECT)


def _quality(letter: int, semitones: int) -> str:
    off = semitones - _NATURAL[letter]
    if off > 0:
        return "A" * off
    if letter in _PERFECT:
        return "d" * -off or "P"
    return ("M", "m")[-off] if off > -2 else "d" * (-off - 1)
