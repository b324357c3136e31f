"""Hearing while it sounds: blocks of samples in, the pitch of the moment out.

The same analysis as of a file, in the same order, so that the notes at the end are the same. A
frame's pitch is known about 48 ms after its middle; pushing blocks of 20 ms keeps the whole delay
below 80 ms.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import TakeError
from handslide.ground.progress import ProgressCallback
from handslide.ground.units import cents
from handslide.sound.notes import HeardTake, check_a4, notes_of
from handslide.sound.octaves import octave_of
from handslide.sound.segments import is_mains
from handslide.sound.track import Tracker

Floats = NDArray[np.float64]

_VOICED = 0.6
_QUIETEST_DB = -60.0
_AGREE_CENTS = 60.0
_NOTHING_HZ = 1.0  # far from all that sounds
_ASKED_FRAMES = 50  # then a tone's octave is known
# Mains hum sounds alone where it is no louder than the quietest moment; that is forgotten slowly.
_HUM_ABOVE_DB, _FORGOTTEN_DB, _SILENT_DB = 6.0, 0.005, -80.0


@dataclass(frozen=True, slots=True)
class Moment:
    """The pitch at ``time_s`` from the first sample; None where nothing has a pitch.

    A pitch is told once two frames agree on it: an attack and a slip of one frame have none. Mains
    hum that sounds alone has none either.
    ``clarity`` is 0 (noise) to 1 (a perfect tone), ``level_db`` re full scale.
    """

    time_s: float
    f0_hz: float | None
    clarity: float
    level_db: float


class Listener:
    """Listens to a stream. Keeps it thinned to about 11 kHz until it is closed.

    ``live`` False: no moments are wanted, which is quicker.
    """

    def __init__(self, rate_hz: float, *, a4_hz: float | None = 440.0, live: bool = True) -> None:
        check_a4(a4_hz)
        self._tracker = Tracker(rate_hz, at_once=live)
        self._a4_hz = a4_hz
        self._frames = 0
        self._before_hz = _NOTHING_HZ
        self._tone_hz: list[float] = []
        self._share = 1.0
        self._quietest_db = 0.0
        self._closed = False

    @property
    def delay_s(self) -> float:
        """How long after its middle a moment is known, besides the length of the blocks."""
        return self._tracker.delay_s + self._tracker.hop / self._tracker.rate_hz

    def push(self, samples: Floats) -> tuple[Moment, ...]:
        """Take the next samples (n,), mono, -1 to 1; return the moments that they complete.

        Raises TakeError after ``close``, and for samples that aren't one row.
        """
        if self._closed:
            raise TakeError("sounds.closed")
        samples = np.asarray(samples, dtype=np.float64)
        if samples.ndim != 1:
            raise TakeError("sounds.not_mono", shape=str(samples.shape))
        hop_s = self._tracker.hop / self._tracker.rate_hz
        moments = []
        rows = self._tracker.push(samples)
        mains = is_mains(rows[:, 0]).tolist()
        for (f0_hz, clarity, level_db), at_mains in zip(rows.tolist(), mains, strict=True):
            if level_db > _SILENT_DB:
                self._quietest_db = min(level_db, self._quietest_db + _FORGOTTEN_DB)
            hum = at_mains and level_db < self._quietest_db + _HUM_ABOVE_DB
            heard = clarity >= _VOICED and level_db >= _QUIETEST_DB and not hum
            agrees = heard and abs(cents(f0_hz / self._before_hz)) < _AGREE_CENTS
            self._before_hz = f0_hz if heard else _NOTHING_HZ
            octave = self._octave_share(f0_hz) if heard else self._forget()
            pitch = f0_hz * octave if agrees else None
            moments.append(Moment(self._frames * hop_s, pitch, clarity, level_db))
            self._frames += 1
        return tuple(moments)

    def _forget(self) -> float:
        """Nothing sounds: the next tone begins anew."""
        self._tone_hz.clear()
        self._share = 1.0
        return self._share

    def _octave_share(self, f0_hz: float) -> float:
        """What the pitch of this frame is to be multiplied with: its odd harmonics are asked.

        The track takes a half or a third of the period where they are weak.
        """
        if self._tone_hz and abs(cents(f0_hz / self._tone_hz[-1])) > _AGREE_CENTS:
            self._forget()
        self._tone_hz = [*self._tone_hz[-_ASKED_FRAMES:], f0_hz]
        if 1 < len(self._tone_hz) <= _ASKED_FRAMES:
            middle = float(np.median(self._tone_hz))
            reach = float(np.percentile(np.abs(np.asarray(self._tone_hz) / middle - 1.0), 80))
            samples = self._tracker.between(self._frames - len(self._tone_hz) + 1, self._frames)
            self._share = octave_of(samples, self._tracker.rate_hz, middle, reach) / middle
        return self._share

    def close(
        self, progress: ProgressCallback | None = None, *, closely: bool = False
    ) -> HeardTake:
        """The notes of all that was pushed; ``closely`` as for `notes_of`.

        Nothing can be pushed afterwards.
        """
        if self._closed:
            raise TakeError("sounds.closed")
        self._closed = True
        track = self._tracker.finish()
        return notes_of(track, a4_hz=self._a4_hz, closely=closely, progress=progress)
