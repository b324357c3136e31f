"""Conversions between units. The only place where they are written down."""

import math

A4_MIDI = 69
KELVIN_AT_0_C = 273.15


def midi_to_hz(midi: float, a4_hz: float = 440.0) -> float:
    """Frequency of a MIDI note number in equal temperament, in Hz (A4 = 69)."""
    return a4_hz * math.pow(2.0, (midi - A4_MIDI) / 12.0)


def cents(ratio: float) -> float:
    """Interval of a frequency ratio in cents: 1200·log2(ratio). ``ratio`` > 0."""
    return 1200.0 * math.log2(ratio)


def cents_to_ratio(cents_: float) -> float:
    """Frequency ratio of an interval in cents."""
    return math.pow(2.0, cents_ / 1200.0)
