"""Lengths as they are written: which notes, dots, ties and triplets show a length in a bar.

Lengths and onsets are quarter notes from the start of the bar, as fractions.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

QUARTERS: Mapping[str, Fraction] = {
    kind: Fraction(32, 2**place)
    for place, kind in enumerate(
        (
            "maxima", "long", "breve", "whole", "half", "quarter", "eighth", "16th", "32nd",
            "64th", "128th", "256th", "512th", "1024th",
        )
    )
}  # fmt: skip
"""Quarter notes of each note value, as MusicXML names them."""
_TYPES = [(kind, length) for kind, length in QUARTERS.items() if Fraction(1, 16) <= length <= 4]
_LENGTH = dict(_TYPES)


@dataclass(frozen=True, slots=True)
class Value:
    """A note value: its name in MusicXML, dots, and whether it is a third of the next larger."""

    kind: str
    dots: int = 0
    triplet: bool = False


def _all_values() -> dict[Fraction, Value]:
    found: dict[Fraction, Value] = {}
    for kind, length in _TYPES:
        found.setdefault(length, Value(kind))
        found.setdefault(length * Fraction(3, 2), Value(kind, 1))
    for kind, length in _TYPES:
        found.setdefault(length * Fraction(7, 4), Value(kind, 2))
        found.setdefault(length * Fraction(2, 3), Value(kind, 0, True))
    return found


_VALUES = _all_values()
_PLAIN = sorted((length for length, value in _VALUES.items() if not value.triplet and
                 value.dots < 2), reverse=True)  # fmt: skip


def value_of(length: Fraction) -> Value | None:
    """The value of a length that one note can show; None for others."""
    return _VALUES.get(length)


@cache
def beat_length(meter: tuple[int, int]) -> Fraction:
    """Quarter notes in a beat: a dotted note in 6/8, 9/8 and 12/8."""
    beats, unit = meter
    compound = unit >= 8 and beats % 3 == 0
    return Fraction(12, unit) if compound else Fraction(4, unit)


def split_note(onset: Fraction, length: Fraction, meter: tuple[int, int]) -> list[Fraction]:
    """The lengths of the tied notes that show a note; one where one can."""
    beat = beat_length(meter)
    pieces = []
    while value_of(length) is None:
        fitting = [plain for plain in _PLAIN if plain < length]
        if not fitting:
            raise ValueError(f"a note of {length} beats can't be written")
        to_beat = [plain for plain in fitting if (onset + plain) % beat == 0]
        piece = max(to_beat or fitting)
        pieces.append(piece)
        onset, length = onset + piece, length - piece
    return [*pieces, length]


def split_rest(onset: Fraction, length: Fraction, meter: tuple[int, int]) -> list[Fraction]:
    """The lengths of the rests that show a silence, so that every beat can be seen."""
    pieces = []
    while length:
        piece = _next_rest(onset, length, meter)
        pieces.append(piece)
        onset, length = onset + piece, length - piece
    return pieces


def _next_rest(onset: Fraction, length: Fraction, meter: tuple[int, int]) -> Fraction:
    beat = beat_length(meter)
    within = onset % beat
    if within == 0 and length >= beat:
        larger = [unit for _, unit in _TYPES if beat < unit <= length and onset % unit == 0]
        # A half rest would hide the beats of 3/4; a dotted beat has no plain larger unit.
        return larger[0] if larger and meter[0] % 2 == 0 and beat.numerator != 3 else beat
    room = min(length, beat - within)
    fitting = [unit for _, unit in _TYPES if unit <= room and within % unit == 0]
    return room if onset.denominator % 3 == 0 or not fitting else fitting[0]


def triplet_groups(lengths: Sequence[Fraction]) -> list[tuple[int, int]]:
    """Of the lengths of a bar, the first and last index of each group of triplets."""
    groups = []
    start: int | None = None
    total = Fraction(0)
    for index, length in enumerate(lengths):
        value = value_of(length)
        inside = value is not None and value.triplet
        if not inside and start is not None:
            groups.append((start, index - 1))
            start = None
        if not inside:
            continue
        if start is None:
            start, total = index, Fraction(0)
        total += length
        if total in _LENGTH.values():
            groups.append((start, index))
            start = None
    if start is not None:
        groups.append((start, len(lengths) - 1))
    return groups


def beam_spans(
    onsets: Sequence[Fraction], lengths: Sequence[Fraction], meter: tuple[int, int]
) -> list[int]:
    """For each note of a bar the number of the span whose flagged notes share a beam.

    A span is a beat; half a bar of 4/4, or all of 2/4, where it has nothing but eighths.
    """
    beat = beat_length(meter)
    spans = [int(onset // beat) for onset in onsets]
    if meter not in ((4, 4), (2, 4)):
        return spans
    for half in range(0, meter[0], 2):
        inside = [k for k, onset in enumerate(onsets) if half <= onset < half + 2]
        if len(inside) == 4 and all(lengths[k] == Fraction(1, 2) for k in inside):
            for k in inside:
                spans[k] = half
    return spans
