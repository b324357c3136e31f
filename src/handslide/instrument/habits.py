"""Habits: what the slide does again and again in a take.

The errors of all right notes are explained step by step: of all groups (the whole take, a valve,
moves out, moves in, a place, a partial, one slide move) the one that explains most is named, its
median error is taken off, and the rest is asked again. A group counts only where its median passes
the hearing threshold, is well above its standard error and most of its notes agree.

Conventions: cents above (+) or below (-) the note; slide in mm, positive = too far out = flat.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handslide.ground.facts import Fact, fact
from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.ground.pitch import Pitch
from handslide.instrument.horn import Horn
from handslide.instrument.marks import split_position
from handslide.instrument.places import Place

# What a wrong or missed note weighs beside a note out of tune, in cents. Chosen by us: it comes
# before a note that is a third of a semitone off.
FAULT_CENTS = 35.0
LEAST_NOTES = 3
# Only a note held this long can be said to sink or climb.
LONG_NOTE_S = 0.8
_MOST_HABITS = 5
_SURE = {"move": 3.6, "partial": 3.6, "place": 3.2}
_SURE_ELSE = 3.0
_LEAST_SPREAD_CENTS = 4.0
_AGREE_CENTS, _AGREE_SHARE = 5.0, 0.7
_CAP_CENTS = 40.0
_CLOSED_MM, _MOVE_MM = 5.0, 30.0
_SCOOP_CENTS, _FALL_CENTS, _SHARE_OF_NOTES = 20.0, 10.0, 0.4
# What explains much with few words comes first.
_FAVOUR = {"all": 1.15, "valve": 1.05, "away": 1.1, "out": 1.1, "in": 1.1, "place": 1.0,
           "partial": 0.85, "move": 0.8}  # fmt: skip
# Causes of pitch, not of the slide: they are heard in every place alike.
_PITCH = ("all", "valve", "partial")
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """A right note of a take in its marked place.

    ``move_mm`` is the way of the slide from the note before (positive = out), ``from_place`` that
    note's place and ``from_pitch`` its pitch; None after a rest or a fault. ``fall_cents`` is the
    change of pitch from the beginning to the end of a long note, ``scoop_cents`` where a note began
    above (+) or below (-) its pitch.
    """

    pitch: Pitch
    place: Place
    mark: str
    cents: float
    cents_se: float
    mm_per_cent: float
    move_mm: float | None = None
    from_place: Place | None = None
    from_pitch: Pitch | None = None
    scoop_cents: float | None = None
    fall_cents: float | None = None


@dataclass(frozen=True, slots=True)
class Habit:
    """Something that a player does again and again.

    ``kind``: ``all``, ``valve``, ``away``, ``out``, ``in``, ``place``, ``partial``, ``move``,
    ``scoop``, ``fall``. ``cents`` and ``slide_mm`` are the group's median, ``count`` of ``total``
    notes show it; ``worst`` is the number (in the rows given) of the note that shows it most,
    ``notes`` those of all its notes. ``fact`` is what there is to say of it.
    """

    kind: str
    cents: float
    slide_mm: float | None
    se_cents: float
    count: int
    total: int
    worst: int
    fact: Fact
    notes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Notes that may share a cause; ``in_mm``: the cause is a length, else a pitch.

    ``told`` is the kind of its fact, ``about`` what that says of the group beyond its numbers.
    """

    kind: str
    notes: NDArray[np.intp]
    in_mm: bool
    told: str
    about: Mapping[str, Any] = field(default_factory=dict)


def find_habits(
    horn: Horn, rows: Sequence[PlayedNote], common_cents: float = 0.0
) -> tuple[Habit, ...]:
    """The habits in the right notes of a take, worst first.

    ``common_cents`` is what the take as a whole is off by: where that is too little to be named,
    the slide isn't blamed for it either.
    """
    if len(rows) < LEAST_NOTES:
        return ()
    tuning = common_cents if abs(common_cents) < IN_TUNE_CENTS else 0.0
    left = _Left(
        np.array([row.cents for row in rows], float) - tuning,
        np.array([row.cents for row in rows], float) - tuning,
        np.array([row.mm_per_cent for row in rows], float),
        np.array([row.cents_se for row in rows], float),
    )
    groups = _groups(horn, rows)
    found: list[Habit] = []
    while groups and len(found) < _MOST_HABITS:
        tried = [(_tried(group, left), group) for group in groups]
        fitting = [(one, group) for one, group in tried if one is not None]
        if not fitting:
            break
        (_, effect, se), group = max(fitting, key=lambda pair: pair[0][0])
        beyond = tuning != 0.0 or any(h.kind in _PITCH for h in found)
        found.append(_habit(horn, group, se, left, beyond))
        left.take_off(group, effect)
        groups = [other for other in groups if other is not group]
    found.sort(key=lambda habit: -abs(habit.cents) * math.sqrt(habit.count))
    return (*found, *_begun_and_held(rows))


@dataclass(slots=True, eq=False)
class _Left:
    """What is still to be explained, in cents: ``rest`` beside all habits found, ``seen`` beside
    those of pitch only: what can be seen of the slide. Also mm per cent and standard errors."""

    rest: Floats
    seen: Floats
    per_cent: Floats
    noise: Floats

    def take_off(self, group: _Group, effect: float) -> None:
        at = group.notes
        self.rest[at] -= effect / self.per_cent[at] if group.in_mm else effect
        if group.kind in _PITCH:
            self.seen[at] -= effect


def _tried(group: _Group, left: _Left) -> tuple[float, float, float] | None:
    """(gain, effect, standard error in cents) of taking a group's median off; None if too weak.

    The effect is in mm of slide that raise the pitch for a group in mm, else in cents.
    """
    at = group.notes
    cents, per_cent = left.rest[at], left.per_cent[at]
    effect_cents = float(np.median(cents))
    spread = 1.4826 * float(np.median(np.abs(cents - effect_cents)))
    typical = float(np.sqrt(np.mean(left.noise[at] ** 2)))
    # Few notes say little of their own spread: the floor and 1 + 2/n stand for what isn't seen.
    spread = max(spread, typical, _LEAST_SPREAD_CENTS) * (1.0 + 2.0 / len(at))
    se = 1.2533 * spread / math.sqrt(len(at))
    agree = np.sign(effect_cents) * cents > _AGREE_CENTS
    least = max(IN_TUNE_CENTS, _SURE.get(group.kind, _SURE_ELSE) * se)
    if abs(effect_cents) < least or agree.mean() < _AGREE_SHARE:
        return None
    # What only shows once another habit is taken off would contradict what the student sees.
    if float(np.median(left.seen[at])) * math.copysign(1.0, effect_cents) < IN_TUNE_CENTS:
        return None
    effect = float(np.median(cents * per_cent)) if group.in_mm else effect_cents
    after = cents - (effect / per_cent if group.in_mm else effect)
    cap = _CAP_CENTS**2
    gain = float(np.sum(np.minimum(cents**2, cap)) - np.sum(np.minimum(after**2, cap)))
    return gain * _FAVOUR[group.kind], effect, se


def _habit(horn: Horn, group: _Group, se: float, left: _Left, beyond: bool) -> Habit:
    """A group's habit; ``beyond``: others that are the whole horn's were taken off before."""
    at = group.notes
    seen = left.seen[at]
    cents = float(np.median(seen))
    slide = -float(np.median(seen * left.per_cent[at]))
    shown = np.sign(cents) * seen > _AGREE_CENTS
    count, total = int(shown.sum()), len(at)
    worst = int(at[np.argmax(np.sign(cents) * seen)])
    values: dict[str, Any] = {"count": count, "total": total, "beyond": beyond, **group.about}
    values |= {"slide_mm": slide} if group.in_mm else {"cents": cents}
    if group.kind == "all":
        # Two legs: the slide moves half of what the tube needs.
        values["tuning_slide_mm"] = 500.0 * horn.length_m * (math.pow(2.0, cents / 1200.0) - 1.0)
    in_mm = slide if group.in_mm else None
    told = fact(group.told, **values)
    return Habit(group.kind, cents, in_mm, se, count, total, worst, told, tuple(at.tolist()))


# The groups.


def _groups(horn: Horn, rows: Sequence[PlayedNote]) -> list[_Group]:
    numbers = range(len(rows))
    out = [n for n in numbers if (rows[n].move_mm or 0.0) > _MOVE_MM]
    into = [
        n for n in numbers if (rows[n].move_mm or 0.0) < -_MOVE_MM and not _is_closed(rows[n])
    ]  # fmt: skip
    away = [n for n in numbers if not _is_closed(rows[n])]
    groups = [_group("out", out, "habits.out"), _group("in", into, "habits.in")]
    if len({rows[n].mark for n in away}) > 1:
        groups.append(_group("away", away, "habits.away"))
    if _closed_agree(rows) and len({row.mark for row in rows}) > 1:
        groups.append(_group("all", list(numbers), "habits.all", in_mm=False))
    groups += _place_groups(rows) + _other_groups(rows)
    return [group for group in groups if len(group.notes) >= LEAST_NOTES]


def _group(kind: str, notes: list[int], told: str, *, in_mm: bool = True, **about: Any) -> _Group:
    return _Group(kind, np.array(notes, np.intp), in_mm, told, about)


def _is_closed(row: PlayedNote) -> bool:
    return 1000.0 * row.place.extension_m <= _CLOSED_MM


def _closed_agree(rows: Sequence[PlayedNote]) -> bool:
    """Whether the closed slide is off as the whole take is; without closed notes nobody knows."""
    closed = [row.cents for row in rows if _is_closed(row)]
    whole = float(np.median([row.cents for row in rows]))
    if len(closed) < 2:
        return False
    return float(np.median(closed)) * math.copysign(1.0, whole) > 0.5 * abs(whole)


def _place_groups(rows: Sequence[PlayedNote]) -> list[_Group]:
    by_mark: dict[str, list[int]] = {}
    for number, row in enumerate(rows):
        by_mark.setdefault(row.mark, []).append(number)
    groups = []
    for notes in by_mark.values():
        place = rows[notes[0]].place
        closed = all(_is_closed(rows[n]) for n in notes)
        told = "habits.closed_place" if closed else "habits.place"
        about = {"position": place.position, "valves": place.valves}
        groups.append(_group("place", notes, told, in_mm=not closed, **about))
    return groups


def _other_groups(rows: Sequence[PlayedNote]) -> list[_Group]:
    valves: dict[tuple[str, ...], list[int]] = {}
    partials: dict[int, list[int]] = {}
    moves: dict[tuple[object, str], list[int]] = {}
    for number, row in enumerate(rows):
        if row.place.valves:
            valves.setdefault(row.place.valves, []).append(number)
        partials.setdefault(row.place.partial, []).append(number)
        start = row.from_place
        if start is not None and abs(row.move_mm or 0.0) > _MOVE_MM and not _is_closed(row):
            # Places that are written alike are one place.
            begun = (split_position(start.position), start.valves)
            moves.setdefault((begun, row.mark), []).append(number)
    groups = []
    for names, notes in valves.items():
        if len({rows[n].mark for n in notes}) > 1:
            groups.append(_group("valve", notes, "habits.valve", in_mm=False, valves=names))
    for partial, notes in partials.items():
        if len({rows[n].mark for n in notes}) > 1 and len(partials) > 1:
            group = _group("partial", notes, "habits.partial", in_mm=False, partial=partial)
            groups.append(group)
    groups += [_move_group(notes, rows[notes[0]]) for notes in moves.values()]
    return groups


def _move_group(notes: list[int], first: PlayedNote) -> _Group:
    start, place = first.from_place, first.place
    assert start is not None
    return _group(
        "move", notes, "habits.move", from_position=start.position, from_valves=start.valves,
        position=place.position, valves=place.valves,
    )  # fmt: skip


# Beginnings and ends of notes.


def _begun_and_held(rows: Sequence[PlayedNote]) -> list[Habit]:
    """Notes that begin too low, and long notes that fall or climb."""
    found = []
    for kind, told, values, least in (
        ("scoop", "habits.scoop", [row.scoop_cents for row in rows], _SCOOP_CENTS),
        ("fall", "habits.fall", [row.fall_cents for row in rows], _FALL_CENTS),
    ):
        known = [(n, value) for n, value in enumerate(values) if value is not None]
        for sign in (-1.0, 1.0):
            shown = [(n, value) for n, value in known if sign * value > least]
            if len(shown) < LEAST_NOTES or len(shown) < _SHARE_OF_NOTES * len(known):
                continue
            middle = float(np.median([value for _, value in shown]))
            worst = max(shown, key=lambda pair: abs(pair[1]))[0]
            count, total = len(shown), len(known)
            said = fact(told, cents=middle, count=count, total=total)
            numbers = tuple(n for n, _ in shown)
            found.append(Habit(kind, middle, None, 0.0, count, total, worst, said, numbers))
    return found
