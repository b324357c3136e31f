"""Habits: what the slide does again and again in a take, said in words.

The errors of all right notes are explained step by step: of all groups (the whole take, a valve,
moves out, moves in, a place, a partial, one slide move) the one that explains most is named, its
median error is taken off, and the rest is asked again. A group counts only where its median passes
the hearing threshold, is well above its standard error and most of its notes agree.

Conventions: cents above (+) or below (-) the note; slide in mm, positive = too far out = flat.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.instrument.horn import Horn
from handslide.instrument.marks import ordinal, place_words, valve_words
from handslide.instrument.places import Place

# What a wrong or missed note weighs beside a note out of tune.
FAULT_CENTS = 35.0
LEAST_NOTES = 3
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

    ``move_mm`` is the way of the slide from the note before (positive = out), ``came_from`` that
    note's place; None after a rest or a fault. ``fall_cents`` is the change of pitch from the
    beginning to the end of a long note, ``scoop_cents`` where a note began above (+) or below (-)
    its pitch.
    """

    name: str
    place: Place
    mark: str
    cents: float
    cents_se: float
    mm_per_cent: float
    move_mm: float | None = None
    came_from: Place | None = None
    came_name: str = ""
    scoop_cents: float | None = None
    fall_cents: float | None = None


@dataclass(frozen=True, slots=True)
class Habit:
    """Something that a player does again and again.

    ``kind``: ``all``, ``valve``, ``away``, ``out``, ``in``, ``place``, ``partial``, ``move``,
    ``scoop``, ``fall``. ``cents`` and ``slide_mm`` are the group's median, ``count`` of ``total``
    notes show it; ``worst`` is the number (in the rows given) of the note that shows it most,
    ``notes`` those of all its notes.
    """

    kind: str
    cents: float
    slide_mm: float | None
    se_cents: float
    count: int
    total: int
    worst: int
    words: str
    notes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Notes that may share a cause; ``in_mm``: the cause is a length, else a pitch."""

    kind: str
    notes: NDArray[np.intp]
    in_mm: bool
    say: Callable[[float, float, str], str] = field(repr=False)


def find_habits(horn: Horn, rows: Sequence[PlayedNote]) -> tuple[Habit, ...]:
    """The habits in the right notes of a take, worst first."""
    if len(rows) < LEAST_NOTES:
        return ()
    left = _Left(
        np.array([row.cents for row in rows], float),
        np.array([row.cents for row in rows], float),
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
        found.append(_habit(group, se, left, beyond=any(h.kind in _PITCH for h in found)))
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


def _habit(group: _Group, se: float, left: _Left, *, beyond: bool) -> Habit:
    at = group.notes
    seen = left.seen[at]
    cents = float(np.median(seen))
    slide = -float(np.median(seen * left.per_cent[at]))
    shown = np.sign(cents) * seen > _AGREE_CENTS
    count, total = int(shown.sum()), len(at)
    worst = int(at[np.argmax(np.sign(cents) * seen)])
    where = f"on {count} of {total} notes{', beyond the tuning' if beyond else ''}"
    words = group.say(cents, slide, where)
    in_mm = slide if group.in_mm else None
    return Habit(group.kind, cents, in_mm, se, count, total, worst, words, tuple(at.tolist()))


# The groups.


def _groups(horn: Horn, rows: Sequence[PlayedNote]) -> list[_Group]:
    numbers = range(len(rows))
    out = [n for n in numbers if (rows[n].move_mm or 0.0) > _MOVE_MM]
    into = [
        n for n in numbers if (rows[n].move_mm or 0.0) < -_MOVE_MM and not _is_closed(rows[n])
    ]  # fmt: skip
    away = [n for n in numbers if not _is_closed(rows[n])]
    groups = [
        _group("out", out, _say_out),
        _group("in", into, _say_in),
    ]
    if len({rows[n].mark for n in away}) > 1:
        groups.append(_group("away", away, _say_away))
    if _closed_agree(rows) and len({row.mark for row in rows}) > 1:
        groups.append(_group("all", list(numbers), _say_all(horn), in_mm=False))
    groups += _place_groups(rows) + _other_groups(rows)
    return [group for group in groups if len(group.notes) >= LEAST_NOTES]


def _group(
    kind: str,
    notes: list[int],
    say: Callable[[float, float, str], str],
    *,
    in_mm: bool = True,
) -> _Group:
    return _Group(kind, np.array(notes, np.intp), in_mm, say)


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
        row = rows[notes[0]]
        closed = all(_is_closed(rows[n]) for n in notes)
        groups.append(_group("place", notes, _say_place(row.place, closed), in_mm=not closed))
    return groups


def _other_groups(rows: Sequence[PlayedNote]) -> list[_Group]:
    valves: dict[tuple[str, ...], list[int]] = {}
    partials: dict[int, list[int]] = {}
    moves: dict[tuple[str, str], list[int]] = {}
    for number, row in enumerate(rows):
        if row.place.valves:
            valves.setdefault(row.place.valves, []).append(number)
        partials.setdefault(row.place.partial, []).append(number)
        if row.came_from is not None and abs(row.move_mm or 0.0) > _MOVE_MM:
            before = place_words(row.came_from)
            if not _is_closed(row):
                moves.setdefault((before, row.mark), []).append(number)
    groups = []
    for names, notes in valves.items():
        if len({rows[n].mark for n in notes}) > 1:
            groups.append(_group("valve", notes, _say_valve(names), in_mm=False))
    for partial, notes in partials.items():
        if len({rows[n].mark for n in notes}) > 1 and len(partials) > 1:
            groups.append(_group("partial", notes, _say_partial(partial), in_mm=False))
    for (before, _), notes in moves.items():
        groups.append(_group("move", notes, _say_move(before, rows[notes[0]].place)))
    return groups


# The words.


def _about(mm: float) -> str:
    way = "too far out" if mm > 0 else "too short"
    return f"about {abs(mm):.0f} mm {way}"


def _high(cents: float) -> str:
    return f"about {abs(cents):.0f} cents too {'high' if cents > 0 else 'low'}"


def _say_all(horn: Horn) -> Callable[[float, float, str], str]:
    def say(cents: float, mm: float, where: str) -> str:
        # Two legs: the slide moves half of what the tube needs.
        pull = 500.0 * horn.length_m * abs(math.pow(2.0, cents / 1200.0) - 1.0)
        way = "out" if cents > 0 else "in"
        return (
            f"The whole take is {_high(cents)} ({where}): move the main tuning slide "
            f"{pull:.0f} mm {way}, if the piano or the band agrees."
        )

    return say


def _say_away(cents: float, mm: float, where: str) -> str:
    return f"Away from 1st the slide is {_about(mm)} everywhere ({where})."


def _say_out(cents: float, mm: float, where: str) -> str:
    if mm < 0:
        return f"After a move out the slide stops {_about(mm)} ({where})."
    return f"After a move out the slide goes {_about(mm)} ({where})."


def _say_in(cents: float, mm: float, where: str) -> str:
    if mm > 0:
        return f"After a move in the slide stops {_about(mm)} ({where})."
    return f"After a move in the slide comes back {_about(mm)} ({where})."


def _say_place(place: Place, closed: bool) -> Callable[[float, float, str], str]:
    name = _position(place)

    def say(cents: float, mm: float, where: str) -> str:
        if not closed:
            return f"{name}: {_about(mm)} {where}."
        if cents > 0:
            return (
                f"{name}: {_high(cents)} {where}; the slide can't be shorter, so it's the lip or "
                "the tuning slide."
            )
        return f"{name}: {_high(cents)} {where}; close the slide fully, and blow freely."

    return say


def _position(place: Place) -> str:
    words = place_words(Place((), place.partial, place.extension_m, place.position))
    words += "" if words.startswith("halfway") else " position"
    return words[0].upper() + words[1:] + valve_words(place.valves)


def _say_valve(names: tuple[str, ...]) -> Callable[[float, float, str], str]:
    def say(cents: float, mm: float, where: str) -> str:
        way = "out" if cents > 0 else "in"
        return (
            f"Notes{valve_words(names)} are {_high(cents)} ({where}): the valve's own tuning "
            f"slide may have to go {way}."
        )

    return say


def _say_partial(partial: int) -> Callable[[float, float, str], str]:
    def say(cents: float, mm: float, where: str) -> str:
        return (
            f"Notes on the {ordinal(partial)} partial are {_high(cents)} ({where}), wherever the "
            "slide is: the horn or the lip."
        )

    return say


def _say_move(before: str, place: Place) -> Callable[[float, float, str], str]:
    def say(cents: float, mm: float, where: str) -> str:
        return f"From {before} to {place_words(place)} the slide is {_about(mm)} ({where})."

    return say


def _begun_and_held(rows: Sequence[PlayedNote]) -> list[Habit]:
    """Notes that begin too low, and long notes that fall or climb."""
    found = []
    for kind, values, least, say in (
        ("scoop", [row.scoop_cents for row in rows], _SCOOP_CENTS, _say_scoop),
        ("fall", [row.fall_cents for row in rows], _FALL_CENTS, _say_fall),
    ):
        known = [(n, value) for n, value in enumerate(values) if value is not None]
        for sign in (-1.0, 1.0):
            shown = [(n, value) for n, value in known if sign * value > least]
            if len(shown) < LEAST_NOTES or len(shown) < _SHARE_OF_NOTES * len(known):
                continue
            middle = float(np.median([value for _, value in shown]))
            worst = max(shown, key=lambda pair: abs(pair[1]))[0]
            where = f"on {len(shown)} of {len(known)} notes"
            found.append(
                Habit(kind, middle, None, 0.0, len(shown), len(known), worst, say(middle, where))
            )
    return found


def _say_scoop(cents: float, where: str) -> str:
    if cents < 0:
        return f"Notes begin about {abs(cents):.0f} cents too low and slide up {where}."
    return f"Notes begin about {abs(cents):.0f} cents too high and sink {where}."


def _say_fall(cents: float, where: str) -> str:
    if cents < 0:
        return (
            f"Long notes sink about {abs(cents):.0f} cents to their end {where}: keep the air on."
        )
    return f"Long notes climb about {abs(cents):.0f} cents {where}."
