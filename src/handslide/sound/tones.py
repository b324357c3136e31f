"""Tones made from harmonics: their pitch is exact and they don't click.

Conventions: cents curves have one entry a sample; levels are linear; results have shape (n,).
"""

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import BadData

Floats = NDArray[np.float64]

_BLOCK = 8192  # samples that stay near the processor while all harmonics are added up
_HIGHEST_SHARE = 0.45  # of the rate: harmonics above are left away, so that nothing folds back


def brass_levels(f0_hz: float, rate_hz: float, count: int = 30) -> Floats:
    """Levels of the harmonics of a brass-like tone of power 1, shape (m,), m <= ``count``.

    They rise by 9 dB an octave to a formant near 550 Hz and fall by about 13 dB an octave above
    1.1 kHz (our own fit to recorded trombones), so the fundamental of a low note is weak.
    """
    _check(f0_hz, rate_hz)
    hz = f0_hz * np.arange(1, count + 1)
    hz = hz[hz < _HIGHEST_SHARE * rate_hz]
    level = (hz / 550.0) ** 1.5 / np.sqrt(1 + (hz / 550.0) ** 4) / (1 + (hz / 1100.0) ** 4) ** 0.35
    levels: Floats = level / np.sqrt(np.sum(level**2) / 2.0)
    return levels


def harmonic_tone(
    f0_hz: float,
    length_s: float,
    rate_hz: float,
    *,
    levels: Floats | None = None,
    phases: Floats | None = None,
    cents: Floats | float = 0.0,
    fade_s: float = 0.0,
) -> Floats:
    """A tone of ``f0_hz`` moved by ``cents``, with raised-cosine fades at both ends.

    ``levels`` (k,) are the harmonics' amplitudes (default: brass-like, power 1), ``phases`` (k,)
    theirs in radians at the start (default 0). Raises BadData for a pitch that the rate can't hold.
    """
    _check(f0_hz, rate_hz)
    levels = brass_levels(f0_hz, rate_hz) if levels is None else np.asarray(levels)
    phases = np.zeros(len(levels)) if phases is None else np.asarray(phases)
    count = round(length_s * rate_hz)
    hz = f0_hz * 2.0 ** (np.broadcast_to(cents, (count,)) / 1200.0)
    step = 2.0 * np.pi * hz / rate_hz
    turn = np.cumsum(step) - step
    many = min(len(levels), len(phases))
    kept = np.arange(1, many + 1) * f0_hz < _HIGHEST_SHARE * rate_hz
    weights = (levels[:many] * np.exp(1j * phases[:many]))[kept]
    tone = np.empty(count)
    for first in range(0, count, _BLOCK):
        once = np.exp(1j * turn[first : first + _BLOCK])
        # The sum of weights[k] * once**(k + 1): products take less time than cosines.
        total = np.zeros(len(once), np.complex128)
        for weight in weights[::-1]:
            total += weight
            total *= once
        tone[first : first + _BLOCK] = total.real
    return tone * fades(count, round(fade_s * rate_hz))


def vibrato(length_s: float, rate_hz: float, extent_cents: float, speed_hz: float) -> Floats:
    """Cents along a tone with vibrato: ``extent_cents`` each way, ``speed_hz`` times a second."""
    time_s = np.arange(round(length_s * rate_hz)) / rate_hz
    return extent_cents * np.sin(2.0 * np.pi * speed_hz * time_s)


def fades(count: int, fade: int) -> Floats:
    """Level over ``count`` samples: raised cosines of ``fade`` samples at both ends."""
    fade = min(fade, count // 2)
    level = np.ones(count)
    if fade:
        rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / fade)
        level[:fade] = rise
        level[count - fade :] = rise[::-1]
    return level


def _check(f0_hz: float, rate_hz: float) -> None:
    if not 0 < f0_hz < _HIGHEST_SHARE * rate_hz:
        raise BadData(
            "sounds.no_such_tone", f0_hz=f0_hz, rate_hz=rate_hz, most_hz=_HIGHEST_SHARE * rate_hz
        )
