"""Fitting a student's horn note by note: the note to play now, how sure each place is, the end.

As with a whole list (`fitting`), nothing is kept anywhere before the horn is: a page carries the
notes along.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student
from handslide.ground.errors import BadData
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch
from handslide.instrument.fitting.advice import PlaceReport, place_reports
from handslide.instrument.fitting.fit import Fit, fit_so_far
from handslide.instrument.fitting.lesson import (
    AskedNote,
    Band,
    ask,
    bands,
    fine_enough,
    fine_mm,
    lesson_marks,
    repeats_wanted,
)
from handslide.instrument.fitting.plan import expected_hz
from handslide.instrument.fitting.rows import DEFAULT_SE_CENTS, FitRow, PlannedNote
from handslide.instrument.marks import mark
from handslide.instrument.places import Place, find_places
from handslide.studio.people.students import setup_for
from handslide.studio.tuning.fitting import (
    FitChoice,
    FitReport,
    note_fact,
    typed_row,
    usual_choice,
)
from handslide.studio.tuning.tuning import read_number

# So far from what is expected a note is still the one that is asked for: what a horn that nobody
# has heard yet may be off, and less than half the way to the next partial.
_WITHIN_CENTS = 90.0
_WITHIN_SHARE = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class FitLesson:
    """Where a lesson stands: ``asked`` None where there is no other note to ask for."""

    fit: Fit
    places: tuple[PlaceReport, ...]
    asked: AskedNote | None

    @property
    def bands(self) -> tuple[Band, ...]:
        """The map of the slide."""
        return bands(self.places)

    @property
    def worst(self) -> PlaceReport:
        """The place that is known least."""
        return max(self.places, key=lambda report: report.half_width_mm)

    @property
    def typical_mm(self) -> float:
        """Root mean square half-width of all places."""
        return math.sqrt(sum(one.half_width_mm**2 for one in self.places) / len(self.places))

    @property
    def fine(self) -> bool:
        """Whether it is fine enough."""
        return fine_enough(self.fit, self.places)

    @property
    def fine_mm(self) -> tuple[float, float]:
        """Within how many mm the places have to be known: the nearest ones and the furthest."""
        wanted = [fine_mm(one) for one in self.places]
        return min(wanted), max(wanted)

    @property
    def repeats_wanted(self) -> int:
        """How many notes are to be played again to be sure that it is fine enough."""
        return repeats_wanted(self.fit, self.places)

    @property
    def planned(self) -> PlannedNote | None:
        """The note that is asked for, as of a list."""
        if self.asked is None:
            return None
        note = self.asked.note
        return PlannedNote(note.extension_m, note.valves, note.partial, note.pitch)

    @property
    def expected_hz(self) -> float:
        """What the note that is asked for sounds about."""
        return 0.0 if self.planned is None else expected_hz(self.fit.horn(), self.planned)

    @property
    def within_cents(self) -> float:
        """How far from that it may sound and still be it."""
        partial = 1 if self.asked is None else self.asked.note.partial
        return min(_WITHIN_CENTS, _WITHIN_SHARE * 1200.0 * math.log2((partial + 1) / partial))


@dataclass(frozen=True, slots=True)
class MarkChange:
    """A note whose mark on the chart changes with a fit; None: there was no such place."""

    pitch: Pitch
    before: str | None
    after: str


def lesson_choice(student: Student, horn: StudentHorn) -> FitChoice:
    """Marks that this student reaches, and the air, to begin with."""
    usual, setup = usual_choice(horn), setup_for(student, horn)
    marks = lesson_marks(setup.horn, setup.book.limits)
    near, far = (0.0, *marks)[-2:] if marks else (0.0, 0.0)
    return replace(usual, mark_mm=round(1000.0 * far, 3), near_mm=round(1000.0 * near, 3))


def fit_lesson(
    student: Student,
    horn: StudentHorn,
    choice: FitChoice,
    rows: Sequence[FitRow],
    skipped: Sequence[PlannedNote] = (),
) -> FitLesson:
    """Where the lesson stands after ``rows``; ``skipped`` aren't asked for.

    Raises BadData for rows that can't come from such a horn, or where this student has no places.
    """
    limits = setup_for(student, horn).book.limits
    fit = fit_so_far(
        horn.description,
        rows,
        a4_hz=horn.a4_hz,
        temp_c=choice.temp_c,
        thermometer=choice.thermometer,
    )
    places = place_reports(fit, None, limits)
    if not places:
        raise BadData("fitting.no_places")
    passed = {(note.valves, note.partial or 0, note.extension_m) for note in skipped}
    asked = ask(fit, choice.marks_m, limits=limits, skipped=passed, places=places)
    return FitLesson(fit, places, asked)


def take_note(
    student: Student,
    horn: StudentHorn,
    choice: FitChoice,
    rows: Sequence[FitRow],
    note: PlannedNote,
    text: str,
    se: str = "",
) -> tuple[tuple[FitRow, ...], Fact | None]:
    """(the rows with the note that was asked for, why it wasn't taken or None).

    ``text`` is a frequency in Hz or cents as a tuner shows them, ``se`` how well it was heard, in
    cents.

    Raises
    ------
    BadUsage
        What can't be read.
    BadData
        A note that can't come from such a horn.
    """
    row = typed_row(note, text, horn.a4_hz)
    if se:
        heard = read_number(se, fact("fitting.give_cents"))
        row = replace(row, se_cents=math.hypot(min(abs(heard), 50.0), DEFAULT_SE_CENTS))
    fit = fit_lesson(student, horn, choice, (*rows, row)).fit
    for left in fit.left_out:
        if left.row is row:
            return tuple(rows), fact("fitting.not_taken", row=note_fact(note), why=left.why)
    return (*rows, row), None


def changed_marks(student: Student, horn: StudentHorn, report: FitReport) -> tuple[MarkChange, ...]:
    """The notes of the chart whose marks change with a fit, in the chart's order."""
    setup = setup_for(student, horn)
    after, style = report.fitted.horn, setup.style
    before = horn.description.tuned(horn.a4_hz, after.air)
    found = []
    for one in report.fitted.places:
        if not setup.book.limits.allows(one.place):
            continue
        old = [
            place
            for place in find_places(before, one.pitch.midi)
            if (place.valves, place.partial) == (one.place.valves, one.place.partial)
        ]
        now = mark(after, one.place, style)
        then = mark(before, _nearest(old, one.place), style) if old else None
        if then != now:
            found.append(MarkChange(one.pitch, then, now))
    return tuple(found)


def _nearest(places: Sequence[Place], place: Place) -> Place:
    return min(places, key=lambda one: abs(one.extension_m - place.extension_m))
