"""Charts in a studio: a wish starts from the student's own ways, and can differ in everything."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from handslide.edges.files.profiles import BY_HORN
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student
from handslide.edges.typesetting.drawing import render
from handslide.edges.typesetting.screen import screen_svg
from handslide.ground.errors import BadUsage, HandslideError
from handslide.ground.facts import Fact
from handslide.ground.limits import OPEN_SHEETS_BYTES
from handslide.ground.papers import DEFAULT_PAPER
from handslide.ground.pitch import from_midi
from handslide.ground.wholenumber import whole_number
from handslide.jobs.chart.chart import ChartOptions, chart, check_format
from handslide.jobs.chart.classroom import joined
from handslide.jobs.chart.content import chart_range, default_clef
from handslide.jobs.classes import safe_stem
from handslide.jobs.setup import DEFAULT_HORN, Setup, make_setup, with_bell
from handslide.sheets.shapes import Sheet
from handslide.studio.cache import CacheKind
from handslide.studio.people.horns import model, models
from handslide.studio.people.namesakes import Names
from handslide.studio.people.students import (
    get_horn,
    get_student,
    list_horns_of,
    list_students,
    main_horn,
    setup_for,
    speech_for,
)
from handslide.studio.preferences import preferences
from handslide.studio.studio import Studio
from handslide.words.charts import class_title
from handslide.words.speech import Speech

ORIENTATIONS = {"auto": None, "portrait": False, "landscape": True}
"""How a page can lie; what each means for the sheet's ``landscape``."""
_DRAWN: CacheKind[tuple[Sheet, str], tuple[bytes, ...]] = CacheKind(
    100, lambda files: sum(map(len, files)), OPEN_SHEETS_BYTES
)
# A class is looked at, then printed.
_SHAPE_BYTES = 400
_CLASS: CacheKind[tuple[object, ...], Sheet] = CacheKind(
    200,
    lambda sheet: _SHAPE_BYTES * sum(len(page.shapes) for page in sheet.pages),
    OPEN_SHEETS_BYTES,
)


@dataclass(frozen=True, slots=True)
class ChartWish:
    """What to chart, for whom and how.

    ``horn`` is the number of one of the student's horns, or, without a student, the name of a horn
    of ours. ``other`` is the second horn of a comparison: a name, ``horn-7`` for a horn of a
    student, or ``student-3`` for that student's main horn and limits. ``clef``, ``low`` and
    ``high`` empty: the horn's usual ones; ``names`` empty: as the reader's language names notes.
    ``learned`` None: all valves. ``pedals``: the usual range begins with those of the open horn.
    ``bell_mm``: how far out the slide's brace is level with the bell's rim (None: as the horn has
    it).
    """

    student_id: int | None = None
    horn: str = DEFAULT_HORN
    sheet: str = "all"
    other: str = ""
    clef: str = ""
    names: str = ""
    marks: str = ""
    reach: float | None = None
    learned: tuple[str, ...] | None = None
    paper: str = DEFAULT_PAPER
    orientation: str = "auto"
    low: str = ""
    high: str = ""
    pedals: bool = True
    bell_mm: float | None = None

    @property
    def options(self) -> ChartOptions:
        """The options of the sheet, but for the student's name. Raises BadUsage."""
        if self.orientation not in ORIENTATIONS:
            raise BadUsage("charts.orientation", name=self.orientation, known=tuple(ORIENTATIONS))
        return ChartOptions(
            sheet=self.sheet,
            clef=self.clef or None,
            names=self.names or None,
            paper=self.paper,
            landscape=ORIENTATIONS[self.orientation],
            low=self.low or None,
            high=self.high or None,
            pedals=self.pedals,
        )


@dataclass(frozen=True, slots=True)
class ChartChoices:
    """What a page of wishes shows beside them: the horns to choose from, and the usual values.

    ``horns`` and ``others`` are pairs of a value of :class:`ChartWish` and what the horn is called.
    """

    student: Student | None
    students: tuple[Student, ...]
    horns: tuple[tuple[str, str | Fact], ...]
    others: tuple[tuple[str, str | Fact], ...]
    valves: tuple[str, ...]
    usual_clef: str
    usual_low: str
    usual_high: str
    usual_bell_mm: float | None


@dataclass(frozen=True, slots=True)
class ClassChart:
    """One student's sheet for the class, or why there is none."""

    student: Student
    sheet: Sheet | None
    problem: Fact | None = None

    def picture(self, label: str) -> str:
        """Its first page as an SVG element for a page, ``label`` for those who hear it."""
        assert self.sheet is not None
        first = self.sheet.pages[0]
        return screen_svg(first.shapes, first.width_mm, first.height_mm, label=label)


def first_wish(studio: Studio, student_id: int | None = None, horn: str = "") -> ChartWish:
    """The wish that a student's own ways make; without a student, a horn of ours.

    A ``horn`` that isn't among the choices is passed over for the first of them. Raises NotFound.
    """
    paper = preferences(studio).paper
    if student_id is None:
        known = dict(models())
        return ChartWish(horn=horn if horn in known else DEFAULT_HORN, paper=paper)
    student = get_student(studio, student_id)
    own = {str(one.id) for one in list_horns_of(studio, student_id)}
    return ChartWish(
        student_id=student_id,
        horn=horn if horn in own else str(main_horn(studio, student_id).id),
        clef=student.clef or "",
        names=student.names,
        marks=student.marks,
        reach=student.reach,
        learned=student.learned,
        paper=paper,
    )


def chart_choices(studio: Studio, wish: ChartWish, say: Speech) -> ChartChoices:
    """The choices beside ``wish``. Raises NotFound or HornError."""
    students = list_students(studio)
    student = None if wish.student_id is None else get_student(studio, wish.student_id)
    built = models()
    if student is None:
        horns = built
    else:
        horns = tuple((str(one.id), one.title) for one in list_horns_of(studio, student.id))
    others = [(f"horn-{value}", title) for value, title in horns if student and value != wish.horn]
    names = Names(studio)
    for one in students:
        if one.id != wish.student_id and list_horns_of(studio, one.id):
            name = names.student(one.id).words(say)
            others.append((f"student-{one.id}", f"{name}: {main_horn(studio, one.id).title}"))
    setup = wished_setup(studio, replace(wish, reach=None, learned=None, bell_mm=None))
    low, high = chart_range(setup.book, pedals=wish.pedals)
    return ChartChoices(
        student=student,
        students=students,
        horns=horns,
        others=(*others, *(row for row in built if row[0] != wish.horn)),
        valves=tuple(valve.name for valve in setup.horn.valves),
        usual_clef=default_clef(setup.horn).name,
        usual_low=from_midi(low).pretty,
        usual_high=from_midi(high).pretty,
        usual_bell_mm=None if setup.horn.bell_m is None else 1000.0 * setup.horn.bell_m,
    )


def wished_sheet(studio: Studio, wish: ChartWish, say: Speech) -> Sheet:
    """The sheet that is wished for: the same as ``handslide chart`` makes.

    Raises
    ------
    BadUsage, PitchError
        A range or other wish that can't be, or that leaves the sheet empty.
    NotFound
        When the student or the horn isn't in the studio.
    """
    student = None if wish.student_id is None else get_student(studio, wish.student_id)
    if student is not None:
        say = speech_for(student, say)
    setup = wished_setup(studio, wish)
    against = _other(studio, wish) if wish.sheet == "compare" else None
    name = "" if student is None else Names(studio).student(student.id).words(say)
    options = replace(wish.options, student=name)
    return chart(setup, options, say, against)


def file_stem(studio: Studio, wish: ChartWish) -> str:
    """What the file of a sheet is called, without its ending."""
    if wish.student_id is None:
        return f"{safe_stem(wish.horn)}-{wish.sheet}"
    return f"{safe_stem(Names(studio).student(wish.student_id).plain)}-{wish.sheet}"


def drawn(studio: Studio, sheet: Sheet, form: str) -> tuple[bytes, ...]:
    """A sheet as one PDF, or as a picture a page (``svg``, ``png``). Raises BadUsage."""
    check_format(form)
    return studio.caches.of(_DRAWN).get((sheet, form), lambda: render(sheet, form))


def class_charts(
    studio: Studio, wish: ChartWish, say: Speech, students: Sequence[Student]
) -> Iterator[ClassChart]:
    """A sheet for each student on the own main horn, one by one as they are made.

    Sheet, paper, range and pedals come from ``wish``; clef, names, marks and limits are each
    student's own. Who can't have such a sheet is given with the reason. Raises BadUsage for a wish
    that nobody can have, before the first.
    """
    options, names = wish.options, Names(studio)
    return (_class_chart(studio, names, options, say, student) for student in students)


def _class_chart(
    studio: Studio, names: Names, options: ChartOptions, say: Speech, student: Student
) -> ClassChart:
    try:
        setup = setup_for(student, main_horn(studio, student.id))
        own_say = speech_for(student, say)
        name = names.student(student.id).words(own_say)
        own = replace(options, student=name, clef=student.clef or None)
        key = (setup.horn, repr(setup.profile), setup.book.limits, setup.style, own, own_say)
        sheet = studio.caches.of(_CLASS).get(key, lambda: chart(setup, own, own_say))
        return ClassChart(student, sheet)
    except HandslideError as error:
        return ClassChart(student, None, error.fact)


def class_sheet(rows: Iterable[ClassChart], sheet: str, say: Speech) -> Sheet:
    """All sheets of a class as one. Raises BadUsage when there is none."""
    sheets = [row.sheet for row in rows if row.sheet is not None]
    if not sheets:
        raise BadUsage("charts.class_empty")
    return joined(class_title(say, "", sheet), sheets, say.language.code)


def wished_setup(studio: Studio, wish: ChartWish) -> Setup:
    """The horn and player that a wish is for. Raises NotFound, BadUsage or HornError."""
    setup = _plain_setup(studio, wish)
    return setup if wish.bell_mm is None else with_bell(setup, wish.bell_mm)


def _plain_setup(studio: Studio, wish: ChartWish) -> Setup:
    if wish.student_id is None:
        return make_setup(
            model(wish.horn), reach=wish.reach, learned=wish.learned, marks=wish.marks
        )
    student = get_student(studio, wish.student_id)
    own = replace(student, reach=wish.reach, learned=wish.learned, marks=wish.marks)
    return setup_for(own, _own_horn(studio, wish.horn, student.id))


def _own_horn(studio: Studio, horn: str, student_id: int) -> StudentHorn:
    number = whole_number(horn)
    if number is None:
        return main_horn(studio, student_id)
    found = get_horn(studio, number)
    return found if found.student_id == student_id else main_horn(studio, student_id)


def _other(studio: Studio, wish: ChartWish) -> Setup | None:
    kind, _, text = wish.other.partition("-")
    number = whole_number(text)
    if kind == "student" and number is not None:
        student = get_student(studio, number)
        return setup_for(student, main_horn(studio, student.id))
    profile = BY_HORN
    if kind == "horn" and number is not None:
        horn = get_horn(studio, number)
        student = replace(get_student(studio, horn.student_id), reach=wish.reach, marks=wish.marks)
        return setup_for(student, horn)
    if not wish.other:
        raise BadUsage("charts.second_horn")
    if wish.student_id is not None:
        profile = get_student(studio, wish.student_id).profile
    return make_setup(model(wish.other), reach=wish.reach, profile=profile, marks=wish.marks)
