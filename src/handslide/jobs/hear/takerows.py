"""What is kept of a heard take: its notes as rows, and the report that its page shows.

A take beside a part has a row for each note of the part that lies in the take. A free take has a
row for each heard note, laid beside the nearest note of the horn in its usual place.
"""

from dataclasses import dataclass, replace
from typing import Any

from handslide.edges.store.takes import NoteRow
from handslide.ground.pitch import from_midi
from handslide.ground.units import midi_to_hz
from handslide.instrument.effort import spots, standing_points
from handslide.instrument.habits import Habit, PlayedNote, find_habits
from handslide.instrument.heardplace import CLOSED_M, heard_place
from handslide.instrument.marks import mark
from handslide.instrument.places import Place
from handslide.jobs.hear.follow import (
    FollowedTake,
    NoteReport,
    follow_json,
    habit_json,
    practice_json,
)
from handslide.jobs.hear.listen import take_json
from handslide.jobs.hear.sheet import (
    TakeContent,
    content_json,
    fix_mm,
    follow_content,
    shown_positions,
    summary,
    take_legend,
)
from handslide.jobs.hear.words import Practice, in_tune_words, suggest_practice
from handslide.jobs.setup import Setup
from handslide.sheets.takereport import TakeNote, TakeReport
from handslide.sound.notes import HeardNote, HeardTake

REPORT_FORM = 1
CLOSING = (
    "Nothing left the teacher's machine; for recordings of minors follow your local rules and get "
    "consent first."
)
_MARK_EVERY_S = 5
_LONG_NOTE_S = 0.8


# A take beside a part.


def part_report(followed: FollowedTake) -> dict[str, Any]:
    """The report of a followed take: what ``listen --part --json`` says and what the page needs."""
    told = follow_json(followed)
    inside = [k for k, note in enumerate(followed.notes) if not note.outside]
    return {
        "form": REPORT_FORM,
        "kind": "part",
        "title": followed.title,
        "summary": followed.doubt or summary(followed),
        "doubt": followed.doubt,
        "horn": followed.setup.horn_line,
        "notes": [
            _shown(followed.notes[k].pitch.pretty, followed.notes[k].heard, told["notes"][k], k)
            for k in inside
        ],
        "left_out": take_json(followed.take)["left_out"],
        "listen": told,
        "sheet": content_json(studio_content(followed)),
    }


def studio_content(followed: FollowedTake) -> TakeContent:
    """The page of a followed take as a studio prints it."""
    content = follow_content(followed)
    return replace(content, report=replace(content.report, closing=CLOSING))


def part_rows(followed: FollowedTake) -> tuple[NoteRow, ...]:
    """The rows of a followed take; notes before or after the take have none.

    A take that hardly fits the part has no rows at all: it says nothing of these notes.
    """
    if followed.doubt:
        return ()
    inside = [note for note in followed.notes if not note.outside]
    return tuple(_part_row(number, note) for number, note in enumerate(inside))


def _part_row(number: int, note: NoteReport) -> NoteRow:
    heard, place = note.heard, note.place
    told = heard is not None and not note.joined and note.cents is not None
    return NoteRow(
        number=number,
        measure=note.measure,
        midi=note.pitch.midi,
        valves=None if place is None else place.valves,
        partial=None if place is None else place.partial,
        extension_mm=None if place is None else 1000.0 * place.extension_m,
        mark=note.mark or None,
        played=note.played,
        cents=note.cents if told else None,
        cents_se=heard.cents_se if told and heard is not None else None,
        spread_cents=heard.spread_cents if told and heard is not None else None,
        slide_mm=note.slide_mm if told else None,
        slide_se_mm=note.slide_se_mm if told else None,
        start_s=None if heard is None else heard.start_s,
        end_s=None if heard is None else heard.end_s,
        f0_hz=None if heard is None else heard.f0_hz,
    )


def _shown(name: str, heard: HeardNote | None, told: dict[str, Any], number: int) -> dict[str, Any]:
    """A line of the page's table. ``of`` is the note's place in the JSON of ``listen``."""
    keys = ("mark", "played", "cents", "cents_se", "slide_mm", "words")
    return {
        "of": number,
        "measure": None if told.get("measure") is None else str(told["measure"]),
        "name": name,
        "start_s": None if heard is None else round(heard.start_s, 3),
        "end_s": None if heard is None else round(heard.end_s, 3),
        **{key: told[key] for key in keys},
    }


# A take of free playing.


@dataclass(frozen=True, slots=True)
class FreeNote:
    """A heard note beside the usual place of the nearest note.

    ``place`` and what belongs to it are None where the horn, or the student, has no such note.
    """

    heard: HeardNote
    place: Place | None
    mark: str
    off_mm: float | None
    off_se_mm: float | None
    mm_per_cent: float | None


def usual_place_of(setup: Setup, midi: int) -> Place | None:
    """The place of a note standing alone and long; None where the limits leave none."""
    places = list(setup.book.places(midi))
    if not places:
        return None
    at = spots(tuple(valve.name for valve in setup.horn.valves), places)
    points = standing_points(setup.profile, at).tolist()
    return places[min(range(len(places)), key=lambda k: (points[k], places[k].extension_m))]


def free_notes(take: HeardTake, setup: Setup) -> tuple[FreeNote, ...]:
    """Each heard note beside its usual place. ``setup`` is to be at the take's A4."""
    usual = {midi: usual_place_of(setup, midi) for midi in {note.midi for note in take.notes}}
    return tuple(_free_note(take, setup, note, usual[note.midi]) for note in take.notes)


def _free_note(take: HeardTake, setup: Setup, heard: HeardNote, place: Place | None) -> FreeNote:
    if place is None:
        return FreeNote(heard, None, "", None, None, None)
    target = midi_to_hz(heard.midi, take.a4_hz)
    there = heard_place(setup.horn, place, heard.f0_hz, target)
    mm_per_cent = 1000.0 * there.m_per_cent
    off = 1000.0 * there.off_m
    text = mark(setup.horn, place, setup.style)
    return FreeNote(heard, place, text, off, mm_per_cent * heard.cents_se, mm_per_cent)


def free_report(take: HeardTake, setup: Setup, title: str) -> dict[str, Any]:
    """The report of free playing: what ``listen --json`` says, with places, habits and advice."""
    notes = free_notes(take, setup)
    told = take_json(take)
    rows = [_played(note) for note in notes if note.place is not None]
    habits = find_habits(setup.horn, rows)
    practice = suggest_practice(rows, habits, [])
    lines = [_told_free(setup, note) for note in notes]
    return {
        "form": REPORT_FORM,
        "kind": "free",
        "title": title,
        "summary": free_summary(notes),
        "doubt": None,
        "horn": setup.horn_line,
        "notes": [
            _shown(from_midi(note.heard.midi).pretty, note.heard, line, number)
            for number, (note, line) in enumerate(zip(notes, lines))
        ],
        "left_out": told["left_out"],
        "listen": told
        | {
            "horn": setup.horn.name,
            "habits": [habit_json(habit) for habit in habits],
            "practice": [practice_json(item) for item in practice],
        },
        "sheet": content_json(_free_content(setup, title, notes, habits, practice)),
    }


def free_rows(take: HeardTake, setup: Setup) -> tuple[NoteRow, ...]:
    """The rows of free playing."""
    return tuple(_free_row(k, note) for k, note in enumerate(free_notes(take, setup)))


def _free_row(number: int, note: FreeNote) -> NoteRow:
    heard, place = note.heard, note.place
    return NoteRow(
        number=number,
        measure=None,
        midi=heard.midi,
        valves=None if place is None else place.valves,
        partial=None if place is None else place.partial,
        extension_mm=None if place is None else 1000.0 * place.extension_m,
        mark=note.mark or None,
        played="free",
        cents=heard.cents,
        cents_se=heard.cents_se,
        spread_cents=heard.spread_cents,
        slide_mm=note.off_mm,
        slide_se_mm=note.off_se_mm,
        start_s=heard.start_s,
        end_s=heard.end_s,
        f0_hz=heard.f0_hz,
    )


def free_summary(notes: tuple[FreeNote, ...]) -> str:
    """One line on free playing."""
    tuned = sum(in_tune_words(note.heard.cents) == "in tune" for note in notes)
    said = [f"{len(notes)} note{'' if len(notes) == 1 else 's'} heard"]
    if notes:
        said.append(f"{tuned} in tune to the ear")
    lost = sum(note.place is None for note in notes)
    if lost:
        said.append(f"{lost} that this horn doesn't have within the student's reach and valves")
    return " · ".join(said)


def _told_free(setup: Setup, note: FreeNote) -> dict[str, Any]:
    words = in_tune_words(note.heard.cents)
    if note.place is None:
        words += "; no place on this horn within the student's limits"
    elif words != "in tune" and note.off_mm is not None:
        if note.place.extension_m <= CLOSED_M and note.off_mm < 0:
            words += ": the slide can't be shorter: it's the lip or the tuning slide"
        else:
            way = "too far out" if note.off_mm > 0 else "too short"
            words += f": {abs(note.off_mm):.0f} mm {way}, if it was played in {note.mark}"
    return {
        "mark": note.mark or None,
        "played": "free",
        "cents": round(note.heard.cents, 2),
        "cents_se": round(note.heard.cents_se, 2),
        "slide_mm": None if note.off_mm is None else round(note.off_mm, 1),
        "words": words,
    }


def _played(note: FreeNote) -> PlayedNote:
    assert note.place is not None and note.mm_per_cent is not None
    heard = note.heard
    held_s = heard.steady_end_s - heard.steady_start_s
    return PlayedNote(
        name=from_midi(heard.midi).pretty,
        place=note.place,
        mark=note.mark,
        cents=heard.cents,
        cents_se=heard.cents_se,
        mm_per_cent=note.mm_per_cent,
        scoop_cents=heard.scoop_cents,
        fall_cents=heard.drift_cents if held_s >= _LONG_NOTE_S else None,
    )


def _free_content(
    setup: Setup,
    title: str,
    notes: tuple[FreeNote, ...],
    habits: tuple[Habit, ...],
    practice: tuple[Practice, ...],
) -> TakeContent:
    shown = tuple(_free_dot(note) for note in notes)
    about = "Free playing: each note beside the nearest note of the horn in its usual place; the "
    about += "numbers above are minutes and seconds."
    report = TakeReport(
        notes=shown,
        habits=tuple(habit.words for habit in habits),
        practice=tuple((item.what, f"{item.why}: {item.how}.") for item in practice),
        positions_mm=shown_positions(setup.horn),
        closing=CLOSING,
    )
    lines = (setup.horn_line, free_summary(notes), about)
    return TakeContent(title, lines, take_legend(shown), report)


def _free_dot(note: FreeNote) -> TakeNote:
    heard = note.heard
    place = None if note.place is None else 1000.0 * note.place.extension_m
    slide = None if place is None or note.off_mm is None else place + note.off_mm
    begun = int(heard.start_s) // _MARK_EVERY_S * _MARK_EVERY_S
    return TakeNote(
        measure=f"{begun // 60}:{begun % 60:02d}",
        name=from_midi(heard.midi).pretty,
        mark=note.mark,
        played="right",
        cents=heard.cents,
        cents_se=heard.cents_se,
        place_mm=place,
        slide_mm=slide,
        fix_mm=fix_mm(place, note.off_mm, heard.cents),
    )
