"""Tuning a student's horn step by step: which slides there are, what to play, what was moved."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from handslide.edges.files.hornwriter import horn_toml
from handslide.edges.store.horns import HornVersion, StudentHorn
from handslide.ground.errors import BadUsage, HandslideError, NotFound
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi, parse_pitch
from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.air import Air
from handslide.instrument.horn import Horn
from handslide.instrument.moved import MAIN, MOST_MOVED_MM, after_move, as_measured
from handslide.instrument.tuning import DEFAULT_SE_CENTS
from handslide.jobs.tune.takes import Heard, Recording, note_from_take, pair_from_takes
from handslide.jobs.tune.tune import (
    NoteHeard,
    TuneResult,
    pull_low,
    tune_by_notes,
    tune_pair,
    whole_tenths_mm,
)
from handslide.studio.people.students import add_version, get_horn, get_student
from handslide.studio.studio import Studio

# What may stand behind a typed number.
_UNIT = re.compile(r"\s*(hz|mm|°\s?c)$", re.IGNORECASE)
# A note that lies further off by itself isn't one to tune by.
_OFF_BY_ITSELF_CENTS = 3.0
_PARTIALS = (2, 3, 4, 6, 8)
GIVE_TEMP = fact("tuning.give_temp")
# So many notes say whether it is the slide or the lip, and don't tire anybody.
_LESSON_NOTES = 4
MOST_SE_CENTS = 100.0
# Nobody sets a tuning slide more finely than this.
_LEAST_MOVE_MM = 0.25
# From here on whole millimetres.
_WHOLE_MM = 9.95


@dataclass(frozen=True, slots=True)
class TuneStep:
    """One slide to tune. ``kind``: ``main``, ``loop`` or ``low`` (pulled for a low note).

    ``notes`` are good ones to play against A4, the best first; ``pairs`` those that sound the same
    open and with ``valves``, closed slide.
    """

    key: str
    kind: str
    valves: tuple[str, ...]
    notes: tuple[Pitch, ...] = ()
    pairs: tuple[Pitch, ...] = ()

    @property
    def slide(self) -> str:
        """The slide that moves: ``main`` or a valve's name."""
        return self.valves[-1] if self.valves else MAIN


@dataclass(frozen=True, slots=True)
class LessonNote:
    """A note to play with closed slide: what it is, the valves that are down, where it should be.

    ``part`` says what it is for: ``note`` (against A4), or ``open`` and ``valve`` of a pair.
    """

    pitch: Pitch
    valves: tuple[str, ...]
    part: str
    hz: float


@dataclass(frozen=True, slots=True)
class TuneWords:
    """What was typed or heard, as text; empty where nothing was. ``se`` belong to what was heard.

    A pair is ``open_hz`` and ``valve_hz``; a single note is ``note`` with ``hz``; ``heard`` are
    notes that were heard live.
    """

    note: str = ""
    hz: str = ""
    open_hz: str = ""
    valve_hz: str = ""
    se: float = DEFAULT_SE_CENTS
    open_se: float = DEFAULT_SE_CENTS
    valve_se: float = DEFAULT_SE_CENTS
    temp_c: str = ""
    play_temp_c: str = ""
    low: str = ""
    most_mm: str = ""
    heard: tuple[NoteHeard, ...] = ()

    @property
    def asked(self) -> bool:
        """Whether there is anything to give advice on."""
        return bool(self.hz or self.open_hz or self.valve_hz or self.heard)


@dataclass(frozen=True, slots=True)
class TuneAdvice:
    """The result for a step.

    ``set_mm`` is how far to move, as finely as a hand sets it: tenths below 10 mm, whole mm beyond,
    and tenths for a low note, rounded up as its sentence is.
    """

    result: TuneResult
    set_mm: float

    @property
    def out_mm(self) -> float:
        """How far the slide is to come out; negative: in."""
        if self.result.direction == "none":
            return 0.0
        return self.set_mm if self.result.direction == "out" else -self.set_mm

    @property
    def span_mm(self) -> tuple[float, float]:
        """Where the slide will stop, out positive: the ends of a 95 % interval."""
        wide = 1.96 * self.result.pull_se_mm
        return self.out_mm - wide, self.out_mm + wide


def tuned_horn(horn: StudentHorn, temp_c: str = "") -> Horn:
    """A student's horn in the air of the room. Raises BadUsage or AirError."""
    description = horn.description
    own = description.temp_c if horn.temp_c is None else horn.temp_c
    temp = own if not temp_c else read_number(temp_c, GIVE_TEMP)
    return description.tuned(horn.a4_hz, Air(temp_c=temp))


def tune_steps(horn: Horn) -> tuple[TuneStep, ...]:
    """The slides of a horn in the order in which they are tuned."""
    steps = [TuneStep(MAIN, "main", (), _good_notes(horn, ()))]
    for valves in horn.valve_sets[1:]:
        last = next(valve for valve in horn.valves if valve.name == valves[-1])
        if len(valves) == 1 or last.needs in valves:
            key = "+".join(valves)
            steps.append(
                TuneStep(key, "loop", valves, _good_notes(horn, valves), _pairs(horn, valves))
            )
    for valve in horn.valves:
        if valve.needs is None and valve.loop_m > 0.0:
            steps.append(TuneStep(f"low-{valve.name}", "low", (valve.name,)))
            break
    return tuple(steps)


def get_step(horn: Horn, key: str) -> TuneStep:
    """One of :func:`tune_steps`. Raises NotFound."""
    for step in tune_steps(horn):
        if step.key == key:
            return step
    raise NotFound("tuning.no_such_step")


def advise(horn: Horn, step: TuneStep, words: TuneWords) -> TuneAdvice:
    """The advice for what was typed or heard.

    Raises
    ------
    BadUsage, PitchError
        What can't be read, or is missing.
    BadData
        Frequencies that can't be right.
    """
    result = _advise(horn, step, words)
    if step.kind == "low":
        return TuneAdvice(result, whole_tenths_mm(result.pull_mm))
    if result.pull_mm < _LEAST_MOVE_MM:
        return TuneAdvice(replace(result, direction="none"), 0.0)
    return TuneAdvice(result, round(result.pull_mm, 1 if result.pull_mm < _WHOLE_MM else 0))


def _advise(horn: Horn, step: TuneStep, words: TuneWords) -> TuneResult:
    if step.kind == "low":
        most = None if not words.most_mm else read_number(words.most_mm, fact("tuning.give_length"))
        return pull_low(horn, step.valves, words.low or None, most)
    if words.open_hz or words.valve_hz:
        if step.kind != "loop":
            raise BadUsage("tuning.main_by_one_note")
        open_hz = read_number(words.open_hz, fact("tuning.give_open_hz"))
        valve_hz = read_number(words.valve_hz, fact("tuning.give_valve_hz"))
        return tune_pair(horn, open_hz, valve_hz, step.valves, (words.open_se, words.valve_se))
    notes = words.heard
    if not notes:
        hz = read_number(words.hz, fact("tuning.give_hz"))
        notes = (NoteHeard(parse_pitch(words.note), Heard(hz, words.se)),)
    later = None
    if words.play_temp_c:
        later = read_number(words.play_temp_c, GIVE_TEMP)
    return tune_by_notes(horn, notes, step.valves, play_temp_c=later)


def heard_text(note: NoteHeard) -> str:
    """A heard note as text that a page carries along."""
    return f"{note.pitch.name}:{note.heard.hz:.3f}:{note.heard.se_cents:.2f}"


def read_heard(text: str) -> NoteHeard:
    """A note from :func:`heard_text`. Raises BadUsage."""
    try:
        name, hz, se = text.split(":")
        note = NoteHeard(parse_pitch(name), Heard(float(hz), float(se)))
    except ValueError:
        raise BadUsage("tuning.unread_heard") from None
    if not (math.isfinite(note.heard.hz) and 0.0 <= note.heard.se_cents <= MOST_SE_CENTS):
        raise BadUsage("tuning.unread_heard")
    return note


def lesson_notes(horn: Horn, step: TuneStep, only: str = "") -> tuple[LessonNote, ...]:
    """What is played for a step, one after the other; none for a low note.

    A loop against the open horn where it can be; else some notes against A4, from below. ``only``
    is the name of the one that is to be heard again.
    """
    if step.pairs:
        pitch = step.pairs[0]
        hz = pitch.hz(horn.a4_hz)
        return (LessonNote(pitch, (), "open", hz), LessonNote(pitch, step.valves, "valve", hz))
    notes = [note for note in step.notes if note.name == only] or step.notes[:_LESSON_NOTES]
    return tuple(
        LessonNote(pitch, step.valves, "note", pitch.hz(horn.a4_hz))
        for pitch in sorted(notes, key=lambda note: note.midi)
    )


def hear_words(
    horn: Horn, step: TuneStep, words: TuneWords, takes: Sequence[Recording], pair: bool
) -> TuneWords:
    """``words`` with what recordings say: one note, or a pair in one take or two (open first).

    Raises
    ------
    BadUsage
        When there are too few or too many.
    TakeError, BadData
        Recordings that can't be used.
    """
    most = 2 if pair else 1
    if not 1 <= len(takes) <= most:
        kind = "tuning.takes_for_pair" if pair else "tuning.takes_for_note"
        raise BadUsage(kind, count=len(takes))
    if pair:
        first, second = pair_from_takes(takes, horn.a4_hz)
        return replace(
            words, hz="", open_hz=_hz(first), open_se=_se(first), valve_hz=_hz(second),
            valve_se=_se(second),
        )  # fmt: skip
    heard = note_from_take(takes[0], horn.a4_hz)
    return replace(words, open_hz="", valve_hz="", hz=_hz(heard), se=_se(heard))


def keep_move(
    studio: Studio,
    student_id: int,
    horn_id: int,
    key: str,
    words: TuneWords,
    *,
    mm: str,
    way: str,
) -> HornVersion:
    """Write a moved slide into the history of a student's horn, as a new version of it.

    ``words`` are what was heard before: the history says why the slide was moved.

    Where the horn is described by notes, tuning keeps it true and only what is said of it is new;
    where it was measured, the closed tubes through the slide are reckoned anew. A loop that was
    pulled for a low note has no note of its own any more: the horn is then kept by frequencies.

    Raises
    ------
    NotFound
        When the student or the horn isn't in the studio.
    BadUsage, BadData
        A length or way that can't be.
    """
    student, horn = get_student(studio, student_id), get_horn(studio, horn_id)
    if horn.student_id != student.id:
        raise NotFound("tuning.not_students_horn")
    tuned = tuned_horn(horn)
    step = get_step(tuned, key)
    moved_mm = read_number(mm, fact("tuning.give_moved"))
    if way not in ("out", "in"):
        raise BadUsage("tuning.which_way")
    if not 0.0 < moved_mm <= MOST_MOVED_MM:
        raise BadUsage("tuning.impossible_move", most_mm=MOST_MOVED_MM, moved_mm=moved_mm)
    before = horn.description
    if step.kind == "low":
        before = as_measured(before, tuned)
    after = after_move(before, step.slide, moved_mm if way == "out" else -moved_mm)
    origin = fact(
        "tuning.moved_slide",
        slide=step.slide,
        direction=way,
        moved_mm=moved_mm,
        why=_why(tuned_horn(horn, words.temp_c), step, words),
    )
    toml = horn.version.toml if after == horn.description else horn_toml(after)
    return add_version(studio, horn_id, toml, "tuning", origin)


def _why(horn: Horn, step: TuneStep, words: TuneWords) -> Fact | None:
    """What was found of the slide before it was moved; None where nothing was."""
    if not (words.asked or step.kind == "low"):
        return None
    try:
        return advise(horn, step, words).result.facts[0]
    except HandslideError:
        return None


def changes_horn(horn: StudentHorn, step: TuneStep) -> bool:
    """Whether moving the slide of a step changes the horn's values, not only its tuning."""
    description = horn.description
    return step.kind == "low" or after_move(description, step.slide, 1.0) != description


def read_number(text: str, wanted: Fact) -> float:
    """A typed number, with decimal point or comma, its unit or none.

    Raises BadUsage: ``wanted`` says what is to be given.

    >>> read_number("174,6 Hz", fact("tuning.give_hz"))
    174.6
    """
    bare = _UNIT.sub("", text.strip())
    try:
        number = float(bare.replace(",", ".").replace("−", "-"))
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        if not text.strip():
            raise BadUsage(wanted.kind, **wanted.values)
        raise BadUsage("tuning.unread_number", text=text.strip()[:30], wanted=wanted)
    return number


def _good_notes(horn: Horn, valves: tuple[str, ...]) -> tuple[Pitch, ...]:
    """Notes of the closed slide that lie in tune by themselves, from the middle outwards."""
    found = []
    for partial in _PARTIALS:
        pitch, off = _nearest(horn, partial, valves)
        if abs(off) <= _OFF_BY_ITSELF_CENTS or partial in (2, 4, 8):
            found.append((abs(partial - 4), pitch))
    return tuple(pitch for _, pitch in sorted(found, key=lambda row: row[0]))


def _pairs(horn: Horn, valves: tuple[str, ...]) -> tuple[Pitch, ...]:
    """Notes that sound the same without and with valves when all is in tune by notes' names."""
    tube = horn.length_m + horn.loops_m(valves)
    lower = round(cents(tube / horn.length_m) / 100.0)
    found = []
    for partial in _PARTIALS:
        for other in range(2, 13):
            apart = cents(other / partial) - 100.0 * lower
            if abs(apart) <= _OFF_BY_ITSELF_CENTS:
                found.append(_nearest(horn, partial, ())[0])
    return tuple(found)


def _nearest(horn: Horn, partial: int, valves: tuple[str, ...]) -> tuple[Pitch, float]:
    # The note that a partial of the closed slide is, and how far off it lies by nature.
    midi = A4_MIDI + cents(horn.frequency_hz(partial, 0.0, valves) / horn.a4_hz) / 100.0
    semitones = cents(partial) / 100.0
    return from_midi(round(midi)), 100.0 * (semitones - round(semitones))


def _hz(heard: Heard) -> str:
    return f"{heard.hz:.3f}"


def _se(heard: Heard) -> float:
    return round(heard.se_cents, 2)
