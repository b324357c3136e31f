"""How steady a tone is, and how bright: its harmonics along the steady part.

Brightness is the harmonic spectral centroid, Σ f_k·a_k / Σ a_k over the harmonics (G. Peeters and
others, "The Timbre Toolbox", J. Acoust. Soc. Am. 130, 2902, 2011: its abstract seen, and the
formula as others give it). It depends on the microphone and the place: only notes of one take may
be compared, or takes of one set-up.

Steadiness is the standard deviation about the straight line through what is measured: of the
level, and of the centroid. Of the pitch it is `handslide.sound.notes`' spread. The beginnings and
ends of notes, about 120 ms each with singers (J. Dai and S. Dixon, seen in the description of their
data), aren't asked: of the steady part 50 ms at each end, or a fifth of a short one, are left.

Conventions: levels in dB re full scale, shape (k, frames) for harmonics in frames.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.sound.refine import harmonic_count
from handslide.sound.track import Track

Floats = NDArray[np.float64]

_PERIODS = 4  # of a Hann window: the harmonics' own lobes just touch
_LEAST_FRAMES = 6
_MARGIN_S = 0.05
_MOST_SAMPLES = 40_000


@dataclass(frozen=True, slots=True)
class Colour:
    """A tone's brightness and steadiness; None where it is too short.

    ``centroid_hz`` is the median over the tone; ``level_sd_db`` and ``centroid_sd_percent`` say how
    both swing about their own lines, ``level_drift_db`` how much the level rose (+) or fell.
    ``first_db`` is the fundamental's level beside the strongest harmonic's.
    """

    centroid_hz: float | None = None
    centroid_sd_percent: float | None = None
    level_sd_db: float | None = None
    level_drift_db: float | None = None
    first_db: float | None = None


def colour_of(track: Track, first_s: float, last_s: float, f0_hz: float) -> Colour:
    """The colour of the tone of ``f0_hz`` that is steady from ``first_s`` to ``last_s``."""
    margin_s = min(_MARGIN_S, 0.2 * (last_s - first_s))
    levels = harmonics(track, first_s + margin_s, last_s - margin_s, f0_hz)
    if levels is None:
        return Colour()
    number = np.arange(1, len(levels) + 1)[:, None]
    total = np.maximum(levels.sum(axis=0), 1e-12)
    centroid = f0_hz * (number * levels).sum(axis=0) / total
    loud = 10.0 * np.log10(np.maximum(0.5 * (levels**2).sum(axis=0), 1e-12))
    level_sd, drift = _about_line(loud)
    centroid_sd, _ = _about_line(100.0 * np.log(np.maximum(centroid, 1.0)))
    middle = np.median(levels, axis=1)
    first_db = 20.0 * float(np.log10(max(middle[0], 1e-9) / max(middle.max(), 1e-9)))
    return Colour(float(np.median(centroid)), centroid_sd, level_sd, drift, first_db)


def harmonics(track: Track, first_s: float, last_s: float, f0_hz: float) -> Floats | None:
    """Amplitudes (k, frames) of a tone's harmonics, None for a tone of few periods."""
    rate = track.rate_hz
    count = round(_PERIODS * rate / f0_hz)
    first, last = round(first_s * rate), min(round(last_s * rate), len(track.samples))
    frames = 2 * (last - first) // max(count, 1) - 1
    if frames < _LEAST_FRAMES:
        return None
    frames = min(frames, max(_LEAST_FRAMES, _MOST_SAMPLES // count))
    begin = np.linspace(first, last - count, frames).astype(int)
    pieces = track.samples[begin[:, None] + np.arange(count)].astype(np.float64)
    window = 0.5 - 0.5 * np.cos(2.0 * np.pi * (np.arange(count) + 0.5) / count)
    # Four periods a frame: each fourth line of the spectrum is a harmonic.
    lines = _PERIODS * np.arange(1, harmonic_count(f0_hz, rate) + 1)
    spectrum = np.abs(np.fft.rfft(pieces * window, axis=1))[:, lines[lines <= count // 2]]
    levels: Floats = spectrum.T * (2.0 / window.sum())
    return levels


def _about_line(values: Floats) -> tuple[float, float]:
    """Standard deviation about the line through ``values``, and how far the line rises."""
    place = np.linspace(-0.5, 0.5, len(values))
    rise = float(place @ values / (place @ place))
    left = values - values.mean() - rise * place
    return float(np.sqrt(np.sum(left**2) / max(len(values) - 2, 1))), rise
