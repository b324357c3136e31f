"""A student's desk: the last take as a row of signs, three things to practise, the lesson's way."""

import re
from collections import Counter
from dataclasses import dataclass

from handslide.edges.store.takes import select_last_takes, select_notes
from handslide.ground.errors import NotFound
from handslide.ground.facts import Fact
from handslide.instrument.progress.judge import GroupProgress
from handslide.sheets.slide import IN_PLACE_MM, LENS_MM
from handslide.studio.days import local_day
from handslide.studio.home.signs import sign_of
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import get_student
from handslide.studio.progress.progress import StudentProgress, progress_of
from handslide.studio.studio import Studio
from handslide.words.progress import group_heading, practise_why
from handslide.words.speech import Speech

STEPS = ("tune", "warm-up", "spots", "part", "take", "practise")
_KEPT = re.compile(r"(\d{1,18})\.(\d)")
_BIN_MM = 4.0
_MOST_HIGH = 8


@dataclass(frozen=True, slots=True)
class LastLesson:
    """The last take, note by note as one of SIGNS; ``takes`` were made on that day."""

    take_id: int
    title: str
    recorded_at: str
    signs: tuple[str, ...]
    takes: int

    def count(self, sign: str) -> int:
        """How many notes have a sign."""
        return self.signs.count(sign)


def last_lesson(studio: Studio, student_id: int) -> LastLesson | None:
    """A student's last take; None before there is any."""
    with studio.store.read() as db:
        takes = select_last_takes(db, student_id, 20)
        if not takes:
            return None
        take_id, title, recorded_at, _ = takes[0]
        signs = tuple(sign_of(note) for note in select_notes(db, take_id))
    day = local_day(recorded_at)
    same = sum(local_day(moment) == day for _, _, moment, _ in takes)
    return LastLesson(take_id, title, recorded_at, signs, same)


@dataclass(frozen=True, slots=True)
class Dot:
    """A try: how far the slide was off (mm, + = too far out), its height in the heap, its sign."""

    mm: float
    level: int
    sign: str


@dataclass(frozen=True, slots=True)
class Thing:
    """Something to practise: what, why, how, and its tries as a heap (none where no slide is).

    ``key`` names it in an address (`GroupProgress.key`).
    """

    key: str
    what: str
    mark: str
    why: str
    how: Fact
    dots: tuple[Dot, ...]
    stand_id: int | None


def three_things(studio: Studio, student_id: int, say: Speech) -> tuple[Thing, ...]:
    """What the takes of a student say should come next, the worst first. Raises NotFound."""
    report = progress_of(studio, student_id)
    return tuple(
        Thing(
            thing.found.group.key,
            group_heading(say, thing.found.group),
            report.mark_of(thing.found.group),
            practise_why(say, thing.found),
            thing.found.how,
            heap_of(report, thing.found.group),
            thing.where[0].stand_id if thing.where else None,
        )
        for thing in report.next
    )


def heap_of(report: StudentProgress, group: GroupProgress) -> tuple[Dot, ...]:
    """The tries of a group within the lens; what lies beyond stands at its end."""
    if group.kind not in ("note", "place"):
        return ()
    offs = sorted(mm for n in group.rows if (mm := report.rows[n].slide_mm) is not None)
    heights: Counter[int] = Counter()
    dots = []
    for off in offs:
        at = max(-LENS_MM, min(LENS_MM, off))
        column = round(at / _BIN_MM)
        if heights[column] == _MOST_HIGH:
            continue
        sign = "hit" if abs(off) < IN_PLACE_MM else "in" if off > 0 else "out"
        dots.append(Dot(column * _BIN_MM, heights[column], sign))
        heights[column] += 1
    return tuple(dots)


@dataclass(frozen=True, slots=True)
class Lesson:
    """A lesson that has begun: whose, at which of the STEPS, with the part that was opened last."""

    student_id: int
    step: int
    stand_id: int | None

    @property
    def kept(self) -> str:
        """What keeps it between two pages: the student's number and the step."""
        return f"{self.student_id}.{self.step}"

    def address(self, step: int) -> str:
        """The page of a step."""
        at, student = self.stand_id, self.student_id
        part = f"/parts?student={student}" if at is None else f"/stands/{at}"
        take = f"/takes/new?student={student}" + ("" if at is None else f"&stand={at}")
        return (
            f"/tuning/{student}",
            f"/practice/{student}/drill?kind=slurs",
            f"/practice/{student}/drill?kind=trouble-spots",
            part,
            take,
            f"/progress/{student}",
        )[step]


def lesson_of(studio: Studio, student_id: int, step: int) -> Lesson:
    """The lesson of a student at a step. Raises NotFound."""
    get_student(studio, student_id)
    stands = list_stands(studio, student_id=student_id)
    step = max(0, min(step, len(STEPS) - 1))
    return Lesson(student_id, step, stands[0].id if stands else None)


def kept_lesson(studio: Studio, text: str) -> Lesson | None:
    """The lesson that `Lesson.kept` keeps; None for anything else, or a student who is gone."""
    found = _KEPT.fullmatch(text)
    if found is None:
        return None
    try:
        return lesson_of(studio, int(found[1]), int(found[2]))
    except NotFound:
        return None
