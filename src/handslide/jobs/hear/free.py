"""Free playing: each heard note beside the nearest note of the horn in its usual place.

What is kept of such a take is its report, and a row for each heard note.
"""

from dataclasses import dataclass

from handslide.edges.store.takes import NoteRow
from handslide.ground.facts import Fact, fact
from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.ground.pitch import from_midi
from handslide.ground.units import midi_to_hz
from handslide.instrument.effort import spots, standing_points
from handslide.instrument.habits import LONG_NOTE_S, PlayedNote, find_habits
from handslide.instrument.heardplace import CLOSED_M, heard_place
from handslide.instrument.marks import mark
from handslide.instrument.places import Place
from handslide.instrument.practice import suggest_practice
from handslide.instrument.takeoffset import take_offset
from handslide.jobs.hear.judge import free_facts, whole_take
from handslide.jobs.hear.listen import note_row
from handslide.jobs.hear.listening import listening_of
from handslide.jobs.hear.partreport import horn_fact, open_positions
from handslide.jobs.hear.report import ReportNote, TakeReport, report_habit
from handslide.jobs.setup import Setup
from handslide.sound.notes import HeardNote, HeardTake


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
    if heard.cents_se is None:
        return FreeNote(heard, place, text, None, None, mm_per_cent)
    return FreeNote(heard, place, text, off, mm_per_cent * heard.cents_se, mm_per_cent)


def free_report(take: HeardTake, setup: Setup, title: str) -> TakeReport:
    """The report of free playing: its notes with places, habits and advice."""
    notes = free_notes(take, setup)
    rows = [
        _played(note) for note in notes if note.place is not None and note.heard.cents is not None
    ]
    habits = find_habits(setup.horn, rows)
    common = take_offset([(row.cents, row.place.extension_m <= CLOSED_M) for row in rows])
    return TakeReport(
        kind="free",
        title=title,
        horn=horn_fact(setup),
        horn_name=setup.horn.name,
        a4_hz=take.a4_hz,
        summary=_summary(take, notes, common),
        notes=tuple(_note(note, common) for note in notes),
        habits=tuple(map(report_habit, habits)),
        practice=suggest_practice(rows, habits, [], common),
        left_out=take.left_out,
        warnings=take.warnings,
        positions_mm=open_positions(setup),
        heard=tuple(note_row(note) for note in take.notes),
        common_cents=common,
        listening=listening_of(take),
    )


def _summary(take: HeardTake, notes: tuple[FreeNote, ...], common: float) -> tuple[Fact, ...]:
    if take.nothing is not None:
        return (fact("takes.nothing_heard", why=take.nothing),)
    measured = [note.heard.cents for note in notes if note.heard.cents is not None]
    tuned = sum(abs(off - common) < IN_TUNE_CENTS for off in measured)
    said = [
        fact("takes.count_heard", count=len(notes)),
        fact("takes.count_tuned", count=tuned),
    ]
    lost = sum(note.place is None for note in notes)
    if lost:
        said.append(fact("takes.count_placeless", count=lost))
    return (*said, *whole_take(common))


def _note(note: FreeNote, common: float) -> ReportNote:
    heard, place = note.heard, note.place
    beside = None
    off = None if heard.cents is None else heard.cents - common
    if note.off_mm is not None and note.mm_per_cent is not None:
        beside = note.off_mm + note.mm_per_cent * common
    return ReportNote(
        measure=None,
        pitch=from_midi(heard.midi),
        mark=note.mark,
        played="free",
        told=free_facts(place, note.mark, off, beside, common),
        start_s=heard.start_s,
        end_s=heard.end_s,
        cents=heard.cents,
        cents_se=heard.cents_se,
        spread_cents=heard.spread_cents,
        slide_mm=note.off_mm,
        slide_se_mm=note.off_se_mm,
        beside_mm=beside,
        place_mm=None if place is None else 1000.0 * place.extension_m,
    )


def _played(note: FreeNote) -> PlayedNote:
    assert note.place is not None and note.mm_per_cent is not None
    heard = note.heard
    assert heard.cents is not None and heard.cents_se is not None
    held_s = heard.steady_end_s - heard.steady_start_s
    return PlayedNote(
        pitch=from_midi(heard.midi),
        place=note.place,
        mark=note.mark,
        cents=heard.cents,
        cents_se=heard.cents_se,
        mm_per_cent=note.mm_per_cent,
        scoop_cents=heard.scoop_cents,
        fall_cents=heard.drift_cents if held_s >= LONG_NOTE_S else None,
    )


def free_rows(take: HeardTake, setup: Setup) -> tuple[NoteRow, ...]:
    """The rows of free playing."""
    return tuple(_row(k, note) for k, note in enumerate(free_notes(take, setup)))


def _row(number: int, note: FreeNote) -> NoteRow:
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
