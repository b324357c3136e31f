"""Notes against a drone: how far from the just interval, and how many beats a second that makes.

Two tones whose interval is nearly p:q beat as their coinciding harmonics do: q·f of the one against
p·d of the other, |q·f - p·d| times a second (R. A. Rasch, "Theory of Helmholtz-beat frequencies",
Music Percept. 1, 308, 1984, seen: the abstract; the formula as in several calculators).
"""

from dataclasses import dataclass

from handslide.ground.temperament import just_ratio
from handslide.ground.units import cents


@dataclass(frozen=True, slots=True)
class AgainstDrone:
    """A tone against a drone: ``semitones`` of the nearest interval, its just ratio ``p``:``q``,
    the deviation from it in cents, and the beats a second of the harmonics that coincide."""

    semitones: int
    p: int
    q: int
    just_cents: float
    beats_hz: float


def against_drone(f0_hz: float, drone_hz: float) -> AgainstDrone:
    """A tone of ``f0_hz`` against a drone of ``drone_hz``."""
    semitones = round(cents(f0_hz / drone_hz) / 100.0)
    ratio = just_ratio(semitones)
    p, q = ratio.numerator, ratio.denominator
    off = cents(f0_hz / drone_hz / float(ratio))
    return AgainstDrone(semitones, p, q, off, abs(q * f0_hz - p * drone_hz))
