"""One note played again and again: each of its tones is measured as soon as it was held.

The live track says when a tone begins and ends; a tone that was held is then heard once more as a
recording is, so that both say the same.
"""

import math
from collections import deque
from dataclasses import dataclass
from itertools import islice
from statistics import median

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
APART_CENTS = 70.0
"""Tones further apart aren't one and the same note."""
_GAP_S = 0.15  # a tone that is silent for longer is over
_STAYS_S = 0.25  # what is shorter isn't played: a slur on its way, a word that is spoken
_STAYS_CENTS = 60.0  # each way, for there may be vibrato
_AROUND_S = 0.3  # what is heard again before and after a tone
# A tone is over when it is so much softer than within the second before, though the room or a drone
# sounds on; a diminuendo takes longer. What is so much louder than that is the next tone.
_FALL_DB, _RISE_DB = 12.0, 8.0
_ECHO_DB = 6.0  # an echo falls by more within a second; what doesn't is played
_LEVELS, _FEWEST_LEVELS, _RISEN_LEVELS = 100, 50, 12  # frames


@dataclass(frozen=True, slots=True)
class Tone:
    """A tone's mean pitch with its standard error in cents."""

    f0_hz: float
    cents_se: float


class OneNote:
    """Listens for tones within ``within_cents`` of ``hz``. For one thread at a time.

    ``state`` is now: ``quiet``, ``sounding``, ``held`` (long enough: it can end), ``before`` (it
    sounds already, and no tone has begun), ``other`` (another note, at ``other_hz``), ``short`` or
    ``unsteady`` (the last tone wasn't counted) or ``apart`` (the last tone is so far from those
    before it that these count no more).
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
        self._begin_s: float | None = None
        self._before_db = -math.inf
        self._last_s = 0.0
        self._others: deque[tuple[float, float]] = deque()
        # What sounds on from the note before isn't the new one.
        self._wait(math.inf)

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

    def _wait(self, level_db: float) -> None:
        """Until there is silence, or it sounds louder than now, no tone begins."""
        self._ready = False
        self._lowest_db = level_db
        self._levels: deque[float] = deque(maxlen=_LEVELS)

    def _take_in(self, moment: Moment) -> None:
        hz, now = moment.f0_hz, moment.time_s
        near = hz is not None and abs(cents(hz / self.hz)) <= self.within_cents
        if near:
            self._levels.append(moment.level_db)
        if not self._ready:
            self._is_ready(near, moment)
        elif self._begin_s is None:
            if near:
                self._begins(moment)
            else:
                self._is_other(hz, now)
        elif self._fallen(moment.level_db) or now - self._last_s > _GAP_S:
            self._end(moment.level_db)
        elif near:
            self._sounds(moment)

    def _fallen(self, level_db: float) -> bool:
        """Whether the tone is over and only its echo sounds, or what sounded before it."""
        if level_db < self._before_db:
            return True
        levels = self._levels
        return len(levels) >= _FEWEST_LEVELS and level_db < median(levels) - _FALL_DB

    def _is_ready(self, near: bool, moment: Moment) -> None:
        now = moment.time_s
        self._lowest_db = min(self._lowest_db, moment.level_db)
        if not near:
            if now - self._last_s > _GAP_S:
                self._ready = True
                if self.state in ("held", "before"):
                    self.state = "quiet"
            return
        self._last_s = now
        if self.state == "held" and self._fallen(moment.level_db):
            self.state = "quiet"
        levels = self._levels
        last = list(islice(reversed(levels), _RISEN_LEVELS))
        if len(last) == _RISEN_LEVELS and min(last) > self._lowest_db + _RISE_DB:
            self._ready = True
            self._begins(moment)
            self._before_db = self._lowest_db + _RISE_DB / 2.0
        elif (
            self.state != "held"
            and len(levels) == _LEVELS
            and levels[0] - moment.level_db < _ECHO_DB
        ):
            self.state = "before"

    def _begins(self, moment: Moment) -> None:
        self._levels.clear()
        self._others.clear()
        self._begin_s, self._before_db = moment.time_s, -math.inf
        self._sounds(moment)

    def _sounds(self, moment: Moment) -> None:
        now = moment.time_s
        begin = now if self._begin_s is None else self._begin_s
        self.state, self._last_s = "sounding", now
        self.held_s = now - begin
        if self.held_s >= HOLD_S:
            self._count()
            if self.state == "quiet":
                self.state = "held"
            self._wait(moment.level_db)

    def _end(self, level_db: float) -> None:
        if self.held_s >= LEAST_S:
            self._count()
        else:
            self.state = "short" if self.held_s >= _STAYS_S else "quiet"
            self._begin_s, self.held_s = None, 0.0
        self._wait(level_db)

    def _is_other(self, hz: float | None, now: float) -> None:
        others = self._others
        if hz is None:
            others.clear()
            if self.state == "other" and now - self._last_s > _GAP_S:
                self.state, self.other_hz = "quiet", None
            return
        self._last_s = now
        others.append((now, hz))
        while now - others[0][0] > _STAYS_S:
            others.popleft()
            tones = [one for _, one in others]
            if cents(max(tones) / min(tones)) <= 2.0 * _STAYS_CENTS:
                self.state, self.other_hz = "other", median(tones)

    def _count(self) -> None:
        """Hear the tone again with all of its sound."""
        begin = self._begin_s or 0.0
        self._begin_s, self.held_s = None, 0.0
        first = max(0, round((begin - _AROUND_S) * self._rate_hz) - self._kept_from)
        last = round((self._last_s + _AROUND_S) * self._rate_hz) - self._kept_from
        from_s = (self._kept_from + first) / self._rate_hz
        tone_s = (begin - from_s, self._last_s - from_s)
        found = self._longest(np.concatenate(self._samples)[first:last], tone_s)
        if found is None or found.cents_se is None:
            self.state = "unsteady"
            return
        same = [one for one in self.tones if abs(cents(one.f0_hz / found.f0_hz)) <= APART_CENTS]
        self.state = "quiet" if len(same) == len(self.tones) else "apart"
        self.tones = (*same, Tone(found.f0_hz, found.cents_se))

    def _longest(self, samples: Floats, tone_s: tuple[float, float]) -> HeardNote | None:
        """The longest note in ``samples`` within the tone; beside it may be others, or a drone."""
        lasts_s = {
            min(note.end_s, tone_s[1]) - max(note.start_s, tone_s[0]): note
            for note in hear(samples, self._rate_hz).notes
            if note.cents_se is not None and abs(cents(note.f0_hz / self.hz)) <= self.within_cents
        }
        longest_s = max(lasts_s, default=0.0)
        return lasts_s[longest_s] if longest_s >= LEAST_S / 2.0 else None
