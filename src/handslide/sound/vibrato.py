"""How a pitch moves along a note: vibrato, spread, and what they leave certain of its mean.

Conventions: a phase path ``turn`` (b,) in rad of the fundamental at times ``time_s`` (b,), evenly
``step_s`` apart, averaged under Hann windows of twice that step.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.sound.refine import CENTS, white_phase_sd

Floats = NDArray[np.float64]

VIBRATO_HZ = (3.0, 9.0)
_LEAST_CYCLES = 2.0
_LEAST_EXTENT_CENTS = 3.0
_LEAST_SHARE = 0.5  # of the pitch's movement that a vibrato must explain
_CELL_S = 0.05


@dataclass(frozen=True, slots=True)
class Mean:
    """The mean pitch of a steady part, its standard error, and how it moved."""

    f0_hz: float
    se_cents: float
    spread_cents: float
    vibrato_hz: float | None
    vibrato_cents: float | None
    drift_cents: float
    """Change of the pitch from the beginning to the end, along the straight line through it."""


def mean_pitch(time_s: Floats, step_s: float, turn: Floats, window_s: float) -> Mean:
    """The pitch of the phase path, as the mean of its cents, with its standard error.

    The slope of the path is the mean of the frequency. A vibrato is judged by the mean of its
    logarithm ("Perceived pitch of vibrato tones", J. Acoust. Soc. Am. 58, S132, 1975, abstract
    seen: compatible with the geometric and not with the arithmetic mean; J. C. Brown and
    K. Vaughn, meeting 126 of the same society, 1993, abstract seen), which is lower by half the
    variance of the logarithm: 0.8 cents for a vibrato of 75 cents each way.

    Two things make the mean uncertain and their squares are added: noise, as the Cramér–Rao bound
    has it, estimated from what differs between neighbouring blocks; and the pitch's own wander,
    which is correlated in time: variance of the pitch, over the number of independent values that
    a first-order autoregression leaves (1.2/n for the weights of a slope; bias of the correlation
    of a short series after Marriott and Pope, Biometrika 41, 1954; from memory).
    """
    time_s = time_s - time_s.mean()
    slope = _slope(time_s, turn)
    curve = np.diff(turn) / (2.0 * np.pi * step_s)
    cents = CENTS * (curve / (slope / (2.0 * np.pi)) - 1.0)
    found = find_vibrato(cents, step_s)
    extent = None
    left = turn
    if found is not None:
        slope, wave, size = _slope_beside(time_s, turn, found)
        left = turn - wave
        shrunk = _hann_response(found * window_s)
        extent = CENTS * size * 2.0 * np.pi * found / slope / shrunk
        if extent < _LEAST_EXTENT_CENTS:
            found, extent = None, None
    to_cents = CENTS / slope
    noise = white_phase_sd(left)
    noise = 0.0 if np.isnan(noise) else noise
    noise_se = to_cents * noise * np.sqrt(4.0 / 3.0 / np.sum(time_s**2))
    wander_sd, wander_se = _wander(to_cents * left, step_s, to_cents * noise)
    spread = np.hypot(wander_sd, 0.0 if extent is None else extent / np.sqrt(2.0))
    lower = np.exp(-0.5 * (spread / CENTS) ** 2)
    return Mean(
        float(slope / (2.0 * np.pi) * lower),
        float(np.hypot(noise_se, wander_se)),
        float(spread),
        None if found is None else float(found),
        None if extent is None else float(extent),
        _drift(to_cents * left, step_s),
    )


def _drift(path_cents_s: Floats, step_s: float) -> float:
    """Rise of the line through the pitch whose integral is ``path_cents_s`` (b,), in cents."""
    pitch = np.diff(path_cents_s) / step_s
    if len(pitch) < 3:
        return 0.0
    place = np.arange(len(pitch)) - (len(pitch) - 1) / 2
    return float(place @ pitch / np.sum(place**2) * (len(pitch) - 1))


def find_vibrato(cents: Floats, step_s: float) -> float | None:
    """Speed in Hz of a vibrato in a pitch curve (b,), or None if there is none worth the name."""
    length_s = len(cents) * step_s
    highest = min(VIBRATO_HZ[1], 0.4 / step_s)
    lowest = max(VIBRATO_HZ[0], _LEAST_CYCLES / length_s) if length_s else np.inf
    if len(cents) < 8 or lowest >= highest:
        return None
    time_s = (np.arange(len(cents)) - (len(cents) - 1) / 2) * step_s
    shape = np.vander(time_s / length_s, 3)
    left = cents - shape @ np.linalg.lstsq(shape, cents, rcond=None)[0]
    total = float(left @ left)
    if total <= 0.0:
        return None
    speeds = np.arange(lowest, highest, 0.2 / length_s)
    angle = 2.0 * np.pi * speeds[:, None] * time_s
    share = ((np.cos(angle) @ left) ** 2 + (np.sin(angle) @ left) ** 2) * 2.0 / (len(cents) * total)
    best = int(np.argmax(share))
    if not 0 < best < len(speeds) - 1 or share[best] < _LEAST_SHARE:
        return None
    below, at, above = share[best - 1 : best + 2]
    shift = 0.5 * (below - above) / min(below - 2.0 * at + above, -1e-12)
    return float(speeds[best] + np.clip(shift, -0.5, 0.5) * (speeds[1] - speeds[0]))


def _slope(time_s: Floats, turn: Floats) -> float:
    return float(time_s @ (turn - turn.mean()) / np.sum(time_s**2))


def _slope_beside(time_s: Floats, turn: Floats, speed_hz: float) -> tuple[float, Floats, float]:
    """Slope of ``turn`` beside a wave of ``speed_hz``; the wave; its size in rad."""
    angle = 2.0 * np.pi * speed_hz * time_s
    design = np.stack((np.ones_like(time_s), time_s, np.cos(angle), np.sin(angle)), axis=1)
    fitted = np.linalg.lstsq(design, turn, rcond=None)[0]
    return float(fitted[1]), design[:, 2:] @ fitted[2:], float(np.hypot(*fitted[2:]))


def _hann_response(cycles: float) -> float:
    """What a Hann window of ``cycles`` periods of a wave leaves of it: sinc(x) / (1 - x²)."""
    if abs(cycles - 1.0) < 1e-6:
        return 0.5
    return float(np.sinc(cycles) / (1.0 - cycles**2))


def _wander(turn_cents: Floats, step_s: float, noise: float) -> tuple[float, float]:
    """Standard deviation of the pitch in cents and the standard error that it gives the mean.

    ``turn_cents`` is the phase path in cents·s, ``noise`` its block noise in the same unit.
    """
    blocks = max(1, round(_CELL_S / step_s))
    ends = turn_cents[::blocks]
    if len(ends) < 3:
        ends, blocks = turn_cents, 1
    curve = np.diff(ends) / (blocks * step_s)
    curve = curve - curve.mean()
    count = len(curve)
    if count < 2:
        return 0.0, 0.0
    shared = 1.0 / 6.0 if blocks == 1 else 0.0
    noise_variance = 2.0 * (1.0 - shared) * (noise / (blocks * step_s)) ** 2
    measured = float(curve @ curve) / (count - 1)
    if measured <= noise_variance * (1.0 + 2.0 * np.sqrt(2.0 / (count - 1))):
        return 0.0, 0.0  # no more than noise would show
    variance = measured - noise_variance
    lagged = float(curve[1:] @ curve[:-1]) / max(float(curve @ curve), 1e-30)
    corrected = np.clip(lagged + (1.0 + 3.0 * lagged) / count, 0.0, 0.9)
    values = count * (1.0 - corrected) / (1.0 + corrected) / 1.2
    return float(np.sqrt(variance)), float(np.sqrt(variance / max(1.0, values)))
