"""Two voices as a teacher of counterpoint reads them: what is against the rules of part writing.

The rules are common practice (strict counterpoint since Fux, Gradus ad Parnassum, 1725): no two
fifths, octaves or unisons one after the other, whichever way the voices go; into one in the same
direction only where the upper voice goes by step; voices don't cross; a dissonance on a beat is
held from before, or a voice comes to it by step, and on the first beat it is held and goes on by
step; the leading note goes up at a close, which ends on the tonic.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from handslide.drills.piece import DrillNote, Piece

PERFECT = (0, 7)
CONSONANT = (0, 3, 4, 7, 8, 9)
STEP = 2


@dataclass(frozen=True)
class Sonority:
    """What sounds together from ``onset`` on: MIDI notes or None; ``begins`` which begin there."""

    onset: Fraction
    upper: int | None
    lower: int | None
    begins: tuple[bool, bool]

    @property
    def both(self) -> bool:
        return self.upper is not None and self.lower is not None

    @property
    def interval(self) -> int:
        return (self.upper - self.lower) % 12


def _onsets(bars: Sequence[Sequence[DrillNote]]) -> Iterator[tuple[Fraction, int | None]]:
    at, tied = Fraction(0), False
    for bar in bars:
        for note in bar:
            if not tied:
                yield at, None if note.pitch is None else note.pitch.midi
            tied = note.tie
            at += note.beats


def sonorities(piece: Piece) -> list[Sonority]:
    """Moment after moment of a duet, with the higher of the two parts as upper voice."""
    voices = [dict(_onsets(bars)) for bars in (piece.bars, piece.teacher)]
    means = [
        sum(m for m in voice.values() if m is not None) / max(1, len(voice)) for voice in voices
    ]
    if means[0] < means[1]:
        voices.reverse()
    found, now = [], [None, None]
    for at in sorted({*voices[0], *voices[1]}):
        now = [voice.get(at, here) for voice, here in zip(voices, now)]
        found.append(Sonority(at, *now, tuple(at in voice for voice in voices)))
    return found


def faults(piece: Piece, tonic: int) -> list[str]:
    """What is against the rules, each with its bar; ``tonic`` is a MIDI note of it."""
    rows = sonorities(piece)
    bar_of = lambda at: int(at // piece.bar_beats) + 1  # noqa: E731
    found = []
    for a, b in pairwise(rows):
        here = f"bar {bar_of(b.onset)} beat {b.onset % piece.bar_beats + 1}"
        if b.both and b.upper < b.lower:
            found.append(f"{here}: the voices cross")
        if not (a.both and b.both):
            continue
        up, low = b.upper - a.upper, b.lower - a.lower
        if up and low and b.interval in PERFECT:
            if a.interval == b.interval:
                found.append(f"{here}: parallels")
            elif (up > 0) == (low > 0) and abs(up) > STEP:
                found.append(f"{here}: both leap into a perfect interval")
    found += _dissonances(rows, piece, bar_of)
    return [*found, *_closes(rows, piece, tonic)]


def _dissonances(rows, piece, bar_of):
    beat = Fraction(3, 2) if piece.meter[1] == 8 else Fraction(1)
    for a, b, c in zip(rows, rows[1:], rows[2:]):
        on_beat = (b.onset % piece.bar_beats) % beat == 0
        if not (a.both and b.both) or b.interval in CONSONANT or not on_beat:
            continue
        here = f"bar {bar_of(b.onset)} beat {b.onset % piece.bar_beats + 1}"
        ways = [(b.upper - a.upper, b.begins[0]), (b.lower - a.lower, b.begins[1])]
        first = b.onset % piece.bar_beats == 0
        held = any(not way for way, _ in ways)
        if not any(abs(way) <= STEP for way, _ in ways) or (first and not held):
            found = "comes by leap" if not first else "on the first beat isn't held"
            yield f"{here}: a dissonance {found}"
        later = [
            abs(x - y)
            for x, y in ((b.upper, c.upper), (b.lower, c.lower))
            if x is not None and y is not None and x != y
        ]
        if first and later and min(later) > STEP:
            yield f"{here}: a dissonance doesn't go on by step"


def _closes(rows, piece, tonic):
    """The last close of the piece, and every step of the lower voice from dominant to tonic."""
    last = rows[-1] if rows[-1].both else next(r for r in reversed(rows) if r.both)
    if (last.upper - tonic) % 12 or (last.lower - tonic) % 12:
        yield "it doesn't end on the tonic"
    for a, b in pairwise(rows):
        if not (a.both and b.both) or (b.lower - tonic) % 12 or (a.lower - tonic) % 12 != 7:
            continue
        if (a.upper - tonic) % 12 == 11 and b.upper - a.upper != 1:
            yield f"bar {int(b.onset // piece.bar_beats) + 1}: the leading note doesn't go up"
