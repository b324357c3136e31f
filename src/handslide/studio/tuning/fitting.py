"""Fitting a student's horn step by step: what to play, what was heard, how sure it is, keeping it.

The notes of a fit in progress are kept nowhere: a page carries them along as text, so that nothing
is lost when the studio is closed, and nothing is stored before the horn is.
"""

import json
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from handslide.edges.files.hornwriter import horn_toml
from handslide.edges.store.horns import HornVersion, StudentHorn
from handslide.ground.errors import BadData, BadUsage, HandslideError, NotFound
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import FIT_ROWS, NAME_LETTERS
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.ground.units import cents_to_ratio
from handslide.instrument.air import Air
from handslide.instrument.fitting.rows import FitRow, PlannedNote
from handslide.instrument.horn import Horn
from handslide.instrument.places import find_places
from handslide.jobs.tune.fit import (
    FittedHorn,
    TakeRows,
    fit_rows,
    plan_notes,
    rows_from_take,
    usual_mark_mm,
)
from handslide.jobs.tune.takes import Recording
from handslide.studio.people.students import add_version, get_horn
from handslide.studio.studio import Studio
from handslide.studio.tuning.tuning import GIVE_TEMP, read_number

_CENTS = re.compile(r"([+\-−]?\d+(?:[.,]\d+)?)\s*(?:ct|cents?|c|¢)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class FitChoice:
    """How a horn is fitted: the mark (0: closed slide only), the air, and if that is known.

    ``near_mm`` is a second mark, for a lesson; 0: none.
    """

    mark_mm: float
    temp_c: float
    thermometer: bool = True
    near_mm: float = 0.0

    @property
    def marks_m(self) -> tuple[float, ...]:
        """The marks in m, without those that there aren't."""
        return tuple(sorted({mm / 1000.0 for mm in (self.near_mm, self.mark_mm) if mm}))


@dataclass(frozen=True, slots=True)
class FitDraft:
    """A fit in progress: the notes to play, what was typed beside each, and the notes so far."""

    planned: tuple[PlannedNote, ...]
    typed: tuple[str, ...] = ()
    rows: tuple[FitRow, ...] = ()

    @property
    def lines(self) -> tuple[tuple[PlannedNote, str], ...]:
        """Each note to play with what was typed beside it."""
        typed = (*self.typed, *[""] * len(self.planned))
        return tuple(zip(self.planned, typed))


@dataclass(frozen=True, slots=True)
class PlaceChange:
    """A usual place before and after a fit, mm from the stop; None: not on the slide before."""

    pitch: Pitch
    valves: tuple[str, ...]
    partial: int
    before_mm: float | None
    after_mm: float
    half_width_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class FitReport:
    """A fitted horn, how its places moved, and the notes to play next."""

    fitted: FittedHorn
    places: tuple[PlaceChange, ...]
    planned: tuple[PlannedNote, ...]

    @property
    def typical_mm(self) -> float:
        """Root mean square half-width of all usual places."""
        squares = [place.half_width_mm**2 for place in self.places]
        return math.sqrt(sum(squares) / len(squares))


def usual_choice(horn: StudentHorn) -> FitChoice:
    """The mark and the air to begin with."""
    description = horn.description
    temp = description.temp_c if horn.temp_c is None else horn.temp_c
    return FitChoice(usual_mark_mm(_tuned(horn, temp)), temp)


def read_choice(
    horn: StudentHorn, mark: str, temp_c: str, *, thermometer: bool, near: str = ""
) -> FitChoice:
    """A choice as typed; an empty text is the usual value, and no second mark.

    Raises
    ------
    BadUsage, BadData, AirError
        What can't be read, a mark outside the slide, air out of range.
    """
    usual = usual_choice(horn)
    choice = FitChoice(
        read_number(mark, fact("fitting.give_mark")) if mark else usual.mark_mm,
        read_number(temp_c, GIVE_TEMP) if temp_c else usual.temp_c,
        thermometer,
        read_number(near, fact("fitting.give_mark")) if near else 0.0,
    )
    tuned = _tuned(horn, choice.temp_c)
    for mark_mm in (choice.mark_mm, choice.near_mm):
        if mark_mm < 0.0:
            raise BadUsage("fitting.negative_mark", mark_mm=mark_mm)
        plan_notes(tuned, mark_mm)
    if not thermometer and not choice.marks_m:
        raise BadUsage("fitting.no_scale")
    return choice


def first_draft(horn: StudentHorn, choice: FitChoice) -> FitDraft:
    """The list of notes to play. Raises BadData for a mark outside the slide."""
    return FitDraft(plan_notes(_tuned(horn, choice.temp_c), choice.mark_mm))


def take_typed(horn: StudentHorn, draft: FitDraft) -> FitDraft:
    """``draft`` with what was typed among its notes.

    A frequency in Hz, or with ``ct`` the cents above the note's name that a tuner shows.

    Raises
    ------
    BadUsage
        What can't be read, with the note that it belongs to.
    """
    rows = list(draft.rows)
    for note, text in draft.lines:
        if text.strip():
            rows.append(typed_row(note, text.strip(), horn.a4_hz))
    if len(rows) > FIT_ROWS:
        raise BadUsage("fitting.too_many_notes", count=len(rows))
    return replace(draft, typed=(), rows=tuple(rows))


def hear_takes(
    horn: StudentHorn, choice: FitChoice, draft: FitDraft, takes: Sequence[Recording]
) -> tuple[FitDraft, tuple[TakeRows, ...], tuple[Fact, ...]]:
    """``draft`` with the notes of takes of its list; what each had; what is wrong with bad ones."""
    tuned = _tuned(horn, choice.temp_c)
    named = [replace(note, label=note_fact(note)) for note in draft.planned]
    heard, problems = [], []
    for take in takes:
        try:
            heard.append(rows_from_take(named, take, tuned))
        except HandslideError as error:
            problems.append(error.fact)
    rows = (*draft.rows, *(row for one in heard for row in one.rows))
    return replace(draft, rows=rows), tuple(heard), tuple(problems)


def fit_draft(horn: StudentHorn, choice: FitChoice, draft: FitDraft) -> FitReport:
    """Fit the horn to the notes of ``draft``, beginning from the version in use.

    Raises
    ------
    BadData
        When the notes are too few, can't come from this horn or contradict each other.
    """
    base = horn.description
    fitted = fit_rows(
        draft.rows,
        base,
        name=base.name,
        title=base.title,
        a4_hz=horn.a4_hz,
        temp_c=choice.temp_c,
        thermometer=choice.thermometer,
    )
    old = base.tuned(horn.a4_hz, fitted.horn.air)
    places = []
    for report in fitted.places:
        place = report.place
        same = [
            1000.0 * one.extension_m
            for one in find_places(old, report.pitch.midi)
            if (one.valves, one.partial) == (place.valves, place.partial)
        ]
        places.append(
            PlaceChange(
                report.pitch, place.valves, place.partial, same[0] if same else None,
                1000.0 * place.extension_m, report.half_width_mm,
            )
        )  # fmt: skip
    following = tuple(
        PlannedNote(note.extension_m, note.valves, note.partial, note.pitch)
        for note in fitted.next_notes
    )
    return FitReport(fitted, tuple(places), following)


def keep_fit(
    studio: Studio, student_id: int, horn_id: int, choice: FitChoice, draft: FitDraft
) -> HornVersion:
    """Fit and keep the horn as its newest version; the former one stays in the history.

    Raises
    ------
    NotFound
        When the student's horn isn't in the studio.
    BadData
        As :func:`fit_draft`.
    """
    horn = get_horn(studio, horn_id)
    if horn.student_id != student_id:
        raise NotFound("tuning.not_students_horn")
    fitted = fit_draft(horn, choice, draft).fitted
    return add_version(studio, horn_id, horn_toml(fitted.description), "fit", fitted.origin)


def note_fact(note: PlannedNote) -> Fact:
    """What a note to play is called: name, valves, where the slide is."""
    return fact(
        "fitting.listed_note",
        note=note.meant or fact("fitting.partial", partial=note.partial or 0),
        valves=note.valves,
        extension_mm=round(1000.0 * note.extension_m, 3),
    )


def row_text(row: FitRow) -> str:
    """A note of the studio as text that a page carries along.

    Of what it is called only that is kept which the rest of it doesn't say: the name of the note
    in the list, and where in which take it was heard.
    """
    label, heard = row.label, None
    if label is not None and label.kind == "fitting.heard_note":
        heard = label["take"], label["at_s"]
        label = label["note"]
    named = None if label is None or isinstance(label["note"], Fact) else label["note"].name
    return json.dumps(
        [row.frequency_hz, round(1000.0 * row.extension_m, 3), row.valves, row.partial,
         row.se_cents, None if row.meant is None else row.meant.name, named, heard],
        ensure_ascii=False,
    )  # fmt: skip


def read_row(text: str) -> FitRow:
    """A note from :func:`row_text`. Raises BadData."""
    try:
        hz, mm, valves, partial, se, meant, named, heard = json.loads(text)
        row = FitRow(
            float(hz), float(mm) / 1000.0, tuple(str(name) for name in valves),
            None if partial is None else int(partial), float(se), _pitch(meant),
        )  # fmt: skip
        label = note_fact(PlannedNote(row.extension_m, row.valves, row.partial, _pitch(named)))
        if heard is not None:
            take, at_s = heard
            label = fact(
                "fitting.heard_note", note=label, take=str(take)[:NAME_LETTERS], at_s=float(at_s)
            )
        return replace(row, label=label)
    except (ValueError, TypeError, OverflowError, RecursionError):
        raise BadData("fitting.unread_note") from None


def _pitch(name: object) -> Pitch | None:
    return None if name is None else parse_pitch(str(name))


def planned_text(note: PlannedNote) -> str:
    """A note to play as text that a page carries along."""
    meant = None if note.meant is None else note.meant.name
    return json.dumps([round(1000.0 * note.extension_m, 3), note.valves, note.partial, meant])


def read_planned(text: str) -> PlannedNote:
    """A note to play from :func:`planned_text`. Raises BadData."""
    try:
        mm, valves, partial, meant = json.loads(text)
        return PlannedNote(
            float(mm) / 1000.0, tuple(str(name) for name in valves),
            None if partial is None else int(partial), _pitch(meant),
        )  # fmt: skip
    except (ValueError, TypeError, OverflowError, RecursionError):
        raise BadData("fitting.unread_list") from None


def typed_row(note: PlannedNote, text: str, a4_hz: float) -> FitRow:
    """A note with what was typed beside it: Hz, or cents from its name. Raises BadUsage."""
    label = note_fact(note)
    shown = _CENTS.fullmatch(text)
    try:
        if shown is not None:
            if note.meant is None:
                raise BadUsage("fitting.no_name_for_cents")
            off = read_number(shown[1], fact("fitting.give_cents"))
            hz = note.meant.hz(a4_hz) * cents_to_ratio(off)
        else:
            hz = read_number(text, fact("fitting.give_hz_or_cents"))
    except BadUsage as error:
        raise BadUsage("fitting.typed_note", note=label, problem=error.fact) from None
    return FitRow(hz, note.extension_m, note.valves, note.partial, label=label)


def _tuned(horn: StudentHorn, temp_c: float) -> Horn:
    return horn.description.tuned(horn.a4_hz, Air(temp_c=temp_c))
