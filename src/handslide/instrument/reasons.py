"""Why a note was given its place: the one thing that a teacher would name.

A note away from its usual or its shortest-slide place has a reason. It is built from the terms of
effort by which the best route through that place is worse than the route chosen.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.ground.pitch import Pitch
from handslide.instrument.effort import PEAK_SPEED, Spots, route_terms, timing
from handslide.instrument.places import SAME_SPOT_M, Place, PlaceBook, shortest
from handslide.instrument.route import Solution, usual_place

# Terms that a teacher would name in one breath.
_GROUPS = {
    "distance": "move", "speed": "move", "jolt": "move", "turn": "move", "valve": "valve",
    "colour": "sound", "second": "second", "high": "sound", "pedal": "sound", "lip": "lip",
    "between": "between", "partial": "partial", "alternate": "plain",
    "seek": "plain", "first": "plain", "far": "far", "smear": "slur", "slur": "slur",
    "repeat": "repeat",
}  # fmt: skip
# What decided, where one group of terms says it all.
_BY_GROUP = {
    "slur": "smears", "repeat": "repeated", "lip": "flat", "between": "between",
    "partial": "unsure", "plain": "looked_for", "second": "first_valve", "valve": "valve_stays",
}  # fmt: skip
_FAST_M_S = 2.0
_NEAR_M = 0.02


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a note lies in ``place`` and not in ``rival``; ``kind`` is one of those in `KINDS`.

    Where a move decided it, ``neighbour`` is the note before or after, in ``neighbour_place``;
    ``way_m`` and ``rival_way_m`` are how far the slide goes between that note and the place or the
    rival (of moves to the note: out positive), ``rival_speed_m_s`` the peak speed of the rival's
    move where it is a quick one.
    """

    kind: str
    place: Place
    rival: Place | None = None
    neighbour: Pitch | None = None
    neighbour_place: Place | None = None
    way_m: float = 0.0
    rival_way_m: float = 0.0
    rival_speed_m_s: float | None = None


KINDS = (
    "locked", "unlearned", "would_do", "glissando", "smears", "repeated", "flat", "between",
    "unsure", "looked_for", "freer", "first_valve", "valve_stays", "moving_out", "moving_in",
    "stays", "nearer", "can_stay", "next_nearer", "moves_less",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reasons:
    """Reasons of one solution; ``pitches`` are those of its line, for their names."""

    solution: Solution
    book: PlaceBook
    pitches: Sequence[Pitch]
    locked: frozenset[int] = frozenset()

    def of(self, note: int) -> Reason | None:
        """The reason for a note's place; None for its usual, shortest-slide place."""
        options = self.solution.choices.places[note]
        chosen = options[self.solution.chosen[note]]
        if note in self.locked:
            return Reason("locked", chosen)
        rival = self._rival(note, chosen)
        if rival != chosen:
            return self._compared(note, options.index(rival))
        unlearned = self._unlearned(note, shortest(options))
        return None if unlearned is None else Reason("unlearned", chosen, unlearned)

    def against(self, note: int, place: Place) -> Reason:
        """Why a note of the route hasn't another of its places."""
        return self._compared(note, self.solution.choices.places[note].index(place))

    def _compared(self, note: int, choice: int) -> Reason:
        options = self.solution.choices.places[note]
        chosen, rival = options[self.solution.chosen[note]], options[choice]
        worse_by = self.solution.worse_by[note, choice]
        if worse_by <= 1e-9:
            return Reason("would_do", chosen, rival)
        if self._in_glissando(note) and worse_by > 1e9:
            return Reason("glissando", chosen, rival)
        return self._because(note, choice, chosen, rival)

    def _rival(self, note: int, chosen: Place) -> Place:
        """What a place is compared with: the note's usual place, else its shortest."""
        usual = usual_place(self.solution.choices, note)
        if usual != chosen:
            return usual
        return shortest(self.solution.choices.places[note])

    def _unlearned(self, note: int, short: Place) -> Place | None:
        """A nearer place that the note would have with a valve that isn't learned yet."""
        for place in self.book.out_of_limits(self.pitches[note].midi):
            shorter = place.extension_m < short.extension_m - SAME_SPOT_M
            if shorter and not self.book.limits.learned_all(place.valves):
                return place
        return None

    def _in_glissando(self, note: int) -> bool:
        gliss = self.solution.choices.line.gliss
        return bool(gliss[note] or (note > 0 and gliss[note - 1]))

    def _because(self, note: int, choice: int, chosen: Place, rival: Place) -> Reason:
        low, other = self.solution.through(note, choice)
        saved = self._saved(low, other)
        best = max(saved, key=lambda group: saved[group])
        if best == "move":
            return _Neighbours.around(self, note).reason(chosen, rival)
        if best == "sound" and rival.valves:
            return Reason("freer", chosen, rival)
        return Reason(_BY_GROUP.get(best, "moves_less"), chosen, rival)

    def _saved(self, low: int, other: NDArray[np.intp]) -> dict[str, float]:
        """Points by which the other route is worse, by group of terms."""
        first = max(0, low - 2)
        last = min(len(self.solution.chosen), low + len(other) + 2)
        window = np.arange(first, last)
        ours = self.solution.chosen[window]
        theirs = ours.copy()
        theirs[low - first : low - first + len(other)] = other
        saved: dict[str, float] = {}
        for sign, route in ((1.0, theirs), (-1.0, ours)):
            for name, points in self._terms(window, route).items():
                group = _GROUPS[name]
                saved[group] = saved.get(group, 0.0) + sign * points
        return saved

    def _terms(self, window: NDArray[np.intp], route: NDArray[np.intp]) -> Mapping[str, float]:
        line = self.solution.choices.line.only(window)
        at: Spots = self.solution.choices.at.take((window, route))
        profile = self.solution.profile
        when = timing(profile, line)
        parts = route_terms(profile, line, at, when, begins=window[0] == 0)
        return {name: float(points.sum()) for part in parts for name, points in part.items()}


@dataclass(frozen=True, slots=True)
class _Neighbours:
    """The places before and after a note on our route, with the pitches and times there."""

    earlier: Place | None
    before: Place | None
    after: Place | None
    pitch_before: Pitch | None
    pitch_after: Pitch | None
    time_before_s: float

    @classmethod
    def around(cls, reasons: Reasons, note: int) -> "_Neighbours":
        places = reasons.solution.choices.places
        chosen = reasons.solution.chosen

        def place(index: int) -> Place | None:
            return places[index][chosen[index]] if 0 <= index < len(chosen) else None

        pitches = reasons.pitches
        return cls(
            place(note - 2),
            place(note - 1),
            place(note + 1),
            pitches[note - 1] if note > 0 else None,
            pitches[note + 1] if note + 1 < len(chosen) else None,
            float(reasons.solution.when.move_s[note - 1]) if note > 0 else 1.0,
        )

    def reason(self, chosen: Place, rival: Place) -> Reason:
        """The move that decided it: the one before or the one after the note."""
        gain_before = _apart(self.before, rival) - _apart(self.before, chosen)
        gain_after = _apart(self.after, rival) - _apart(self.after, chosen)
        if self.before is not None and gain_before >= gain_after:
            return self._coming(chosen, rival)
        if self.after is not None and gain_after > 0:
            return self._going(chosen, rival)
        return Reason("moves_less", chosen, rival)

    def _coming(self, chosen: Place, rival: Place) -> Reason:
        assert self.before is not None
        step = chosen.extension_m - self.before.extension_m
        other = rival.extension_m - self.before.extension_m
        onward = self.earlier is not None and (
            (self.before.extension_m - self.earlier.extension_m) * step > 0
        )
        if onward and step * other < 0:
            kind = "moving_out" if step > 0 else "moving_in"
        else:
            kind = "stays" if abs(step) < _NEAR_M else "nearer"
        speed_m_s = abs(other) / self.time_before_s * PEAK_SPEED
        return Reason(
            kind,
            chosen,
            rival,
            self.pitch_before,
            self.before,
            step,
            other,
            speed_m_s if speed_m_s > _FAST_M_S else None,
        )

    def _going(self, chosen: Place, rival: Place) -> Reason:
        assert self.after is not None
        step = abs(self.after.extension_m - chosen.extension_m)
        other = abs(self.after.extension_m - rival.extension_m)
        kind = "can_stay" if step < _NEAR_M else "next_nearer"
        return Reason(kind, chosen, rival, self.pitch_after, self.after, step, other)


def _apart(one: Place | None, other: Place) -> float:
    return 0.0 if one is None else abs(one.extension_m - other.extension_m)
