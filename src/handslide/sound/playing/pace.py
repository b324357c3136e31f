"""When each place of a score sounds: ritardandi, accelerandi, fermatas, caesuras and swing.

A ritardando follows Friberg & Sundberg, "Does music performance allude to locomotion? A model of
final ritardandi derived from measurements of stopping runners", J. Acoust. Soc. Am. 105 (1999)
1469: the tempo at the share ``x`` of its way, beside that at its beginning, is
``v(x) = (1 + (v_end^q - 1) x)^(1/q)``. q = 2 is a constant force of braking, q = 3 a constant
power, which is taken here; an accelerando takes the same curve upwards. Its time is the integral of
1/v, in closed form. How far it goes (`ENDS`) is our choice, weaker within a piece than at its end.

The short note of swung eighths lasts about 0.1 s at medium and quick tempos (Friberg & Sundström,
"Swing ratios and ensemble timing in jazz performance", Music Perception 19 (2002) 333), so that the
ratio falls with the tempo, to 1 at 300 beats a minute. At slower ones they measured up to 3.5 for
cymbals and much less for soloists: here it stays at the 2 of the triplet that the word is explained
by.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

import numpy as np

from handslide.sound.playing.score import Course, Fermata, Floats, Mark, Timing

CURVE = 3.0
ENDS = {
    ("slower", "poco"): 0.8, ("slower", ""): 0.65, ("slower", "molto"): 0.5,
    ("quicker", "poco"): 1.12, ("quicker", ""): 1.3, ("quicker", "molto"): 1.5,
}  # fmt: skip
FINAL_END = 0.5
"""Of a ritardando that leads to the end of a movement and isn't called little."""
SHORT_S, MOST_RATIO = 0.1, 2.0
HELD = {"angled": 0.5, "double-angled": 0.5, "square": 1.5, "double-square": 1.5}
"""How much longer a fermata makes a note, beside its own length; 1 for all other shapes."""
HELD_MOST_Q = 2.0
"""A longer note under a fermata is held no longer than one of this length."""
CAESURA_Q = 0.5
_USUAL_Q, _MOST_Q = 8.0, 16.0  # of a change whose end the score doesn't say
_STEPS = (0.2, 5.0)
_EPS = 1e-6


class Change(NamedTuple):
    """A ritardando or accelerando over a stretch of paper, to ``end`` times the tempo."""

    from_q: float
    to_q: float
    end: float


class Pause(NamedTuple):
    """Time that stands still at a played place; ``held``: what ends there sounds through it."""

    at_p: float
    length_s: float
    held: bool


class _Piece(NamedTuple):
    """What is played of a change: its places, its shares of the way, the metronome's seconds."""

    begin_p: float
    end_p: float
    from_x: float
    to_x: float
    seconds: float
    end: float


def ritard_time(share: Floats | float, end: float) -> Floats:
    """The time up to a share of the way, beside that of all the way in the tempo of its beginning:
    the integral of 1 / v."""
    slope = end**CURVE - 1.0
    if abs(slope) < _EPS:
        return np.asarray(share, np.float64)
    power = 1.0 - 1.0 / CURVE
    return np.asarray(((1.0 + slope * np.asarray(share)) ** power - 1.0) / (slope * power))


def swing_ratio(beat_s: float) -> float:
    """Long to short of two swung notes that last ``beat_s`` together."""
    return min(MOST_RATIO, max(1.0, beat_s / SHORT_S - 1.0))


def tempo_changes(timing: Timing) -> list[Change]:
    """How far each ritardando or accelerando goes, and where to.

    To its dashes' end, else to the next word or mark of a tempo, the end of a movement or the next
    fermata, where these come within 16 quarter notes; else for eight. A tempo mark in the same
    direction is what it leads to.
    """
    places = sorted({mark.at_q for mark in timing.words} | {at_q for at_q, _ in timing.tempos})
    found = []
    for mark in timing.words:
        if mark.value not in ("slower", "quicker"):
            continue
        stops = [q for q in (*places, *timing.ends) if q > mark.at_q + _EPS]
        stops += [one.end_q for one in timing.fermatas if one.end_q > mark.at_q + _EPS]
        to_q = min(stops, default=np.inf)
        if mark.end_q is not None:
            to_q = min(to_q, max(mark.end_q, mark.at_q))
        if to_q - mark.at_q > _MOST_Q:
            to_q = mark.at_q + _USUAL_Q
        if to_q > mark.at_q + _EPS:
            found.append(Change(mark.at_q, to_q, _end_of(mark, to_q, timing)))
    return found


def _end_of(mark: Mark, to_q: float, timing: Timing) -> float:
    usual = ENDS[mark.value, mark.strength]
    before = next((qpm for q, qpm in reversed(timing.tempos) if q <= mark.at_q + _EPS), None)
    after = next((qpm for q, qpm in timing.tempos if abs(q - to_q) < 1e-3), None)
    if before is not None and after is not None:
        step = after / before
        if _STEPS[0] < step < _STEPS[1] and (step < 1.0) == (usual < 1.0) and step != 1.0:
            return step
    final = mark.value == "slower" and any(abs(one - to_q) < 1e-3 for one in timing.ends)
    return min(usual, FINAL_END) if final and mark.strength != "poco" else usual


def fermata_ends(fermatas: Sequence[Fermata]) -> list[Fermata]:
    """One of those that stand over the same time in several parts: it ends with the last."""
    found: list[Fermata] = []
    for one in sorted(fermatas):
        if found and one.begin_q < found[-1].end_q - _EPS:
            last = found[-1]
            found[-1] = Fermata(last.begin_q, max(last.end_q, one.end_q), last.shape)
        elif not found or one != found[-1]:
            found.append(one)
    return found


@dataclass(frozen=True, slots=True)
class _Swung:
    """From which written place on, at which ratio (0: by the tempo), which note is swung."""

    at_q: float
    ratio: float
    unit_q: float


class Pace:
    """From played places to seconds of a performance at the tempo of the score.

    Parameters
    ----------
    course, timing
        The score; an empty `Timing` plays it as a metronome would.
    speed : float
        How much quicker than the score it will be played: swing depends on it.
    """

    def __init__(self, course: Course, timing: Timing, speed: float = 1.0) -> None:
        self._course, self._timing, self._speed = course, timing, speed
        self.changes = tempo_changes(timing)
        self._pieces = sorted(
            piece for change in self.changes for piece in _pieces_of(course, change)
        )
        self._swung = [_Swung(one.at_q, one.ratio, one.unit_q) for one in timing.swings]
        self._gained = _sums(_gain(piece, piece.end_p) for piece in self._pieces)
        self.pauses = sorted(self._find_pauses())
        self._waits = _sums(one.length_s for one in self.pauses)
        self._holds = _sums(one.length_s * one.held for one in self.pauses)

    def onset(self, place_p: float, place_q: float) -> float:
        """When something begins that stands at both places."""
        place_p += self.swing(place_q)
        return self._moving(place_p) + self._waits[self._pauses_up_to(place_p + _EPS)]

    def until(self, place_p: float, place_q: float) -> float:
        """When something ends: a fermata holds it, a caesura doesn't."""
        place_p += self.swing(place_q)
        before = self._pauses_up_to(place_p - _EPS)
        held_s = self._holds[self._pauses_up_to(place_p + _EPS)] - self._holds[before]
        return self._moving(place_p) + self._waits[before] + held_s

    def _pauses_up_to(self, place_p: float) -> int:
        return bisect_right(self.pauses, place_p, key=lambda one: one.at_p)

    def swing(self, place_q: float) -> float:
        """By how many quarters swing moves what is written at a place.

        Only what divides the beat by two and four is swung: triplets stay.
        """
        index = bisect_right(self._swung, place_q + _EPS, key=lambda one: one.at_q) - 1
        if index < 0 or self._swung[index].ratio == 1.0:
            return 0.0
        swung, measures = self._swung[index], self._timing.measures
        measure = bisect_right(measures, place_q + _EPS, key=lambda one: one[0]) - 1
        if measure < 0 or not measures[measure][2]:
            return 0.0
        pair_q = 2.0 * swung.unit_q
        place = ((place_q - measures[measure][1]) / pair_q) % 1.0
        if abs(place * 4.0 - round(place * 4.0)) > 0.02:
            return 0.0
        ratio = swung.ratio or swing_ratio(pair_q * self._quarter_s(place_q))
        long = ratio / (ratio + 1.0)
        moved = place * 2.0 * long if place <= 0.5 else long + (place - 0.5) * 2.0 * (1.0 - long)
        return 0.0 if place > 1.0 - 1e-3 else (moved - place) * pair_q

    def _quarter_s(self, place_q: float) -> float:
        tempos = self._timing.tempos
        index = bisect_right(tempos, place_q + _EPS, key=lambda one: one[0]) - 1
        return 60.0 / tempos[max(0, index)][1] / self._speed if tempos else 60.0 / 80.0

    def _moving(self, place_p: float) -> float:
        """Seconds at a place without the pauses."""
        at_s = float(self._course.seconds([place_p])[0])
        begun = bisect_right(self._pieces, place_p, key=lambda one: one.begin_p)
        if begun == 0:
            return at_s
        # They follow one another: only the last that has begun may not be over.
        return at_s + self._gained[begun - 1] + _gain(self._pieces[begun - 1], place_p)

    def _find_pauses(self) -> list[Pause]:
        found = []
        for one in fermata_ends(self._timing.fermatas):
            for end_p in self._course.ends(one.end_q):
                begin_p = end_p - min(one.end_q - one.begin_q, HELD_MOST_Q)
                long_s = self._moving(end_p) - self._moving(begin_p)
                if one.end_q == one.begin_q:
                    long_s = self._moving(end_p) - self._moving(end_p - 1.0)
                held = one.end_q > one.begin_q
                found.append(Pause(end_p, HELD.get(one.shape, 1.0) * long_s, held))
        for at_q in self._timing.caesuras:
            for at_p in self._course.ends(at_q):
                wait_s = self._moving(at_p) - self._moving(at_p - CAESURA_Q)
                found.append(Pause(at_p, wait_s, held=False))
        return found


def _gain(piece: _Piece, place_p: float) -> float:
    """By how many seconds a change of tempo has moved a place at or behind its beginning."""
    gone = min(1.0, (place_p - piece.begin_p) / (piece.end_p - piece.begin_p))
    way = piece.to_x - piece.from_x
    time = ritard_time(piece.from_x + gone * way, piece.end) - ritard_time(piece.from_x, piece.end)
    return piece.seconds * (float(time) / way - gone)


def _sums(values: Iterable[float]) -> list[float]:
    """The sums of the first none, one, two … of the values."""
    return [0.0, *accumulate(values)]


def _pieces_of(course: Course, change: Change) -> list[_Piece]:
    found = []
    long_q = change.to_q - change.from_q
    for begin_p, end_p, first_q in course.pieces(change.from_q, change.to_q):
        from_x = (first_q - change.from_q) / long_q
        ends_s = course.seconds([begin_p, end_p])
        to_x = from_x + (end_p - begin_p) / long_q
        found.append(_Piece(begin_p, end_p, from_x, to_x, float(ends_s[1] - ends_s[0]), change.end))
    return found
