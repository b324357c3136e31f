"""Following a part while it sounds: which of its notes is played now, from pitch and time.

A tone is taken for the note after the last one that matched. Whatever else sounds has to be borne
out by the tone after it before the place moves on, and where nothing bears it out the place is
unknown: who looks at it is told nothing rather than something wrong.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

# A tone within this many semitones of a note is that note, badly in tune.
_SAME = 0.65
# Frames this far from the tone that sounds begin another one, once two of them agree; or, where the
# slide is heard going there, once the tone itself has gone so far from where it was at first.
_LEAVES = 0.6
_FIRST, _LATEST, _NEW = 40, 7, 4  # frames
_SETTLED_S = 0.05
# A tone that still moves has no pitch yet: it isn't told before it moves less than this, or so late.
_CALM, _TOLD_S = 0.25, 0.2
# A gap of this length ends a tone; a fall of the level by this much and back is a new stroke.
_GAP_S = 0.035
_DIP_DB = 7.0
_OVER_S = 0.25
# Later than so many times the written time, and so much more: he has stopped.
_STOP_TIMES, _STOP_S = 2.0, 2.0
# A note struck again comes after at least this share of the time that it is written for.
_AGAIN_SHARE = 0.45
_SLOWEST, _FASTEST = 2.5, 0.4
_TEMPO_OF = 5
_SKIPPED = 3
_LOST_AFTER = 3
# Where three tones in a row fit again, this near to where it was lost, it goes on from there.
_BACK, _AHEAD = 60, 60


@dataclass(frozen=True, slots=True)
class PartNote:
    """A note in playing order: its MIDI number and when it is written to begin, in seconds."""

    midi: int
    on_s: float


@dataclass(slots=True)
class _Tone:
    begin_s: float
    frames: list[float] = field(default_factory=list)
    peak_db: float = -math.inf
    dipped: bool = False
    told: float | None = None
    """The pitch that it was first taken for."""

    @property
    def pitch(self) -> float:
        return median(self.frames[-_LATEST:])

    @property
    def gone(self) -> bool:
        """Whether it became another tone on the way."""
        first = self.frames[:_FIRST]
        return self.told is not None and abs(self.pitch - median(first)) > _LEAVES

    @property
    def calm(self) -> bool:
        latest = self.frames[-_NEW:]
        return max(latest) - min(latest) < _CALM

    def settled(self, time_s: float) -> bool:
        return time_s - self.begin_s >= (_SETTLED_S if self.calm else _TOLD_S)


class LiveFollower:
    """Where in a part a player is. Frames in, by `push`; everything else is there to be read.

    ``at`` is the note that sounds or sounded last, None before the first; ``sure`` is False where
    the place isn't known any more, ``other`` True while a tone sounds that isn't the next note.
    ``passed`` holds what `take_passed` hasn't given yet.
    """

    def __init__(self, notes: Sequence[PartNote], first: int = 0) -> None:
        self._notes = tuple(notes)
        self.begin(first)

    def begin(self, first: int = 0) -> None:
        """The next note is ``first``; whatever was heard until now is forgotten."""
        self.at: int | None = None
        self.sure = True
        self.other = False
        self.sounds = False
        self._next = first
        self._tone: _Tone | None = None
        self._away: list[tuple[float, float]] = []
        self._silent_from_s: float | None = None
        self._at_told = False
        self._pending: list[tuple[float, float]] = []
        self._onsets: list[tuple[int, float]] = []
        self._last: list[float] = []
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
            self._away.clear()
            self._silent_from_s = time_s if self._silent_from_s is None else self._silent_from_s
            if time_s - self._silent_from_s >= _GAP_S:
                self._tone, self.sounds, self.other = None, False, False
            if time_s - self._silent_from_s >= _OVER_S:
                self._tell_last()
            return
        self._silent_from_s = None
        self.sounds = True
        tone = self._tone
        if tone is None:
            tone = self._tone = _Tone(time_s)
        elif abs(pitch - tone.pitch) > _LEAVES:
            self._away.append((time_s, pitch))
            if len(self._away) < 2 or abs(self._away[-1][1] - self._away[-2][1]) > _LEAVES:
                return
            tone = self._tone = _Tone(self._away[-2][0], [self._away[-2][1]])
        elif self._struck_again(tone, level_db):
            tone = self._tone = _Tone(time_s)
        self._away.clear()
        tone.frames.append(pitch)
        tone.peak_db = max(tone.peak_db, level_db)
        if tone.gone:
            tone = self._tone = _Tone(time_s, tone.frames[-_NEW:], level_db)
        if tone.told is None:
            if tone.settled(time_s):
                tone.told = tone.pitch
                self._take_in(tone.pitch, tone.begin_s)
        elif self.other and tone.calm and self._became_next(tone):
            tone.told = tone.pitch
            self._last.pop()
            self._take_in(tone.pitch, tone.begin_s)

    def _became_next(self, tone: _Tone) -> bool:
        """Whether what was taken for another note was the slide on its way to the next one."""
        return self._is(self._next, tone.pitch) and not self._is(self._next, tone.told or 0.0)

    def _struck_again(self, tone: _Tone, level_db: float) -> bool:
        """Whether the level fell and came back within one tone."""
        if level_db < tone.peak_db - _DIP_DB:
            tone.dipped = True
        return tone.dipped and tone.told is not None and level_db > tone.peak_db - 0.5 * _DIP_DB

    def _take_in(self, pitch: float, begin_s: float) -> None:
        """Find the place of a tone that has settled."""
        self._last = [*self._last[-2:], pitch]
        if self.sure and self._stopped(begin_s):
            # After a stop one may begin anywhere.
            self.sure, self._last = False, [pitch]
            self._pending.clear()
        if not self.sure:
            self._find_again(begin_s)
            return
        # Struck again too early, or wavering: it is still the note that it was.
        if self.at is not None and not self._pending and self._is(self.at, pitch):
            nearer = not self._is(self._next, pitch) or (
                abs(pitch - self._midi(self.at)) < abs(pitch - self._midi(self._next))
            )
            same = self._is_same(self.at, self._next)
            if nearer or (same and not self._late_enough(begin_s)):
                self.other = False
                return
        if self._is(self._next, pitch):
            self._go_to(self._next, begin_s)
        elif (there := self._borne_out(pitch)) is not None:
            self._go_to(there, begin_s)
        elif self._unsplit(pitch):
            self._go_to(self._next + 1, begin_s)
        else:
            self._wait(pitch, begin_s)

    def _stopped(self, begin_s: float) -> bool:
        """Whether it is so late that he must have stopped."""
        if not self._onsets or self._next >= len(self._notes):
            return False
        number, then_s = self._onsets[-1]
        written_s = self._notes[self._next].on_s - self._notes[number].on_s
        return begin_s - then_s > _STOP_TIMES * written_s * self._tempo() + _STOP_S

    def _borne_out(self, pitch: float) -> int | None:
        """Where this tone is if the one before it was a wrong note, or leapt ahead."""
        if not self._pending:
            return None
        before, _ = self._pending[-1]
        for number in range(self._next + 1, self._next + 2 + _SKIPPED):
            wrong = number == self._next + 1 and len(self._pending) == 1
            if self._is(number, pitch) and (wrong or self._is(number - 1, before)):
                return number
        return None

    def _unsplit(self, pitch: float) -> bool:
        """Two notes of one pitch ran together, and this is the one after them."""
        return (
            self.at is not None
            and self._is_same(self.at, self._next)
            and self._is(self._next + 1, pitch)
        )

    def _wait(self, pitch: float, begin_s: float) -> None:
        self._pending.append((pitch, begin_s))
        self.other = True
        if len(self._pending) >= _LOST_AFTER or self._next >= len(self._notes):
            self.sure = False
            self.other = False
            self._pending.clear()
            self._find_again(begin_s)

    def _go_to(self, number: int, begin_s: float) -> None:
        self._tell_last()
        skipped = range(self._next, number)
        # The tone that had to be borne out first was the note before this one, or a wrong one.
        was = self._pending[-1][0] if self._pending else math.inf
        for one in skipped:
            wrong = len(skipped) == 1 and bool(self._pending)
            heard = one == number - 1 and self._is(one, was)
            self._passed.append((one, "heard" if heard else "other" if wrong else "gone"))
        self._onsets = [*self._onsets[-_TEMPO_OF:], (number, begin_s)]
        self._pending.clear()
        self.at, self._next, self._at_told = number, number + 1, False
        self.sure, self.other = True, False

    def _tell_last(self) -> None:
        """The note that sounded last is over."""
        if self.at is not None and not self._at_told:
            self._passed.append((self.at, "heard"))
            self._at_told = True

    def _find_again(self, begin_s: float) -> None:
        """Three tones in a row that fit in one place only, near by: there it is."""
        if len(self._last) < 3:
            return
        here = self._next
        found = [
            number
            for number in range(max(2, here - _BACK), min(len(self._notes), here + _AHEAD))
            if all(self._is(number - 2 + k, pitch) for k, pitch in enumerate(self._last))
        ]
        if len(found) == 1:
            self._onsets.clear()
            self._next = found[0]
            self._go_to(found[0], begin_s)

    def _late_enough(self, begin_s: float) -> bool:
        """Whether the next note may have begun, from the written times and the tempo so far."""
        if not self._onsets:
            return True
        number, then_s = self._onsets[-1]
        written_s = self._notes[self._next].on_s - self._notes[number].on_s
        return begin_s - then_s >= _AGAIN_SHARE * written_s * self._tempo()

    def _tempo(self, fastest: float = _FASTEST) -> float:
        """Seconds that were played for a second that is written; not less than ``fastest``."""
        rates = [
            (b_s - a_s) / written_s
            for (a, a_s), (b, b_s) in pairwise(self._onsets)
            if (written_s := self._notes[b].on_s - self._notes[a].on_s) > 0
        ]
        return min(max(median(rates), fastest), _SLOWEST) if rates else 1.0

    def _midi(self, number: int) -> float:
        return self._notes[number].midi if 0 <= number < len(self._notes) else math.inf

    def _is(self, number: int, pitch: float) -> bool:
        return abs(pitch - self._midi(number)) < _SAME

    def _is_same(self, one: int, other: int) -> bool:
        return self._midi(one) == self._midi(other)
