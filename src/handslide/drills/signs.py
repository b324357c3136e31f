"""Which notes get an accidental in print, and the signature that needs the fewest of them.

Common practice: a sign holds for its line or space to the end of the bar; a note that differed in
the bar before gets a warning sign once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache

from handslide.drills.keys import spelled, tonic_of
from handslide.drills.piece import DrillNote, Key, Piece
from handslide.ground.pitch import Pitch

_KEY_ORDER = "FCGDAEB"
# No key of these has a C flat, an A sharp or an E sharp.
MOST_FLATS, MOST_SHARPS = 5, 4
# Of two keys with as many signs in the bars, the one with the shorter signature.
_LONG_SIGNATURE = 0.01
Bar = tuple[DrillNote, ...]


@dataclass(slots=True)
class Signs:
    """What is in force on a staff with a signature of ``fifths`` sharps (negative: flats)."""

    fifths: int
    _bar: dict[tuple[str, int], int] = field(default_factory=dict)
    _before: dict[tuple[str, int], int] = field(default_factory=dict)

    def next_bar(self) -> None:
        """A bar line."""
        self._before, self._bar = self._bar, {}

    def of(self, written: Pitch) -> str:
        """What is printed before a note: nothing, a ``sign``, or one that only ``warns``."""
        place = written.step, written.octave
        now = self._bar.get(place, self._in_key(written.step))
        warns = place not in self._bar and self._before.get(place, written.alter) != written.alter
        if written.alter == now and not warns:
            return ""
        if written.alter != now or place in self._bar:
            self._bar[place] = written.alter
        self._before.pop(place, None)
        return "sign" if written.alter != now else "warns"

    def _in_key(self, step: str) -> int:
        at = _KEY_ORDER.index(step)
        if self.fifths >= 0:
            return int(at < self.fifths)
        return -int(6 - at < -self.fifths)


def count_signs(bars: Iterable[Bar], fifths: int) -> int:
    """How many accidentals the bars need under a signature."""
    return _count(_struck(bars), fifths)


def _struck(bars: Iterable[Bar]) -> list[list[Pitch]]:
    """The notes of each bar that may need a sign: none that is tied to the one before."""
    found = []
    tied = False
    for bar in bars:
        pitches = []
        for note in bar:
            if note.pitch is not None and not tied:
                pitches.append(note.pitch)
            tied = note.tie
        found.append(pitches)
    return found


def _count(bars: Iterable[Iterable[Pitch]], fifths: int) -> int:
    signs, count = Signs(fifths), 0
    for bar in bars:
        count += sum(bool(signs.of(pitch)) for pitch in bar)
        signs.next_bar()
    return count


def in_best_key(piece: Piece, *, respelled: bool = True, shift: int = 0) -> Piece:
    """The piece in the major signature that needs the fewest accidentals.

    With ``respelled`` the notes of that key are written as it has them. ``shift`` is how many
    sharps more the written key has than the sounding one, for a clef that transposes: of two keys
    as good the one is taken that is shorter on paper.
    """
    voices = [_struck(bars) for bars in (piece.bars, piece.teacher)]
    options = []
    for fifths in range(-MOST_FLATS, MOST_SHARPS + 1):
        price = _LONG_SIGNATURE * abs(fifths + shift)
        for bars in voices:
            written = [[_named(one, fifths) for one in bar] for bar in bars] if respelled else bars
            price += _count(written, fifths)
        options.append((price, fifths > 0, abs(fifths), fifths))
    *_, fifths = min(options)
    found = replace(piece, key=Key(fifths))
    if not respelled:
        return found
    return replace(
        found, bars=_spelled_in(piece.bars, fifths), teacher=_spelled_in(piece.teacher, fifths)
    )


def _spelled_in(bars: Sequence[Bar], fifths: int) -> tuple[Bar, ...]:
    return tuple(
        tuple(
            note if note.pitch is None else replace(note, pitch=_named(note.pitch, fifths))
            for note in bar
        )
        for bar in bars
    )


@lru_cache(maxsize=2048)
def _named(pitch: Pitch, fifths: int) -> Pitch:
    """A note as a major key writes it; as it was where the key doesn't have it."""
    for name in spelled("major", tonic_of(fifths)):
        octaves, other = divmod(pitch.midi - name.midi, 12)
        if not other:
            return name.transposed(7 * octaves, 12 * octaves)
    return pitch


def is_in(midi: int, tonic: Pitch) -> bool:
    """Whether a note belongs to the major key of a tonic."""
    return midi % 12 in classes_of(tonic)


@cache
def classes_of(tonic: Pitch) -> frozenset[int]:
    """The pitch classes of the major key of a tonic, C = 0."""
    return frozenset(pitch.midi % 12 for pitch in spelled("major", tonic))


def signature_shift(letters_up: int, semitones_up: int) -> int:
    """How many sharps a written key has more than the sounding one, for a clef or an instrument
    whose notes are written so many letters and semitones higher."""
    return 7 * semitones_up - 12 * letters_up
