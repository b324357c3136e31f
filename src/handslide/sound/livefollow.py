"""Following a part while it sounds: which of its notes is played now, from pitch and time.

Frames are gathered to tones, and each weighs where in the part that may be. Where no place is
clearly the likeliest it is unknown: who looks at it is told nothing rather than something wrong.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from handslide.sound.whereabouts import SAME, Whereabouts, is_octave_of

# A frame this far from the tone that sounds begins another one; of a tone these frames count.
_LEAVES, _LATEST = 0.5, 7
# A tone's first frame says most of where it is, each later one less, down to this for a while.
_FADES, _FADED, _SAID = 0.85, 0.05, 60
# A frame this far from the one before it is on its way somewhere, and says little.
_MOVES, _SAYS_LITTLE = 0.15, 0.4
# A place that is so far ahead is taken for sure, and kept as long as it is so far ahead.
_SURE, _STILL_SURE = 0.8, 0.2
# A gap of this length ends a tone. A fall of the level by this much and back is a new stroke, and a
# small one, too, when the next note is due; a peak is forgotten by so much a frame.
_GAP_S = 0.035
_DIP_DB, _DUE_DIP_DB, _LEAST_DIP_DB, _FORGOTTEN_DB = 7.0, 3.0, 1.5, 0.1
_ATTACK = 6
_DUE = (0.75, 1.35)
_OVER_S = 0.25
# Later than so many times the written time, and so much more: he has stopped.
_STOP_TIMES, _STOP_S = 2.0, 2.0
# A note struck again comes after at least this share of the time that it is written for.
_AGAIN_SHARE = 0.45
_SLOWEST, _FASTEST = 2.5, 0.4
_TEMPO_OF = 5
# A tone of so many frames can be another one than the part's; after so many he is lost.
_HEARD, _LOST_AFTER = 4, 3


@dataclass(frozen=True, slots=True)
class PartNote:
    """A note in playing order: its MIDI number and when it is written to begin, in seconds."""

    midi: int
    on_s: float


class _Tone:
    """What sounds since ``begin_s``. ``says`` is how much its last frame says of where it is, and
    ``told`` the pitch that all frames together told."""

    def __init__(self, begin_s: float, pitch: float, level_db: float) -> None:
        self.begin_s = begin_s
        self.frames = [pitch]
        self.says = self._weight = self._said = 1.0
        self.told = pitch
        self._peak_db = self._low_db = level_db

    @property
    def pitch(self) -> float:
        return median(self.frames[-_LATEST:])

    def add(self, pitch: float, *, as_octave: bool) -> None:
        """Takes in a frame; ``as_octave``: the track has counted its periods wrongly."""
        moves = abs(pitch - self.frames[-1]) > _MOVES
        self._weight = max(_FADES * self._weight, _FADED if len(self.frames) < _SAID else 0.0)
        self.says = self._weight * (_SAYS_LITTLE if moves else 1.0)
        if not as_octave:
            self.frames.append(pitch)
            self._said += self.says
            self.told += (pitch - self.told) * self.says / self._said

    def dip_db(self, level_db: float) -> float:
        """How deep the level fell if it has come back by now, else 0."""
        if len(self.frames) < _ATTACK:
            self._peak_db = self._low_db = max(level_db, self._peak_db)
            return 0.0
        self._peak_db -= _FORGOTTEN_DB
        self._low_db = min(self._low_db, level_db)
        deep_db = self._peak_db - self._low_db
        back = level_db >= self._low_db + 0.5 * deep_db
        if back:
            self._peak_db = self._low_db = level_db
        return deep_db if back and deep_db >= _LEAST_DIP_DB else 0.0


class LiveFollower:
    """Where in a part a player is. Frames in, by `push`; everything else is there to be read.

    ``at`` is the note that sounds or sounded last, None before the first; ``sure`` is False where
    the place isn't known any more, ``other`` True while a tone sounds that isn't the next note.
    """

    def __init__(self, notes: Sequence[PartNote], first: int = 0) -> None:
        self._notes = tuple(notes)
        self._where = Whereabouts([note.midi for note in self._notes])
        self.begin(first)

    def begin(self, first: int = 0) -> None:
        """The next note is ``first``; whatever was heard until now is forgotten."""
        self.at: int | None = None
        self.sure = True
        self.other = False
        self._next = first
        self._where.begin(first)
        self._tone: _Tone | None = None
        self._silent_from_s: float | None = None
        self._at_told = False
        self._waiting: list[_Tone] = []
        self._onsets: list[tuple[int, float]] = []
        self._passed: list[tuple[int, str]] = []

    @property
    def next(self) -> int:
        """The note that is to come, the number of notes after the last."""
        return self._next

    def take_passed(self) -> list[tuple[int, str]]:
        """Notes that were left since the last call: (number, ``heard``, ``gone`` or ``other``)."""
        passed, self._passed = self._passed, []
        return passed

    def lasts_s(self, number: int) -> float | None:
        """How long a note has until the next one, in the tempo so far; None for the last one."""
        if number + 1 >= len(self._notes):
            return None
        written_s = self._notes[number + 1].on_s - self._notes[number].on_s
        # However quick: a bound is for what is waited for, not for what was played.
        return written_s * self._tempo(fastest=0.0)

    def push(self, time_s: float, pitch: float | None, level_db: float) -> None:
        """A frame: its ``pitch`` as a MIDI number with fraction, None where nothing sounds."""
        if pitch is None:
            self._silent_from_s = time_s if self._silent_from_s is None else self._silent_from_s
            if time_s - self._silent_from_s >= _GAP_S:
                self._tone, self.other = None, False
            if time_s - self._silent_from_s >= _OVER_S:
                self._tell_last()
            return
        self._silent_from_s = None
        tone, struck = self._take_in(time_s, pitch, level_db)
        too_soon = self.at if self._time_since(time_s) < _AGAIN_SHARE else None
        self._where.weigh(pitch, tone.says, struck, too_soon)
        self._find(tone)

    def _take_in(self, time_s: float, pitch: float, level_db: float) -> tuple[_Tone, float]:
        """The tone that the frame belongs to, and how surely it is struck here, 0 to 1."""
        tone = self._tone
        if tone is None:
            begun = self._begin_tone(_Tone(time_s, pitch, level_db))
            if self._stopped(time_s):
                self._where.begin_anywhere()
                self._onsets.clear()
            return begun, 1.0
        octave = is_octave_of(pitch, tone.pitch) and not self._is(self._next, pitch)
        if not octave and abs(pitch - tone.pitch) > _LEAVES:
            return self._begin_tone(_Tone(time_s, pitch, level_db)), 0.0
        dip_db = 0.0 if octave else tone.dip_db(level_db)
        if dip_db >= _DIP_DB:
            return self._begin_tone(_Tone(time_s, pitch, level_db)), 1.0
        tone.add(pitch, as_octave=octave)
        if abs(tone.pitch - tone.told) > _LEAVES:
            return self._begin_tone(_Tone(time_s, pitch, level_db)), 0.0
        due = _DUE[0] < self._time_since(time_s) < _DUE[1]
        return tone, min(1.0, dip_db / _DUE_DIP_DB) if due else 0.0

    def _begin_tone(self, tone: _Tone) -> _Tone:
        self._where.begin_tone()
        self._tone = tone
        return tone

    def _stopped(self, begin_s: float) -> bool:
        """Whether it is so late that he must have stopped."""
        if not self._onsets or self._next >= len(self._notes):
            return False
        number, then_s = self._onsets[-1]
        written_s = self._notes[self._next].on_s - self._notes[number].on_s
        return begin_s - then_s > _STOP_TIMES * written_s * self._tempo() + _STOP_S

    def _find(self, tone: _Tone) -> None:
        """Say where that is."""
        note, ahead = self._where.likeliest()
        goes_on = self.sure and note in (self.at, self._next)
        known = ahead >= (_STILL_SURE if goes_on else _SURE)
        if note is not None and known:
            if note != self.at and self._is(note, tone.pitch):
                self._go_to(note, tone)
            if note == self.at:
                self.sure, self.other = True, False
            return
        if len(tone.frames) < _HEARD:
            return
        if not self._waiting or self._waiting[-1] is not tone:
            self._waiting = [*self._waiting[1 - _LOST_AFTER :], tone]
        over = self._next >= len(self._notes)
        self.sure = self.sure and note is None and len(self._waiting) < _LOST_AFTER and not over
        self.other = self.sure

    def _go_to(self, number: int, tone: _Tone) -> None:
        self._tell_last()
        skipped = range(self._next, number)
        # The tone that had to be borne out first was the note before this one, or a wrong one.
        before = [one for one in self._waiting if one is not tone]
        was = before[-1].pitch if before else math.inf
        for one in skipped:
            wrong = len(skipped) == 1 and bool(before)
            heard = one == number - 1 and self._is(one, was)
            self._passed.append((one, "heard" if heard else "other" if wrong else "gone"))
        if self._onsets and number <= self._onsets[-1][0]:
            self._onsets.clear()
        self._onsets = [*self._onsets[-_TEMPO_OF:], (number, tone.begin_s)]
        self._waiting.clear()
        self.at, self._next, self._at_told = number, number + 1, False

    def _tell_last(self) -> None:
        """The note that sounded last is over."""
        if self.at is not None and not self._at_told:
            self._passed.append((self.at, "heard"))
            self._at_told = True

    def _time_since(self, time_s: float) -> float:
        """Since the note that sounded last, as a share of its time until the next one."""
        if not self._onsets or self._next >= len(self._notes):
            return math.inf
        number, then_s = self._onsets[-1]
        written_s = self._notes[self._next].on_s - self._notes[number].on_s
        lasts_s = written_s * self._tempo()
        return (time_s - then_s) / lasts_s if lasts_s > 0.0 else math.inf

    def _tempo(self, fastest: float = _FASTEST) -> float:
        """Seconds that were played for a second that is written; not less than ``fastest``."""
        rates = [
            (b_s - a_s) / written_s
            for (a, a_s), (b, b_s) in pairwise(self._onsets)
            if (written_s := self._notes[b].on_s - self._notes[a].on_s) > 0
        ]
        return min(max(median(rates), fastest), _SLOWEST) if rates else 1.0

    def _is(self, number: int, pitch: float) -> bool:
        return number < len(self._notes) and abs(pitch - self._notes[number].midi) < SAME
