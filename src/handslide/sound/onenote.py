"""One note played again and again: each of its tones is measured as soon as it was held.

The live track says when a tone begins and ends; a tone that was held is then heard once more as a
recording is, so that both say the same.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.ground.units import cents
from handslide.sound.notes import HeardNote, hear
from handslide.sound.stream import Listener, Moment

Floats = NDArray[np.float64]

HOLD_S = 3.0
"""How long a tone is to be held: common practice in tuning."""
LEAST_S = 1.0
"""A shorter one isn't counted: its attack and release would be most of it."""
_GAP_S = 0.15  # a tone that is silent for longer is over
_OTHER_S = 0.25  # another note sounds only if it stays
_AROUND_S = 0.3  # what is heard again before and after a tone
_AGREE_CENTS = 60.0


@dataclass(frozen=True, slots=True)
class Tone:
    """A tone's mean pitch with its standard error in cents."""

    f0_hz: float
    cents_se: float


class OneNote:
    """Listens for tones within ``within_cents`` of ``hz``. For one thread at a time.

    ``state`` is now: ``quiet``, ``sounding``, ``held`` (long enough: it can end), ``other``
    (another note, at ``other_hz``), ``short`` or ``unsteady`` (the last tone wasn't counted).
    """

    def __init__(self, rate_hz: float, hz: float, within_cents: float) -> None:
        """Raises TakeError for a rate that can't be heard."""
        self._listener = Listener(rate_hz)
        self._rate_hz = rate_hz
        self._samples: list[Floats] = []
        self._kept_from = 0
        self._pushed = 0
        self.aim(hz, within_cents)

    def aim(self, hz: float, within_cents: float) -> None:
        """Listen for another note from now on; the tones of the last are forgotten."""
        self.hz, self.within_cents = hz, within_cents
        self.tones: tuple[Tone, ...] = ()
        self.state = "quiet"
        self.held_s = 0.0
        self.other_hz: float | None = None
        # What sounds on from the note before isn't the new one.
        self._ready = False
        self._begin_s: float | None = None
        self._last_s = 0.0
        self._other_since_s: float | None = None

    def push(self, samples: Floats) -> bool:
        """Take the next samples (n,), mono, -1 to 1. Whether they completed a moment."""
        self._samples.append(samples)
        self._pushed += len(samples)
        moments = self._listener.push(samples)
        for moment in moments:
            self._take_in(moment)
        if self._begin_s is None:
            self._forget(self._pushed - round(2 * _AROUND_S * self._rate_hz))
        return bool(moments)

    def _forget(self, before: int) -> None:
        while self._samples and self._kept_from + len(self._samples[0]) < before:
            self._kept_from += len(self._samples.pop(0))

    def _take_in(self, moment: Moment) -> None:
        hz, now = moment.f0_hz, moment.time_s
        near = hz is not None and abs(cents(hz / self.hz)) <= self.within_cents
        if not self._ready:
            if near:
                self._last_s = now
            self._ready = not near and now - self._last_s > _GAP_S
            if self._ready and self.state == "held":
                self.state = "quiet"
            return
        if near:
            self._sounds(now)
        elif self._begin_s is not None and now - self._last_s > _GAP_S:
            self._end()
        elif self._begin_s is None:
            self._is_other(hz, now)

    def _sounds(self, now: float) -> None:
        if self._begin_s is None:
            self._begin_s, self._other_since_s = now, None
        self.state, self._last_s = "sounding", now
        self.held_s = now - self._begin_s
        if self.held_s >= HOLD_S:
            self._count()
            if self.state != "unsteady":
                self.state = "held"
            self._ready = False

    def _end(self) -> None:
        if self.held_s >= LEAST_S:
            self._count()
        else:
            self.state = "short"
            self._begin_s, self.held_s = None, 0.0

    def _is_other(self, hz: float | None, now: float) -> None:
        if hz is None:
            self._other_since_s = None
            if self.state == "other" and now - self._last_s > _GAP_S:
                self.state, self.other_hz = "quiet", None
            return
        if self.other_hz is None or abs(cents(hz / self.other_hz)) > _AGREE_CENTS:
            self._other_since_s, self.other_hz = now, hz
        elif self._other_since_s is None:
            self._other_since_s = now
        self._last_s = now
        if now - self._other_since_s >= _OTHER_S:
            self.state = "other"

    def _count(self) -> None:
        """Hear the tone again with all of its sound."""
        begin = self._begin_s or 0.0
        self._begin_s, self.held_s = None, 0.0
        first = max(0, round((begin - _AROUND_S) * self._rate_hz) - self._kept_from)
        last = round((self._last_s + _AROUND_S) * self._rate_hz) - self._kept_from
        found = self._longest(np.concatenate(self._samples)[first:last])
        if found is None or found.cents_se is None:
            self.state = "unsteady"
            return
        self.tones = (*self.tones, Tone(found.f0_hz, found.cents_se))
        self.state = "quiet"

    def _longest(self, samples: Floats) -> HeardNote | None:
        notes = [
            note
            for note in hear(samples, self._rate_hz).notes
            if note.cents_se is not None and abs(cents(note.f0_hz / self.hz)) <= self.within_cents
        ]
        return max(notes, key=lambda note: note.end_s - note.start_s, default=None)
