"""What is said of a note of a followed part, and what to practise."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.habits import FAULT_CENTS, Habit, PlayedNote
from handslide.instrument.heardplace import CLOSED_M, extension_of, why_not_there
from handslide.instrument.marks import position_text
from handslide.instrument.places import TOP_PARTIAL, Place
from handslide.jobs.setup import Setup
from handslide.sound.follow import Match
from handslide.sound.notes import HeardNote

MOST_PRACTICE = 3
_UNSTEADY_CENTS = 20.0
_SAME_PLACE_CENTS = 45.0
_SINGLE_CENTS = 15.0
LATE_S = 0.8
# What stopping weighs beside a note out of tune, in cents.
_STOPPED = 20.0
_ON_THE_MOVE = ("out", "in", "move", "away")
HOW_FAULTS = "sing it, buzz it, then play it slowly with the note before it"
_HOW_STOPPED = "begin a measure earlier, as slowly as it takes to go through three times"
FAULTS = {
    "missing": "not heard",
    "wrong": "wrong",
    "octave": "in another octave",
    "stopped": "stopped or started again",
}


@dataclass(frozen=True, slots=True)
class Practice:
    """A note or interval to practise: ``what``, ``why`` and ``how``."""

    what: str
    why: str
    how: str


def note_words(
    setup: Setup,
    pitch: Pitch,
    place: Place | None,
    match: Match,
    heard: HeardNote | None,
    off_cents: float | None,
    slide_mm: float | None,
) -> str:
    """One short sentence on a note."""
    if match.played == "missing":
        if match.outside:
            return "not in this take"
        return "not heard" if place is not None else "not on this horn"
    if match.played == "unsure" or heard is None:
        return "not sure what was played here"
    if match.played == "wrong":
        return _wrong_words(setup, pitch, place, heard)
    said = []
    if match.played == "octave":
        way = "high" if heard.midi > pitch.midi else "low"
        octaves = round(abs(heard.midi - pitch.midi) / 12)
        said.append(f"{'an octave' if octaves == 1 else f'{octaves} octaves'} too {way}")
    elif off_cents is not None:
        said.append(_tune_words(setup, pitch, place, heard, off_cents, slide_mm))
    if match.joined:
        said.append("ran together with the note before")
    if heard.spread_cents > _UNSTEADY_CENTS and heard.vibrato_cents is None:
        said.append("unsteady")
    if match.late_s is not None and match.late_s > LATE_S:
        said.append("after a wait")
    return "; ".join(said)


def in_tune_words(off_cents: float) -> str:
    """How high a note was: ``in tune``, ``14 cents too low``."""
    if abs(off_cents) < IN_TUNE_CENTS:
        return "in tune"
    return f"{abs(off_cents):.0f} cents too {'high' if off_cents > 0 else 'low'}"


def _tune_words(
    setup: Setup,
    pitch: Pitch,
    place: Place | None,
    heard: HeardNote,
    off_cents: float,
    slide_mm: float | None,
) -> str:
    high = in_tune_words(off_cents)
    if abs(off_cents) < IN_TUNE_CENTS:
        return high
    if abs(off_cents) < 2.0 * heard.cents_se:
        return f"{high}, but too short or rough to be sure"
    if place is None or slide_mm is None:
        return high
    target = midi_to_hz(pitch.midi, setup.horn.a4_hz)
    others = [other for other in setup.book.places(pitch.midi) if other != place]
    why = why_not_there(setup.horn, place, heard.f0_hz, target, others)
    if why is not None:
        return f"{high}: {why}"
    if place.extension_m <= CLOSED_M:
        return f"{high}: slide not quite closed ({slide_mm:.0f} mm), or the lip"
    return f"{high}: slide {abs(slide_mm):.0f} mm {'too far out' if slide_mm > 0 else 'too short'}"


def _wrong_words(setup: Setup, pitch: Pitch, place: Place | None, heard: HeardNote) -> str:
    played = f"played {from_midi(heard.midi).pretty}"
    if place is None:
        return played
    horn = setup.horn
    for partial in range(1, TOP_PARTIAL + 1):
        here = horn.frequency_hz(partial, place.extension_m, place.valves)
        if partial != place.partial and abs(cents(heard.f0_hz / here)) < _SAME_PLACE_CENTS:
            way = "above" if partial > place.partial else "below"
            steps = abs(partial - place.partial)
            which = "the partial" if steps == 1 else f"{steps} partials"
            return f"{played}: {which} {way}, with the slide in its place"
    where = extension_of(horn, heard.f0_hz, place.partial, place.valves)
    if -CLOSED_M <= where <= horn.travel_m:
        position = position_text(horn.position(max(where, 0.0)))
        return f"{played}: the slide was about in {position}"
    return played


def suggest_practice(
    rows: Sequence[PlayedNote],
    habits: Sequence[Habit],
    faults: Sequence[tuple[str, str, str, str]],
) -> tuple[Practice, ...]:
    """At most three things to practise, worst first.

    ``faults`` are (measure, note, mark, played) of notes that weren't right.
    """
    ranked: list[tuple[float, str, Practice]] = []
    for habit in habits:
        if habit.kind != "all":
            item = _of_habit(habit, rows[habit.worst])
            ranked.append((abs(habit.cents) * habit.count, item.what, item))
    explained = {number for habit in habits for number in habit.notes}
    rest = [row for number, row in enumerate(rows) if number not in explained]
    for what, weight, item in _of_notes(rest):
        ranked.append((weight, what, item))
    for item, weight in _of_faults(faults):
        ranked.append((weight, item.what, item))
    chosen: dict[str, Practice] = {}
    for _, what, item in sorted(ranked, key=lambda row: -row[0]):
        chosen.setdefault(what, item)
    return tuple(chosen.values())[:MOST_PRACTICE]


def _what(note: str, mark: str) -> str:
    return f"{note} in {mark}" if mark else note


def _interval(row: PlayedNote) -> str:
    if row.came_from is None:
        return _what(row.name, row.mark)
    return f"{row.came_name} to {row.name} ({position_text(row.came_from.position)} to {row.mark})"


def _of_habit(habit: Habit, row: PlayedNote) -> Practice:
    what = _interval(row) if habit.kind in _ON_THE_MOVE else _what(row.name, row.mark)
    return Practice(what, _why(habit), how_to_mend(habit.kind, habit.slide_mm))


def how_to_mend(kind: str, slide_mm: float | None) -> str:
    """How to practise what a group of notes shows; ``kind`` is that of a `Habit`, ``slide_mm`` how
    far the slide was too far out (positive), None where it isn't the slide."""
    way = "further in" if (slide_mm or 0.0) > 0 else "further out"
    if kind in _ON_THE_MOVE:
        size = f"{abs(slide_mm or 0.0):.0f} mm"
        return f"slowly, then in time; let the slide arrive {size} {way} before you tongue"
    if slide_mm is not None:
        return (
            f"hold it against a drone, move the slide {abs(slide_mm):.0f} mm {way} until the beats "
            "stop"
        )
    hows = {
        "scoop": "start with air only, then a soft tongue, right on the pitch",
        "fall": "long notes with a steady stream of air to the very end",
        "valve": "hold it against a drone with and without the valve",
        "partial": "hold it against a drone and find where it rests",
        "place": "hold it against a drone and find where it rests",
        "note": "hold it against a drone and find where it rests",
    }
    return hows.get(kind, "hold it against a drone")


def _why(habit: Habit) -> str:
    if habit.slide_mm is not None:
        way = "too far out" if habit.slide_mm > 0 else "too short"
        return f"about {abs(habit.slide_mm):.0f} mm {way} on {habit.count} of {habit.total} notes"
    way = "high" if habit.cents > 0 else "low"
    return f"about {abs(habit.cents):.0f} cents too {way} on {habit.count} of {habit.total} notes"


def _of_notes(rows: Sequence[PlayedNote]) -> list[tuple[str, float, Practice]]:
    """Single notes that were off, habit or not."""
    by_note: dict[tuple[str, str], list[float]] = {}
    for row in rows:
        by_note.setdefault((row.name, row.mark), []).append(row.cents)
    found = []
    for (name, mark), values in by_note.items():
        middle = median(values)
        if abs(middle) < _SINGLE_CENTS:
            continue
        times = "once" if len(values) == 1 else f"in the middle of {len(values)} times"
        way = "high" if middle > 0 else "low"
        item = Practice(
            _what(name, mark),
            f"{abs(middle):.0f} cents too {way} {times}",
            "hold it against a drone until the beats stop, then play it in its place",
        )
        found.append((item.what, 0.6 * abs(middle) * len(values), item))
    return found


def _of_faults(faults: Sequence[tuple[str, str, str, str]]) -> list[tuple[Practice, float]]:
    """Notes that were missed, wrong or in another octave."""
    by_note: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for measure, note, mark, played in faults:
        by_note.setdefault((note, mark), []).append((measure, FAULTS[played]))
    found = []
    for (note, mark), rows in by_note.items():
        kinds = " or ".join(dict.fromkeys(kind for _, kind in rows))
        measures = list(dict.fromkeys(measure for measure, _ in rows))
        more = f" and {len(measures) - 5} more" if len(measures) > 5 else ""
        item = Practice(
            _what(note, mark),
            f"{kinds} in measure{'s' if len(measures) > 1 else ''} {', '.join(measures[:5])}{more}",
            _HOW_STOPPED if kinds == FAULTS["stopped"] else HOW_FAULTS,
        )
        found.append(
            (item, sum(_STOPPED if kind == FAULTS["stopped"] else FAULT_CENTS for _, kind in rows))
        )
    return found
