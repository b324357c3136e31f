"""Whether a steady tone can be a note of a horn: why not, and where it is best judged.

Conventions: pitches in Hz, intervals in cents, levels in dB.
"""

import numpy as np
from numpy.typing import NDArray

from handslide.ground.facts import Fact, fact
from handslide.sound.multiphonic import is_multiphonic
from handslide.sound.refine import MOST_HARMONICS, Blocks, harmonic_count, unlocked_cents
from handslide.sound.segments import ABOVE_HUM_HZ, HUM_SHARE, is_mains
from handslide.sound.vibrato import Mean

Floats = NDArray[np.float64]

_STRING_CENTS = 3.0  # at the 8th harmonic
_SEVERAL_CENTS = 5.0
_LOOSE_SHARE = 0.05  # of the power; recorded horns have less than 0.001
# In so few periods a flutter or a weak attack turns a line of a low note round once.
_FEW_PERIODS, _LOOSE_SHARE_FEW = 20.0, 0.15
_ALL_BUT_ONE = 6
LOUD_S, _LOUD_DB = 0.25, 8.0
_LOCKED_SHARE = 0.6  # of the power; recorded horns have more than 0.92
_LOCKED_SHARE_LOW = 0.5
_JUDGED_S = 0.3
_HUM_SPREAD_CENTS = 1.5

_HUM = fact("sounds.hum")
_STRUCK_STRING = fact("sounds.struck_string")
SEVERAL_PITCHES = fact("sounds.several_pitches")


def loudest(steady: Blocks) -> Blocks:
    """The blocks around the loudest one that are not much softer."""
    loud = 10.0 * np.log10(np.maximum(steady.power, 1e-12))
    top = int(np.argmax(loud))
    soft = np.flatnonzero(loud < loud[top] - _LOUD_DB)
    before, after = soft[soft < top], soft[soft > top]
    return steady.cut(
        int(before[-1]) + 1 if len(before) else 0, int(after[0]) if len(after) else len(loud)
    )


def why_not_blown(
    steady: Blocks, mean: Mean, rate_hz: float, judged_s: float = _JUDGED_S
) -> tuple[Fact | None, float]:
    """Why a steady tone can't be a note of the horn, None if it can; and how much of it is loose.

    A stiff string's partials run sharp, f_k = k·f0·√(1 + B·k²) (H. Fletcher, E. D. Blackham and
    R. Stratton, J. Acoust. Soc. Am. 34, 1962; from memory): about 866·B·k² cents. Those of a blown
    tone are locked. Tones sounding together are told by harmonics that run apart from the common
    comb, lie outside it, or drift apart in two sets; two players a pure octave or fifth apart can't
    be told from one tone.
    """
    if mean.spread_cents < _HUM_SPREAD_CENTS and is_mains(np.array([mean.f0_hz]))[0]:
        # Near 100 Hz a horn has its strength higher up.
        levels = np.mean(np.abs(steady.parts) ** 2, axis=1)
        high = mean.f0_hz * np.arange(1, len(levels) + 1) > ABOVE_HUM_HZ
        if levels[high].sum() < HUM_SHARE * levels.sum():
            return _HUM, 0.0
    if steady.time_s[-1] - steady.time_s[0] < judged_s:
        return None, 0.0
    number, off, se, power = unlocked_cents(steady, mean.f0_hz)
    if _is_string(number, off, se):
        return _STRUCK_STRING, 0.0
    total = float(steady.power.mean())
    apart = np.abs(off) > np.maximum(_SEVERAL_CENTS, 4.0 * se)
    if apart.sum() == 1 and len(apart) >= _ALL_BUT_ONE:
        apart[:] = False  # nor a second tone: a room has moved it
    locked, loose = float(power[~apart].sum()) / total, float(power[apart].sum()) / total
    # Low notes may have harmonics above those that are followed.
    complete = harmonic_count(mean.f0_hz, rate_hz) < MOST_HARMONICS
    least = _LOCKED_SHARE if complete else _LOCKED_SHARE_LOW
    if locked < least or is_multiphonic(steady, mean.f0_hz):
        return SEVERAL_PITCHES, 1.0
    few = mean.f0_hz * (steady.time_s[-1] - steady.time_s[0]) < _FEW_PERIODS
    most = _LOOSE_SHARE_FEW if few else _LOOSE_SHARE
    return (SEVERAL_PITCHES if loose > most else None), loose


def _is_string(number: Floats, off: Floats, se: Floats) -> bool:
    """Whether harmonics rise with the square of their number, also without the highest."""
    if len(number) < 3 or not _bends(number, off, se):
        return False
    return len(number) < 5 or _bends(number[:-1], off[:-1], se[:-1])


def _bends(number: Floats, off: Floats, se: Floats) -> bool:
    weight = 1.0 / (se**2 + 0.3**2)
    square = number**2 - np.sum(weight * number**2) / np.sum(weight)
    centred = off - np.sum(weight * off) / np.sum(weight)
    bend = float(np.sum(weight * square * centred) / np.sum(weight * square**2))
    bend_se = float(np.sum(weight * square**2) ** -0.5)
    explained = bend**2 * np.sum(weight * square**2) / np.sum(weight * centred**2)
    return bool(bend * 64.0 > _STRING_CENTS and bend > 6.0 * bend_se and explained > 0.5)
