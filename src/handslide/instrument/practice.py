"""What to practise after a take: the worst habits, single notes and faults; how to mend them."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch
from handslide.instrument.habits import FAULT_CENTS, Habit, PlayedNote
from handslide.instrument.marks import position_text

MOST_PRACTICE = 3
# What stopping weighs: the note itself was right.
_STOPPED_CENTS = 20.0
FAULTS = ("missing", "wrong", "octave", "stopped")
"""What can be the matter with a note that wasn't played as it should."""
HOW_FAULTS = fact("habits.how_faults")
_ON_THE_MOVE = ("out", "in", "move", "away")
# A whole take's tuning, a scoop or a fall doesn't say why one note is out of tune.
_NOT_A_CAUSE = ("all", "scoop", "fall")
_SINGLE_CENTS = 15.0
# A single note explains less than a habit of as many notes.
_SINGLE_WEIGHT = 0.6
_MOST_MEASURES = 5


@dataclass(frozen=True, slots=True)
class Practice:
    """A note or interval to practise: ``what``, ``why`` and ``how``."""

    what: Fact
    why: Fact
    how: Fact


@dataclass(frozen=True, slots=True)
class Fault:
    """A note that wasn't right: where, which, its mark, and what was the matter (`FAULTS`)."""

    measure: str
    pitch: Pitch
    mark: str
    kind: str


def suggest_practice(
    rows: Sequence[PlayedNote],
    habits: Sequence[Habit],
    faults: Sequence[Fault],
    common_cents: float = 0.0,
) -> tuple[Practice, ...]:
    """At most three things to practise, worst first.

    ``common_cents`` is what the take as a whole is off by: no single note is blamed for it.
    """
    ranked: list[tuple[float, Practice]] = []
    for habit in habits:
        if habit.kind != "all":
            ranked.append((abs(habit.cents) * habit.count, _of_habit(habit, rows)))
    explained = {n for one in habits if one.kind not in _NOT_A_CAUSE for n in one.notes}
    single = [row for number, row in enumerate(rows) if number not in explained]
    ranked += _of_notes(single, common_cents)
    ranked += _of_faults(faults)
    chosen: dict[Fact, Practice] = {}
    for _, item in sorted(ranked, key=lambda pair: -pair[0]):
        chosen.setdefault(item.what, item)
    return tuple(chosen.values())[:MOST_PRACTICE]


def how_to_mend(kind: str, slide_mm: float | None) -> Fact:
    """How to practise what a group of notes shows; ``kind`` is that of a `Habit`, ``slide_mm`` how
    far the slide was too far out (positive), None where it isn't the slide."""
    if kind in _ON_THE_MOVE:
        return fact("habits.how_move", slide_mm=slide_mm or 0.0)
    if slide_mm is not None:
        return fact("habits.how_slide", slide_mm=slide_mm)
    return _HOWS.get(kind, _HOW_DRONE)


_HOW_DRONE = fact("habits.how_drone")
_HOWS = {
    "scoop": fact("habits.how_scoop"),
    "fall": fact("habits.how_fall"),
    "valve": fact("habits.how_valve"),
    "partial": fact("habits.how_rest"),
    "place": fact("habits.how_rest"),
    "note": fact("habits.how_rest"),
}


def _what(pitch: Pitch, mark: str) -> Fact:
    if not mark:
        return fact("takes.note", pitch=pitch)
    return fact("takes.note_in", pitch=pitch, mark=mark)


def _interval(row: PlayedNote) -> Fact:
    if row.from_place is None or row.from_pitch is None:
        return _what(row.pitch, row.mark)
    return fact(
        "takes.interval",
        before=row.from_pitch,
        pitch=row.pitch,
        before_mark=position_text(row.from_place.position),
        mark=row.mark,
    )


def _of_habit(habit: Habit, rows: Sequence[PlayedNote]) -> Practice:
    """What a group shows: named as the group, with the note that shows it most."""
    row, group = rows[habit.worst], [rows[number] for number in habit.notes]
    on_the_move = habit.kind in _ON_THE_MOVE
    one = _interval(row) if on_the_move else _what(row.pitch, row.mark)
    alone = group and all(_sign(other, on_the_move) == _sign(row, on_the_move) for other in group)
    what = one if alone else fact("takes.group", group=_named(habit), example=one)
    count, total = habit.count, habit.total
    if habit.slide_mm is not None:
        why = fact("habits.slide_off", slide_mm=habit.slide_mm, count=count, total=total)
    else:
        why = fact("habits.pitch_off", cents=habit.cents, count=count, total=total)
    return Practice(what, why, how_to_mend(habit.kind, habit.slide_mm))


def _sign(row: PlayedNote, on_the_move: bool) -> tuple[object, ...]:
    """What makes two rows the same thing to practise."""
    return (row.pitch, row.mark, *((row.from_pitch, row.from_place) if on_the_move else ()))


def _named(habit: Habit) -> Fact:
    """A habit's group as what it is."""
    told = habit.fact
    kept = ("position", "valves", "from_position", "from_valves", "partial")
    return fact("habits.group", which=habit.kind, **{k: told[k] for k in kept if k in told})


def _of_notes(rows: Sequence[PlayedNote], common_cents: float) -> list[tuple[float, Practice]]:
    """Single notes that were off beside the whole take."""
    by_note: dict[tuple[Pitch, str], list[float]] = {}
    for row in rows:
        by_note.setdefault((row.pitch, row.mark), []).append(row.cents - common_cents)
    found = []
    for (pitch, mark), values in by_note.items():
        middle, count = median(values), len(values)
        if abs(middle) >= _SINGLE_CENTS:
            why = fact("habits.note_off", cents=middle, count=count, rest=common_cents != 0.0)
            item = Practice(_what(pitch, mark), why, fact("habits.how_note"))
            found.append((_SINGLE_WEIGHT * abs(middle) * count, item))
    return found


def _of_faults(faults: Sequence[Fault]) -> list[tuple[float, Practice]]:
    """Notes that were missed, wrong or in another octave, or before which the player stopped."""
    by_note: dict[tuple[Pitch, str], list[Fault]] = {}
    for fault in faults:
        by_note.setdefault((fault.pitch, fault.mark), []).append(fault)
    found = []
    for (pitch, mark), rows in by_note.items():
        kinds = tuple(dict.fromkeys(row.kind for row in rows))
        measures = tuple(dict.fromkeys(row.measure for row in rows))
        why = fact(
            "takes.faults",
            faults=kinds,
            measures=measures[:_MOST_MEASURES],
            more=max(len(measures) - _MOST_MEASURES, 0),
        )
        how = fact("habits.how_stopped") if kinds == ("stopped",) else HOW_FAULTS
        weight = sum(_STOPPED_CENTS if row.kind == "stopped" else FAULT_CENTS for row in rows)
        found.append((weight, Practice(_what(pitch, mark), why, how)))
    return found
