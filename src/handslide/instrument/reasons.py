"""Why a note was given its place, in a sentence a teacher would say.

A note away from its usual or its shortest-slide place has a reason. It is built from the terms of
effort by which the best route through that place is worse than the route chosen.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.ground.pitch import Pitch
from handslide.instrument.effort import PEAK_SPEED, Spots, route_terms, timing
from handslide.instrument.marks import ordinal, place_words
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
_FAST_M_S = 2.0
_NEAR_M = 0.02
_LESS = "the line as a whole moves less so"


@dataclass(frozen=True, slots=True)
class Reasons:
    """Sentences about one solution; ``pitches`` are those of its line, for their names."""

    solution: Solution
    book: PlaceBook
    pitches: Sequence[Pitch]
    locked: frozenset[int] = frozenset()

    def of(self, note: int) -> str | None:
        """The reason for a note's place; None for its usual, shortest-slide place."""
        options = self.solution.choices.places[note]
        chosen = options[self.solution.chosen[note]]
        if note in self.locked:
            return f"{place_words(chosen)}, as locked"
        rival = self._rival(note, chosen)
        unlearned = self._unlearned(note, shortest(options))
        if rival == chosen:
            return f"{place_words(chosen)}, because {unlearned}" if unlearned else None
        choice = options.index(rival)
        if self.solution.worse_by[note, choice] <= 1e-9:
            return f"{place_words(chosen)}; {place_words(rival)} would do as well"
        if self._in_glissando(note) and self.solution.worse_by[note, choice] > 1e9:
            return f"{place_words(chosen)}, because the glissando must stay on one partial"
        return f"{place_words(chosen)}, because {self._because(note, choice, chosen, rival)}"

    def against(self, note: int, place: Place) -> str:
        """Why a note of the route hasn't another of its places."""
        options = self.solution.choices.places[note]
        choice = options.index(place)
        worse_by = self.solution.worse_by[note, choice]
        if worse_by <= 1e-9:
            return f"{place_words(place)} would do as well"
        if worse_by > 1e9:
            return "the glissando must stay on one partial"
        chosen = options[self.solution.chosen[note]]
        text = self._because(note, choice, chosen, place)
        return (
            f"with {place_words(place)} the line as a whole moves more" if text == _LESS else text
        )

    def _rival(self, note: int, chosen: Place) -> Place:
        """What a place is compared with: the note's usual place, else its shortest."""
        usual = usual_place(self.solution.choices, note)
        if usual != chosen:
            return usual
        return shortest(self.solution.choices.places[note])

    def _unlearned(self, note: int, short: Place) -> str | None:
        for place in self.book.out_of_limits(self.pitches[note].midi):
            shorter = place.extension_m < short.extension_m - SAME_SPOT_M
            if shorter and not self.book.limits.learned_all(place.valves):
                return f"{place_words(place)} needs a valve that isn't learned yet"
        return None

    def _in_glissando(self, note: int) -> bool:
        gliss = self.solution.choices.line.gliss
        return bool(gliss[note] or (note > 0 and gliss[note - 1]))

    def _because(self, note: int, choice: int, chosen: Place, short: Place) -> str:
        low, other = self.solution.through(note, choice)
        saved = self._saved(low, other)
        best = max(saved, key=lambda group: saved[group])
        neighbours = _Neighbours.around(self, note)
        if best == "slur":
            return f"{place_words(short)} would smear the slur"
        if best == "repeat":
            return "the repeated note keeps its place"
        if best == "lip":
            return f"in {place_words(short)} it is {short.lip_cents:.0f} cents flat"
        if best == "between":
            return f"{place_words(short)} falls between two positions"
        if best == "partial":
            return f"the {ordinal(short.partial)} partial in {place_words(short)} is less sure"
        if best == "plain":
            return f"{place_words(short)} is an alternate that has to be looked for"
        if best == "sound" and short.valves:
            return f"the note sounds freer without the valve than in {place_words(short)}"
        if best == "second":
            return f"the first valve is surer than {place_words(short)}"
        if best == "valve":
            return f"the valve needn't move; {place_words(short)} would need it to"
        if best == "move":
            return neighbours.sentence(chosen, short)
        return _LESS

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
    name_before: str
    name_after: str
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
            pitches[note - 1].pretty if note > 0 else "",
            pitches[note + 1].pretty if note + 1 < len(chosen) else "",
            float(reasons.solution.when.move_s[note - 1]) if note > 0 else 1.0,
        )

    def sentence(self, chosen: Place, short: Place) -> str:
        """The clause about the move that decided it: the one before or the one after the note."""
        gain_before = _apart(self.before, short) - _apart(self.before, chosen)
        gain_after = _apart(self.after, short) - _apart(self.after, chosen)
        if self.before is not None and gain_before >= gain_after:
            return self._coming(chosen, short)
        if self.after is not None and gain_after > 0:
            return self._going(chosen, short)
        return _LESS

    def _coming(self, chosen: Place, short: Place) -> str:
        assert self.before is not None
        step = chosen.extension_m - self.before.extension_m
        other = short.extension_m - self.before.extension_m
        onward = self.earlier is not None and (
            (self.before.extension_m - self.earlier.extension_m) * step > 0
        )
        would = f"in {place_words(short)} the slide would"
        back = step * other < 0
        far = f"{100 * abs(other):.0f} cm"
        if abs(other) / self.time_before_s * PEAK_SPEED > _FAST_M_S:
            far += f" at {abs(other) / self.time_before_s * PEAK_SPEED:.1f} m/s"
        if onward and back:
            way = "out" if step > 0 else "in"
            return f"the line is already moving {way}; {would} turn back {far}"
        if abs(step) < _NEAR_M:
            return f"the slide stays where it was for {self.name_before}; {would} travel {far}"
        return (
            f"it is {100 * abs(step):.0f} cm from {self.name_before}; "
            f"{would} {'come back' if back and other < 0 else 'travel'} {far}"
        )

    def _going(self, chosen: Place, short: Place) -> str:
        assert self.after is not None
        step = abs(self.after.extension_m - chosen.extension_m)
        other = abs(self.after.extension_m - short.extension_m)
        where = place_words(self.after)
        if step < _NEAR_M:
            near = f"the slide can stay for {self.name_after}"
        else:
            near = f"{self.name_after} in {where} comes next, {100 * step:.0f} cm away"
        return f"{near}; from {place_words(short)} it would be {100 * other:.0f} cm"


def _apart(one: Place | None, other: Place) -> float:
    return 0.0 if one is None else abs(one.extension_m - other.extension_m)
