"""Why a note was given its place: the one thing that a teacher would name.

A note away from its plain place has a reason. The route is compared with the best whole route
through the plain place, with that route's own neighbours; the reason is what saves most on ours,
and it is given only where it is true of both.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.ground.pitch import Pitch
from handslide.instrument.effort import FORBIDDEN, Floats, route_terms, timing
from handslide.instrument.places import Place, PlaceBook
from handslide.instrument.rivalry import Reason, Rivalry
from handslide.instrument.route import NEAR_TIE, Solution, usual_place

# Every term of effort with its group: what a teacher would name in one breath.
GROUPS: Mapping[str, str] = {
    "distance_per_m": "move", "speed_per_m2_s2": "move", "jolt_per_m2_s4": "move",
    "turn_per_m": "move", "valve_move": "valve", "valve_swap": "valve", "far_per_m2": "far",
    "seventh": "far", "valve_far": "far", "valve_home": "colour", "valve_colour": "colour",
    "second_valve": "second", "valve_high": "high", "valve_pedal": "pedal", "lip_per_cent": "lip",
    "between": "between", "partials": "partial", "odd_partial": "partial", "alternate": "plain",
    "held_alternate": "plain", "seek": "plain", "smear": "smear", "smear_per_m": "smear",
    "slur_with_pitch": "slur", "moved_repeat": "repeat", "wander": "repeat", "vibrato": "vibrato",
}  # fmt: skip
KINDS = (
    "locked", "written", "would_do", "nearly", "glissando", "smears", "natural_slur",
    "repeated", "returns", "flat", "between", "unsure", "looked_for", "freer", "fewer_valves",
    "high_with_valve", "pedal_with_valve", "first_valve", "valve_stays", "changes_less",
    "further_out", "moving_out", "moving_in", "on_the_way", "leads_on", "stays", "nearer",
    "can_stay", "next_nearer", "neighbour_worse", "moves_less", "room_to_shake",
    "puts_elsewhere", "goes_elsewhere", "turns_elsewhere", "presses_elsewhere", "costs_more",
)  # fmt: skip
_OF_SLIDE = ("distance_per_m", "speed_per_m2_s2", "jolt_per_m2_s4")
# A group that saves less than this share of what the first one saves didn't decide.
_DECIDES = 0.5
_SAME = 1e-9
# No route goes there: a glissando or a lock forbids it.
_IMPOSSIBLE = FORBIDDEN / 1e3
_NONE = np.zeros(0)


@dataclass(frozen=True, slots=True)
class Reasons:
    """Reasons of one solution; ``pitches`` are those of its line, for their names.

    ``locked`` are notes whose place was given, ``written`` those of them that keep what stands in
    the part.
    """

    solution: Solution
    book: PlaceBook
    pitches: Sequence[Pitch]
    locked: frozenset[int] = frozenset()
    written: frozenset[int] = frozenset()

    def of(self, *passes: int) -> Reason | None:
        """The reason for a note's place; ``passes`` are the notes of the line that it is.

        None for its plain place, where the plain place would do nearly as well, and where no
        sentence is true of both routes.
        """
        options = self.solution.choices.places[passes[0]]
        chosen = options[self.solution.chosen[passes[0]]]
        if not self.written.isdisjoint(passes):
            return Reason("written", chosen)
        if not self.locked.isdisjoint(passes):
            return Reason("locked", chosen)
        usual = usual_place(self.solution.choices, passes[0])
        if usual == chosen or self._worse_by(passes, usual) <= NEAR_TIE:
            return None
        return self._because(passes, chosen, usual)

    def against(self, place: Place, *passes: int) -> Reason:
        """Why a note of the route hasn't another of its places."""
        options = self.solution.choices.places[passes[0]]
        chosen = options[self.solution.chosen[passes[0]]]
        worse = self._worse_by(passes, place)
        if worse <= _SAME:
            return Reason("would_do", chosen, place)
        if worse <= NEAR_TIE:
            return Reason("nearly", chosen, place)
        return self._because(passes, chosen, place) or Reason(
            "costs_more", chosen, place, points=worse
        )

    def rival_route(self, note: int, place: Place) -> NDArray[np.intp]:
        """(N,) the choices of the best whole route through a place of a note."""
        low, other = self._through(note, place)
        route = self.solution.chosen.copy()
        route[low : low + len(other)] = other
        return route

    def _worse_by(self, passes: Sequence[int], place: Place) -> float:
        choice = self.solution.choices.places[passes[0]].index(place)
        return float(self.solution.worse_by[list(passes), choice].sum())

    def _through(self, note: int, place: Place) -> tuple[int, NDArray[np.intp]]:
        return self.solution.through(note, self.solution.choices.places[note].index(place))

    def _because(self, passes: Sequence[int], chosen: Place, rival: Place) -> Reason | None:
        if self._worse_by(passes, rival) >= _IMPOSSIBLE:
            gliding = any(self._in_glissando(note) for note in passes)
            return Reason("glissando", chosen, rival) if gliding else None
        best, most = None, 0.0
        for note in passes:
            rivalry = self._rivalry(note, rival)
            saved = sum(rivalry.saved.values())
            if saved > most:
                reason = _deciding(rivalry)
                best, most = (best, most) if reason is None else (reason, saved)
        return best

    def _in_glissando(self, note: int) -> bool:
        gliss = self.solution.choices.line.gliss
        return bool(gliss[note] or (note > 0 and gliss[note - 1]))

    def _rivalry(self, note: int, rival: Place) -> Rivalry:
        low, other = self._through(note, rival)
        first = max(0, min(low, note) - 2)
        last = min(len(self.solution.chosen), max(low + len(other), note + 1) + 2)
        window = np.arange(first, last)
        ours = self.solution.chosen[window]
        theirs = ours.copy()
        theirs[low - first : low - first + len(other)] = other
        saved: dict[str, float] = {}
        stands, moves, turns = self._saved(window, ours, theirs)
        for name, points in (*stands.items(), *moves.items(), *turns.items()):
            group = GROUPS[name]
            saved[group] = saved.get(group, 0.0) + float(points.sum())
        places = [self.solution.choices.places[k] for k in window.tolist()]
        line = self.solution.choices.line
        return Rivalry(
            note - first,
            tuple(row[k] for row, k in zip(places, ours.tolist())),
            tuple(row[k] for row, k in zip(places, theirs.tolist())),
            tuple(self.pitches[first:last]),
            tuple(line.slur[window].tolist()),
            tuple(self.solution.when.move_s[first : last - 1].tolist()),
            saved,
            np.sum(list(stands.values()), axis=0),
            np.sum([moves[name] for name in _OF_SLIDE], axis=0) if moves else _NONE,
            moves["valve_move"] + moves["valve_swap"] if moves else _NONE,
            turns["turn_per_m"],
            float(stands["vibrato"][note - first]),
            self.solution.profile.partials,
            usual_place(self.solution.choices, note),
            self.book.horn.valves[0].name if self.book.horn.valves else "",
        )

    def _saved(
        self, window: NDArray[np.intp], ours: NDArray[np.intp], theirs: NDArray[np.intp]
    ) -> tuple[dict[str, Floats], ...]:
        """What our route saves by term: of places, of moves, of turns."""
        line, profile = self.solution.choices.line.only(window), self.solution.profile
        when = timing(profile, line)
        ours_, theirs_ = (
            route_terms(
                profile, line, self.solution.choices.at.take((window, route)), when,
                begins=window[0] == 0,
            )
            for route in (ours, theirs)
        )  # fmt: skip
        return tuple(
            {name: points - before[name] for name, points in after.items()}
            for before, after in zip(ours_, theirs_)
        )


def _deciding(rivalry: Rivalry) -> Reason | None:
    """The true sentence of the group that saves most, or of one that saves nearly as much."""
    saved = rivalry.saved
    order = sorted(saved, key=lambda group: -saved[group])
    least = max(_DECIDES * saved[order[0]], _SAME)
    told = (rivalry.reason(group) for group in order if saved[group] >= least)
    decided = next((reason for reason in told if reason is not None), None)
    return decided or rivalry.elsewhere()
