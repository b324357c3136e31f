"""A note's place against another one: two whole routes beside each other, and what is true of both.

Each kind of reason has its own condition, tested on the numbers of both routes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from handslide.ground.pitch import Pitch
from handslide.instrument.effort import PEAK_SPEED, STILL_M
from handslide.instrument.marks import split_position
from handslide.instrument.pace import EASY_M_S
from handslide.instrument.places import SAME_SPOT_M, Place

# A slide that moves less than this stays where it is; one that moves this far moves on.
STAYS_M = 0.02
ONWARD_M = 0.005
# A way must be longer by this, and by this factor, to be a reason.
LONGER_M = 0.03
LONGER = 1.3
# A note must be flatter by this to be a reason.
FLATTER_CENTS = 3.0


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a note lies in ``place`` and not in ``rival``; ``kind`` is one of `reasons.KINDS`.

    Where a move decided it, ``neighbour`` is the note before or after, in ``neighbour_place``, on
    the rival's route in ``rival_neighbour_place``; ``way_m`` and ``rival_way_m`` are how far the
    slide goes there on our route and on the rival's (out positive), ``rival_speed_m_s`` the peak
    speed of the rival's move where it is a quick one. ``onward`` is the note that a move goes to.
    ``more`` counts changes of a valve. ``later`` says on which side of the note another one lies
    that decided it. ``points`` are those that the rival's whole route costs more.
    """

    kind: str
    place: Place
    rival: Place | None = None
    neighbour: Pitch | None = None
    neighbour_place: Place | None = None
    rival_neighbour_place: Place | None = None
    onward: Pitch | None = None
    way_m: float = 0.0
    rival_way_m: float = 0.0
    rival_speed_m_s: float | None = None
    more: int = 0
    later: bool | None = None
    points: float = 0.0


@dataclass(frozen=True, slots=True)
class Rivalry:
    """A stretch of two routes that are one outside of it; ``at`` is the note that differs.

    ``ours`` and ``theirs`` are the places of its notes, with ``pitches``, ``slur`` (to the next)
    and the seconds of each move; ``saved`` are the points that our route saves, by group of terms;
    ``stand_saved`` those of standing in each place, ``move_saved`` and ``valve_saved`` those of the
    slide and the valves in each move, ``turn_saved`` those of the turns about the second note, the
    third... ``shaken`` is what the note itself saves by room for a slide vibrato. ``usual`` is the
    note's plain place, ``first_valve`` the horn's.
    """

    at: int
    ours: tuple[Place, ...]
    theirs: tuple[Place, ...]
    pitches: tuple[Pitch, ...]
    slur: tuple[bool, ...]
    move_s: tuple[float, ...]
    saved: Mapping[str, float]
    stand_saved: NDArray[np.floating]
    move_saved: NDArray[np.floating]
    valve_saved: NDArray[np.floating]
    turn_saved: NDArray[np.floating]
    shaken: float
    partials: Mapping[int, float]
    usual: Place
    first_valve: str

    @property
    def place(self) -> Place:
        """Ours."""
        return self.ours[self.at]

    @property
    def rival(self) -> Place:
        """Theirs."""
        return self.theirs[self.at]

    def reason(self, group: str) -> Reason | None:
        """What this group of terms says, where it is true of both routes."""
        if group == "move":
            return self._move()
        told = _TOLD[group](self)
        return self._neighbour_worse() if told is None and group in _STANDING else told

    def plainly(self, kind: str, true: bool, more: int = 0) -> Reason | None:
        """A reason that names no move, if its condition is ``true``."""
        return Reason(kind, self.place, self.rival, more=more) if true else None

    def _move(self) -> Reason | None:
        """Of turns and moves at the note, the true one that saves most; else the whole way.

        A turn back is the move that goes back, too.
        """
        i, last = self.at, len(self.ours) - 1
        found: list[tuple[float, Reason | None]] = []
        for turn, told in ((i - 1, self._moving_on), (i, self._on_the_way), (i + 1, self._leads)):
            if 0 < turn < last:
                back = float(self.turn_saved[turn - 1] + self.move_saved[turn])
                found.append((back, told() if self.turn_saved[turn - 1] > 0.0 else None))
        if i > 0:
            found.append((float(self.move_saved[i - 1]), self._coming()))
        if i < last:
            found.append((float(self.move_saved[i]), self._going()))
        found.sort(key=lambda row: -row[0])
        told_best = (reason for saved, reason in found if saved > 0.0 and reason is not None)
        return next(told_best, None) or self._moves_less()

    def _steps(self, note: int) -> tuple[float, float, float, float]:
        """Our moves to a note and from it, and theirs."""
        ours, theirs = self.ours, self.theirs
        return (
            ours[note].extension_m - ours[note - 1].extension_m,
            ours[note + 1].extension_m - ours[note].extension_m,
            theirs[note].extension_m - theirs[note - 1].extension_m,
            theirs[note + 1].extension_m - theirs[note].extension_m,
        )

    def _turns_there_only(self, note: int) -> bool:
        """Whether the slide goes on through a note on our route, and turns there on theirs."""
        to, on, their_to, their_on = self._steps(note)
        goes_on = to * on > 0 and min(abs(to), abs(on)) >= ONWARD_M
        turns = their_to * their_on < 0 and min(abs(their_to), abs(their_on)) >= STAYS_M
        return goes_on and turns

    def _moving_on(self) -> Reason | None:
        """The slide is moving already, and the note lies further on; from the rival it turns."""
        to, _, their_to, _ = self._steps(self.at - 1)
        if to * their_to <= 0 or abs(to) < STAYS_M or not self._turns_there_only(self.at - 1):
            return None
        return self._with_move("moving_out" if to > 0 else "moving_in", self.at - 1, self.at - 1)

    def _on_the_way(self) -> Reason | None:
        if not self._turns_there_only(self.at):
            return None
        return self._with_move("on_the_way", self.at, self.at - 1, self.pitches[self.at + 1])

    def _leads(self) -> Reason | None:
        if not self._turns_there_only(self.at + 1):
            return None
        return self._with_move("leads_on", self.at + 1, self.at + 1)

    def _coming(self) -> Reason | None:
        return self._shorter(self.at - 1, self.at - 1, "stays", "nearer")

    def _going(self) -> Reason | None:
        return self._shorter(self.at, self.at + 1, "can_stay", "next_nearer")

    def _shorter(self, move: int, neighbour: int, still: str, near: str) -> Reason | None:
        told = self._with_move("", move, neighbour)
        way, rival_way = abs(told.way_m), abs(told.rival_way_m)
        if rival_way < max(way + LONGER_M, LONGER * way):
            return None
        return replace(told, kind=still if way < STAYS_M else near)

    def _with_move(
        self, kind: str, move: int, neighbour: int, onward: Pitch | None = None
    ) -> Reason:
        """A reason with the ways of a move of both routes."""
        way = self.ours[move + 1].extension_m - self.ours[move].extension_m
        rival_way = self.theirs[move + 1].extension_m - self.theirs[move].extension_m
        speed = PEAK_SPEED * abs(rival_way) / self.move_s[move]
        return Reason(
            kind,
            self.place,
            self.rival,
            self.pitches[neighbour],
            self.ours[neighbour],
            self.theirs[neighbour],
            onward,
            way,
            rival_way,
            speed if speed > EASY_M_S else None,
        )

    def _neighbour_worse(self) -> Reason | None:
        """On the rival's route a note beside this one has a place that is further from plain."""
        for note, move in ((self.at - 1, self.at - 1), (self.at + 1, self.at)):
            if not 0 <= note < len(self.ours):
                continue
            ours, theirs = self.ours[note], self.theirs[note]
            more = theirs.alternate - ours.alternate, len(theirs.valves) - len(ours.valves)
            if min(more) >= 0 and max(more) > 0:
                return self._with_move("neighbour_worse", move, note)
        return None

    def elsewhere(self) -> Reason | None:
        """What the rival's route costs most at other notes, where it can be said."""
        found: list[tuple[float, Reason | None]] = []
        for note, saved in enumerate(self.stand_saved.tolist()):
            if note != self.at:
                found.append((saved, self._puts(note)))
        for move, saved in enumerate(self.move_saved.tolist()):
            found.append((saved, self._goes(move)))
        for turn, saved in enumerate(self.turn_saved.tolist(), 1):
            back = saved + float(self.move_saved[turn])
            found.append((back, self._turns(turn) if saved > 0.0 and turn != self.at else None))
        for move, saved in enumerate(self.valve_saved.tolist()):
            found.append((saved, self._presses(move)))
        told = [row for row in found if row[0] > 0.0 and row[1] is not None]
        return max(told, key=lambda row: row[0])[1] if told else None

    def _puts(self, note: int) -> Reason | None:
        ours, theirs = self.ours[note], self.theirs[note]
        more = theirs.alternate - ours.alternate, len(theirs.valves) - len(ours.valves)
        further = theirs.extension_m - ours.extension_m
        if min(more) < 0 or (max(more) == 0 and further < LONGER_M):
            return None
        told = self._with_move("puts_elsewhere", max(0, note - 1), note)
        return replace(told, later=note > self.at)

    def _goes(self, move: int) -> Reason | None:
        told = self._with_move("goes_elsewhere", move, move, self.pitches[move + 1])
        way, rival_way = abs(told.way_m), abs(told.rival_way_m)
        if rival_way < max(way + LONGER_M, LONGER * way):
            return None
        return replace(told, later=move >= self.at)

    def _turns(self, note: int) -> Reason | None:
        if not self._turns_there_only(note):
            return None
        told = self._with_move("turns_elsewhere", note, note, self.pitches[note + 1])
        return replace(told, later=note > self.at)

    def _presses(self, move: int) -> Reason | None:
        ours, theirs = (
            len(set(route[move].valves) ^ set(route[move + 1].valves))
            for route in (self.ours, self.theirs)
        )
        if ours or not theirs:
            return None
        told = self._with_move("presses_elsewhere", move, move, self.pitches[move + 1])
        return replace(told, later=move >= self.at)

    def _moves_less(self) -> Reason | None:
        ours, theirs = _way(self.ours), _way(self.theirs)
        if theirs < ours + LONGER_M:
            return None
        return Reason("moves_less", self.place, self.rival, way_m=ours, rival_way_m=theirs)


def _way(route: tuple[Place, ...]) -> float:
    """How far the slide goes in all."""
    return sum(abs(b.extension_m - a.extension_m) for a, b in pairwise(route))


def same_spot(one: Place, other: Place) -> bool:
    """Whether two places are one to a player: valves, partial, and the slide within 5 mm."""
    apart = abs(one.extension_m - other.extension_m)
    return one.valves == other.valves and one.partial == other.partial and apart <= SAME_SPOT_M


def _smears(told: Rivalry) -> Reason | None:
    def smears(route: tuple[Place, ...], move: int) -> bool:
        here, there = route[move], route[move + 1]
        same = here.partial == there.partial and here.valves == there.valves
        return same and abs(there.extension_m - here.extension_m) > STILL_M

    moves = _slurred(told)
    true = any(smears(told.theirs, move) and not smears(told.ours, move) for move in moves)
    return told.plainly("smears", true)


def _natural_slur(told: Rivalry) -> Reason | None:
    """Our slur changes the partial and the slide doesn't go along; theirs goes with the pitch."""

    def along(route: tuple[Place, ...], move: int) -> bool:
        step = route[move + 1].extension_m - route[move].extension_m
        rise = told.pitches[move + 1].midi - told.pitches[move].midi
        return abs(step) > STILL_M and step * rise < 0

    def changes(route: tuple[Place, ...], move: int) -> bool:
        return route[move].partial != route[move + 1].partial

    true = any(
        changes(told.ours, move) and not along(told.ours, move) and along(told.theirs, move)
        for move in _slurred(told)
    )
    return told.plainly("natural_slur", true)


def _slurred(told: Rivalry) -> list[int]:
    """The slurred moves to the note and from it."""
    moves = [move for move in (told.at - 1, told.at) if 0 <= move < len(told.ours) - 1]
    return [move for move in moves if told.slur[move]]


def _repeated(told: Rivalry) -> Reason | None:
    """The same note next to this one, or next but one, shares its place on our route only."""

    def keeps(other: int) -> bool:
        return (
            0 <= other < len(told.ours)
            and told.pitches[other].midi == told.pitches[told.at].midi
            and same_spot(told.ours[other], told.place)
            and not same_spot(told.theirs[other], told.rival)
        )

    repeated = told.plainly("repeated", keeps(told.at - 1) or keeps(told.at + 1))
    return repeated or told.plainly("returns", keeps(told.at - 2) or keeps(told.at + 2))


def _flat(told: Rivalry) -> Reason | None:
    true = told.rival.lip_cents >= told.place.lip_cents + FLATTER_CENTS
    return told.plainly("flat", true)


def _between(told: Rivalry) -> Reason | None:
    """Ours is written as a whole position, theirs isn't."""
    ours, theirs = (split_position(place.position)[0] for place in (told.place, told.rival))
    return told.plainly("between", not ours and bool(theirs))


def _unsure(told: Rivalry) -> Reason | None:
    points = told.partials
    true = points.get(told.rival.partial, 0.0) > points.get(told.place.partial, 0.0)
    return told.plainly("unsure", true)


def _looked_for(told: Rivalry) -> Reason | None:
    """The rival is an alternate and not the usual place; ours is more plain."""
    true = told.rival != told.usual and told.rival.alternate > told.place.alternate
    return told.plainly("looked_for", true)


def _freer(told: Rivalry) -> Reason | None:
    if told.rival.valves and not told.place.valves:
        return told.plainly("freer", True)
    return told.plainly("fewer_valves", len(told.rival.valves) > len(told.place.valves))


def _high(told: Rivalry) -> Reason | None:
    def points(place: Place) -> int:
        return max(0, place.partial - 3) if place.valves else 0

    return told.plainly("high_with_valve", points(told.rival) > points(told.place))


def _pedal(told: Rivalry) -> Reason | None:
    def stuffy(place: Place) -> bool:
        return bool(place.valves) and place.partial == 1

    return told.plainly("pedal_with_valve", stuffy(told.rival) and not stuffy(told.place))


def _first_valve(told: Rivalry) -> Reason | None:
    true = told.place.valves == (told.first_valve,) and bool(
        set(told.rival.valves) - {told.first_valve}
    )
    return told.plainly("first_valve", true)


def _valves(told: Rivalry) -> Reason | None:
    """Fewer valves move at our place than at theirs, which has others down."""

    def changes(route: tuple[Place, ...]) -> int:
        beside = route[max(0, told.at - 1) : told.at + 2]
        return sum(len(set(a.valves) ^ set(b.valves)) for a, b in pairwise(beside))

    ours, theirs = changes(told.ours), changes(told.theirs)
    if told.place.valves == told.rival.valves or theirs <= ours:
        return None
    return told.plainly("changes_less" if ours else "valve_stays", True, theirs - ours)


def _can_shake(told: Rivalry) -> Reason | None:
    """A held note: the slide is closed at the rival, and has room on both sides at ours."""
    true = told.shaken > 0.0 and told.rival.extension_m < STILL_M <= told.place.extension_m
    return told.plainly("room_to_shake", true)


def _further_out(told: Rivalry) -> Reason | None:
    out = told.rival.extension_m - told.place.extension_m
    if out < LONGER_M:
        return None
    return Reason(
        "further_out", told.place, told.rival,
        way_m=told.place.extension_m, rival_way_m=told.rival.extension_m,
    )  # fmt: skip


_TOLD: Mapping[str, Callable[[Rivalry], Reason | None]] = {
    "smear": _smears, "slur": _natural_slur, "repeat": _repeated, "lip": _flat,
    "between": _between, "partial": _unsure, "plain": _looked_for, "colour": _freer,
    "high": _high, "pedal": _pedal, "second": _first_valve, "valve": _valves,
    "far": _further_out, "vibrato": _can_shake,
}  # fmt: skip
# Groups that a place of another note may decide.
_STANDING = frozenset(_TOLD) - {"smear", "slur", "repeat"}
