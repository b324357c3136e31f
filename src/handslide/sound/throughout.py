"""A tone that sounds all through a take, such as a drone from a loudspeaker, taken out.

The player's notes stop, a drone doesn't: its harmonics are known from the pauses, and they are
there under all notes, whatever is played. Then they are taken out as hum is. Own method.

Conventions: samples mono, shape (n,); pitches in Hz.
"""

import numpy as np
from numpy.typing import NDArray

from handslide.ground.progress import ProgressCallback
from handslide.sound.hum import Hum, sizes_at, without_lines
from handslide.sound.measure import most_common
from handslide.sound.segments import cents_of, runs
from handslide.sound.track import Track

Floats = NDArray[np.float64]

_BELOW_LOUDEST_DB = 4.0
_CLEAR, _BLENDED = 0.8, 0.5  # alone, and with another tone above it
_AGREE_CENTS, _LEVEL_DB = 15.0, 2.0
_OTHER_CENTS, _OTHER_SHARE = 60.0, 0.08
_LEAST_FRAMES, _STRETCH_FRAMES = 40, 16
_HIGHEST_HZ = 4000.0
_WINDOW_S = 0.25
_WEAK_DB = -46.0  # below the strongest line
_ALIKE, _ALIKE_SHARE = 1.6, 0.75
_LEAST_LINES = 3
_THERE = 0.5  # of the amplitude in the pauses
_THERE_LINES, _THERE_WINDOWS = 0.5, 0.9
_LEAST_S = 4.0


def without_drone(
    track: Track, progress: ProgressCallback | None = None
) -> tuple[Track, float | None]:
    """The track without a tone that never stops, and how high that was; None without one."""
    pauses, f0_hz = _alone(track)
    if f0_hz is None or not _others(track, f0_hz):
        return track, None
    lines = _lines(track, pauses, f0_hz)
    if lines is None or not _throughout(track, lines):
        return track, None
    return without_lines(track, pauses, lines, progress, loud=True), f0_hz


def _alone(track: Track) -> tuple[list[tuple[int, int]], float | None]:
    """Where the tone may sound alone, first sample and stop of each stretch, and how high it is.

    It is the pitch that is held most where less sounds than the loudest, at one level.
    """
    level = track.level_db
    if track.length_s < _LEAST_S:
        return [], None
    quiet = level < float(np.percentile(level, 95)) - _BELOW_LOUDEST_DB
    held = quiet & (track.clarity >= _CLEAR) & np.isfinite(track.f0_hz)
    if held.sum() < _LEAST_FRAMES:
        return [], None
    high = np.full(len(level), np.inf)
    high[held] = cents_of(track.f0_hz[held])
    middle = most_common(high[held], _AGREE_CENTS)
    near = np.abs(high - middle) < _AGREE_CENTS
    near &= np.abs(level - float(np.median(level[near]))) < _LEVEL_DB
    stretches = [
        (first * track.hop, (stop - 1) * track.hop)
        for first, stop in runs(near)
        if stop - first >= _STRETCH_FRAMES
    ]
    return stretches, float(np.median(track.f0_hz[near]))


def _others(track: Track, f0_hz: float) -> bool:
    """Whether other notes are played: under a long note nobody can tell it from itself."""
    held = (track.clarity >= _BLENDED) & np.isfinite(track.f0_hz)
    apart = cents_of(track.f0_hz[held]) - float(cents_of(np.array([f0_hz]))[0])
    other = np.abs((apart + 600.0) % 1200.0 - 600.0) > _OTHER_CENTS
    return bool(other.sum() >= max(_LEAST_FRAMES, _OTHER_SHARE * len(other)))


def _lines(track: Track, pauses: list[tuple[int, int]], f0_hz: float) -> Hum | None:
    """The harmonics of the tone in the pauses that are alike in all of them."""
    highest = min(_HIGHEST_HZ, 0.45 * track.rate_hz)
    hz: Floats = f0_hz * np.arange(1.0, int(highest / f0_hz) + 1)
    size = round(_WINDOW_S * track.rate_hz)
    begins = [at for begin, end in pauses for at in range(begin, end - size + 1, size)]
    if len(begins) < 2:
        return None
    sizes = np.abs(sizes_at(_cut(track, begins, size), track.rate_hz, hz))
    middle = np.median(sizes, axis=0)
    alike = (sizes < _ALIKE * middle) & (sizes > middle / _ALIKE)
    strong = middle > float(middle.max()) * 10.0 ** (_WEAK_DB / 20.0)
    kept = strong & (alike.mean(axis=0) >= _ALIKE_SHARE)
    return Hum(hz[kept], middle[kept]) if kept.sum() >= _LEAST_LINES else None


def _throughout(track: Track, lines: Hum) -> bool:
    """Whether the tone is there all the time: a player's own note isn't."""
    size = round(_WINDOW_S * track.rate_hz)
    begins = list(range(0, len(track.samples) - size + 1, size))
    sizes = np.abs(sizes_at(_cut(track, begins, size), track.rate_hz, lines.hz))
    there = (sizes >= _THERE * lines.amplitude).mean(axis=1) >= _THERE_LINES
    return bool(there.mean() >= _THERE_WINDOWS)


def _cut(track: Track, begins: list[int], size: int) -> Floats:
    return np.stack([track.samples[at : at + size].astype(np.float64) for at in begins])
