"""Just and equal temperament: where the tones of a chord lie above its root.

The root itself stands in equal temperament. An interval larger than an octave is the one within,
octaves higher.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch
from handslide.ground.units import cents

JUST = (
    Fraction(1), Fraction(16, 15), Fraction(9, 8), Fraction(6, 5), Fraction(5, 4), Fraction(4, 3),
    Fraction(45, 32), Fraction(3, 2), Fraction(8, 5), Fraction(5, 3), Fraction(9, 5),
    Fraction(15, 8),
)  # fmt: skip
"""Ratios of the major and minor scale in five-limit just intonation, by semitones."""

CHORDS: dict[str, tuple[tuple[int, int], ...]] = {
    "unison": ((0, 0),),
    "minor-third": ((0, 0), (2, 3)),
    "major-third": ((0, 0), (2, 4)),
    "fourth": ((0, 0), (3, 5)),
    "fifth": ((0, 0), (4, 7)),
    "minor-sixth": ((0, 0), (5, 8)),
    "major-sixth": ((0, 0), (5, 9)),
    "octave": ((0, 0), (7, 12)),
    "fifth-octave": ((0, 0), (4, 7), (7, 12)),
    "minor": ((0, 0), (2, 3), (4, 7)),
    "major": ((0, 0), (2, 4), (4, 7)),
}
"""Steps and semitones above the lowest tone."""


@dataclass(frozen=True, slots=True)
class Tempered:
    """A tone of a chord: its frequency, and how far it is above equal temperament, in cents."""

    pitch: Pitch
    hz: float
    offset_cents: float
    ratio: Fraction | None
    """To the root where the chord is just, else None."""


def just_ratio(semitones: int) -> Fraction:
    """Ratio of the just interval of so many semitones up (negative: down)."""
    octaves, within = divmod(semitones, 12)
    return JUST[within] * Fraction(2) ** octaves


def just_offset_cents(semitones: int) -> float:
    """How far the just interval is above the equal one: -13.69 for 4, a major third."""
    return cents(float(just_ratio(semitones))) - 100.0 * semitones


def chord_on(pitch: Pitch, name: str) -> tuple[Pitch, ...]:
    """The tones of a chord above ``pitch``, lowest first. Raises BadUsage for an unknown name."""
    if name not in CHORDS:
        raise BadUsage("pitch.chord", name=name, known=", ".join(CHORDS))
    return tuple(pitch.transposed(steps, semitones) for steps, semitones in CHORDS[name])


def tempered(
    pitches: Sequence[Pitch], *, just: bool, root: Pitch | None = None, a4_hz: float = 440.0
) -> tuple[Tempered, ...]:
    """The tones of ``pitches``, equal or just above ``root`` (default: the lowest of them)."""
    low = min(pitches, key=lambda pitch: pitch.midi) if root is None else root
    tones = []
    for pitch in pitches:
        if just:
            above = pitch.midi - low.midi
            ratio = just_ratio(above)
            hz = low.hz(a4_hz) * float(ratio)
            tones.append(Tempered(pitch, hz, just_offset_cents(above), ratio))
        else:
            tones.append(Tempered(pitch, pitch.hz(a4_hz), 0.0, None))
    return tuple(tones)
