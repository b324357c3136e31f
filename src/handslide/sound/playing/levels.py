"""How loud a part is along its paper, in dB from mezzo-forte: marks, hairpins, words.

A step of the dynamic marks is 4.5 dB, so that p and f lie 13.5 dB apart: within what wind players
make of them (measured ranges from p to f differ by player and pitch, about 10 to 20 dB). A hairpin
leads to the mark at its end, in equal parts of dB; without one, a step up or down.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

import numpy as np

from handslide.sound.playing.score import Mark

STEP_DB = 4.5
MARKS = ("pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff")
LEVEL_DB = {mark: STEP_DB * (place - MARKS.index("mf")) for place, mark in enumerate(MARKS)}
_LOWEST_DB, _HIGHEST_DB = -22.5, 18.0
_USUAL_Q, _MOST_Q = 8.0, 16.0  # of words whose end the score doesn't say
_NEAR_Q = 1.0  # how far behind a hairpin the mark may stand that it leads to
_EPS = 1e-6


class LevelCurve:
    """Levels in dB by written place; ``places`` (n,) and ``levels`` (n,) are its corners."""

    def __init__(self, marks: Sequence[Mark]) -> None:
        self.places, self.levels = [-1.0], [0.0]
        marks = sorted(marks, key=lambda one: (one.at_q, one.kind != "level"))
        for number, mark in enumerate(marks):
            if mark.kind == "level":
                self._step(mark.at_q, LEVEL_DB[mark.value])
            else:
                to_q, to_db = _goal(mark, marks[number + 1 :], self.at(mark.at_q))
                if to_q > mark.at_q + _EPS:
                    self._cut(mark.at_q)
                    self.places.append(to_q)
                    self.levels.append(to_db)

    def at(self, place_q: float) -> float:
        """The level of what begins at a place."""
        return float(np.interp(place_q + _EPS, self.places, self.levels))

    def along(self, from_q: float, to_q: float) -> tuple[tuple[float, float], ...]:
        """The level from one place to another as corners (share of the way, dB); one corner where
        it doesn't change."""
        start, end = self.at(from_q), float(np.interp(to_q - _EPS, self.places, self.levels))
        first, last = (
            bisect_right(self.places, from_q + _EPS),
            bisect_left(self.places, to_q - _EPS),
        )
        inner = [
            ((self.places[at] - from_q) / (to_q - from_q), self.levels[at])
            for at in range(first, last)
        ]
        if all(abs(level - start) < _EPS for _, level in (*inner, (1.0, end))):
            return ((0.0, start),)
        return ((0.0, start), *inner, (1.0, end))

    def _step(self, at_q: float, level_db: float) -> None:
        self._cut(at_q - _EPS / 2)
        self.places.append(at_q)
        self.levels.append(level_db)

    def _cut(self, at_q: float) -> None:
        """End what goes on at a place, with the level it has there."""
        level = float(np.interp(at_q, self.places, self.levels))
        while self.places[-1] > at_q:
            self.places.pop()
            self.levels.pop()
        self.places.append(at_q)
        self.levels.append(level)


def _goal(mark: Mark, later: Sequence[Mark], now_db: float) -> tuple[float, float]:
    """Where a hairpin or word ends, and the level it leads to."""
    up = mark.value == "crescendo"
    end_q = mark.end_q
    if end_q is None:
        following = next((one.at_q for one in later if one.at_q > mark.at_q + _EPS), np.inf)
        end_q = following if following - mark.at_q <= _MOST_Q else mark.at_q + _USUAL_Q
    for one in later:
        if one.kind == "level" and one.at_q > mark.at_q + _EPS:
            goal_db = LEVEL_DB[one.value]
            near = one.at_q <= end_q + _NEAR_Q
            if near and (goal_db > now_db) == up and goal_db != now_db:
                return min(end_q, one.at_q), goal_db
            break
    goal_db = now_db + (STEP_DB if up else -STEP_DB)
    return end_q, min(max(goal_db, _LOWEST_DB), _HIGHEST_DB)


def level_curves(marks: Sequence[Mark]) -> dict[str | None, LevelCurve]:
    """The curve of each staff; under None that of all, where they aren't marked apart."""
    staffs = {mark.staff for mark in marks if mark.staff is not None}
    whole = LevelCurve(marks)
    if len(staffs) < 2:
        return {None: whole}
    curves: dict[str | None, LevelCurve] = {None: whole}
    for staff in staffs:
        curves[staff] = LevelCurve([one for one in marks if one.staff in (None, staff)])
    return curves
