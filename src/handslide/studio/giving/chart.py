"""A chart as one file for the student: its notes and places are tapped."""

from dataclasses import replace

from handslide.edges.store.students import Student
from handslide.ground.errors import BadUsage
from handslide.jobs.chart.kinds import SHEETS, sheet_kind
from handslide.jobs.handout.chart import chart_handout
from handslide.studio.charts.charts import ChartWish, wished_setup
from handslide.studio.giving.give import (
    Gift,
    GiveWishes,
    about_bytes,
    give_name,
    give_speech,
    given,
    names_student,
)
from handslide.studio.parts.files import StandFile
from handslide.studio.people.students import get_student
from handslide.studio.studio import Studio
from handslide.words.horns import horn_line, limits_line
from handslide.words.speech import Speech


def student_of(studio: Studio, wish: ChartWish) -> Student | None:
    """For whom a chart is; None: for nobody of the studio. Raises NotFound."""
    return None if wish.student_id is None else get_student(studio, wish.student_id)


def chart_to_give(studio: Studio, wish: ChartWish, wishes: GiveWishes, reader: Speech) -> Gift:
    """What is told of a chart's file before it is made. Raises BadUsage, NotFound, HornError."""
    kind = sheet_kind(wish.sheet)
    if not kind.tapped:
        known = tuple(one.name for one in SHEETS.values() if one.tapped)
        raise BadUsage("handout.chart", name=wish.sheet, known=known)
    setup, student = wished_setup(studio, wish), student_of(studio, wish)
    lines = horn_line(reader, setup.horn), limits_line(reader, setup.horn, setup.book.limits)
    return Gift(
        tuple(filter(None, lines)),
        about_bytes(0),
        _name(studio, wish, student, wishes),
        () if wishes.named else names_student(student, lines[0]),
    )


def give_chart(studio: Studio, wish: ChartWish, wishes: GiveWishes, reader: Speech) -> StandFile:
    """The file of a chart. Raises BadUsage, PitchError, NotFound, HornError."""
    student = student_of(studio, wish)
    say = give_speech(student, wishes, reader)
    name = student.name if student is not None and wishes.named else ""
    options = replace(wish.options, student=name)
    made = chart_handout(wished_setup(studio, wish), options, say, wishes.handout())
    return given(made.data, _name(studio, wish, student, wishes))


def _name(studio: Studio, wish: ChartWish, student: Student | None, wishes: GiveWishes) -> str:
    return give_name(studio, f"chart {wish.sheet}", student, wishes)
