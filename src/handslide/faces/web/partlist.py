"""The list of all parts: sought by words, and by what each asks of a student."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from handslide.edges.manifest.manifest import Wish
from handslide.edges.store.stands import StandRow
from handslide.faces.web.formvalues import text_of, wanted_student
from handslide.faces.web.pages import page, speech_of, studio_of
from handslide.faces.web.safety import at_this_machine
from handslide.ground.errors import BadUsage, HandslideError, NotFound, StoreError
from handslide.ground.facts import Fact
from handslide.instrument.marks import WHOLE
from handslide.instrument.pace import pace
from handslide.jobs.library.grade import Grade
from handslide.jobs.library.search import parse_range, parse_speed
from handslide.studio.library.folders import list_folders
from handslide.studio.library.grading import (
    Graded,
    Grades,
    all_parts,
    grade_later,
    graded_parts,
    grading_so_far,
)
from handslide.studio.library.shelf import look_again, shelf_of
from handslide.studio.parts.scores import Added, list_scores
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import get_student, list_horns_of, list_students
from handslide.studio.studio import Studio
from handslide.words import library as words
from handslide.words.speech import Speech

SORTS = ("title", "hardest", "easiest")
SPEEDS = ("easy", "quick")
POSITIONS = ("2", "3", "4", "5", "6", "7")
VALVES = ("without", "with")


@dataclass(frozen=True, slots=True)
class Result:
    """What became of one file: taken in, or the sentence of its error."""

    file_name: str
    added: Added | None
    error: str | None


def part_list(
    request: Request,
    student_id: int | None,
    results: Sequence[Result] = (),
    status: int = 200,
) -> Response:
    """All parts, or those that fit what is asked for."""
    studio = studio_of(request)
    student = None if student_id is None else get_student(studio, student_id)
    look_again(studio, only_if_due=True)
    players = [one for one in list_students(studio) if list_horns_of(studio, one.id)]
    graded_for = student if student in players else None
    asked = _asked(request)
    grades, trouble = _grades(studio, None if graded_for is None else graded_for.id, asked)
    rows = _sorted([row for row in grades.rows if row.fits], asked["sort"])
    on_stands: dict[int, list[StandRow]] = {}
    for stand in list_stands(studio):
        on_stands.setdefault(stand.score_id, []).append(stand)
    return page(
        request,
        "parts/library.html",
        status=status,
        rows=[_row(speech_of(request), row, on_stands, student_id) for row in rows],
        count=len(grades.rows),
        to_do=grades.to_do,
        trouble=trouble,
        archived=list_scores(studio, archived=True),
        student=student,
        graded_for=graded_for,
        players=players,
        results=results,
        asked=asked,
        searched=_wish(asked) != Wish(unplayable=True),
        news=_news(request),
        words=words,
        choices={"sort": SORTS, "speed": SPEEDS, "position": POSITIONS, "valves": VALVES},
    )


def grading(request: Request) -> Response:
    """How far the grading for a student is; when it is done, the whole page again. A POST begins
    it."""
    studio, student_id = studio_of(request), wanted_student(request.query_params)
    if student_id is None:
        raise NotFound("people.no_student")
    if request.method == "POST":
        grade_later(studio, student_id)
    so_far = grading_so_far(studio, student_id)
    answer = page(request, "parts/grading.html", student_id=student_id, so_far=so_far)
    if so_far is None:
        answer.headers["HX-Refresh"] = "true"
    return answer


def _asked(request: Request) -> dict[str, str]:
    values = request.query_params if request.method == "GET" else {}
    names = "range", "position", "speed", "valves", "whole", "sort"
    found = {name: text_of(values, name) for name in names}
    if found["sort"] not in SORTS:
        found["sort"] = SORTS[0]
    return found


def _wish(asked: Mapping[str, str]) -> Wish:
    """What is asked for. Raises BadUsage."""
    low, high = parse_range(asked["range"]) if asked["range"] else (None, None)
    if asked["position"] and asked["position"] not in POSITIONS:
        raise BadUsage("web.choice")
    return Wish(
        speed_m_s=parse_speed(asked["speed"]) if asked["speed"] else None,
        # As far as a mark says this position.
        position=int(asked["position"]) + WHOLE if asked["position"] else None,
        low=low,
        high=high,
        valves=asked["valves"] == "with" if asked["valves"] in VALVES else None,
        unplayable=not asked["whole"],
    )


def _grades(
    studio: Studio, student_id: int | None, asked: Mapping[str, str]
) -> tuple[Grades, Fact | None]:
    if student_id is not None:
        wish = _wish(asked)
        try:
            found = graded_parts(studio, student_id, wish)
        except StoreError as error:  # grades can't be kept: the parts are there all the same
            return _for_nobody(studio), error.fact
        return found, None
    return _for_nobody(studio), None


def _for_nobody(studio: Studio) -> Grades:
    try:
        return all_parts(studio)
    except HandslideError:
        return all_parts(studio, looked=False)


def _sorted(rows: list[Graded], way: str) -> list[Graded]:
    graded = [row for row in rows if row.grade is not None]
    others = [row for row in rows if row.grade is None]
    if way == "hardest":
        return graded + others
    if way == "easiest":
        return graded[::-1] + others
    return sorted(rows, key=lambda row: (row.part.score.title.casefold(), row.part.score.id))


def _row(
    say: Speech, row: Graded, on_stands: Mapping[int, Sequence[StandRow]], student_id: int | None
) -> dict[str, Any]:
    part = row.part
    stands = on_stands.get(part.score.id, ())
    here = [
        stand
        for stand in stands
        if part.part_id is None or stand.part == part.part_id or (stand.part is None and part.usual)
    ]
    mine = [stand for stand in here if stand.student_id == student_id]
    return {
        "score": part.score,
        "part": part.name,
        "reading": "" if part.part_id is None else f"{part.part_id}/",
        "stands": here,
        "mine": mine[0] if mine else None,
        "error": None if row.error is None else say.fact(row.error),
        "grade": None if row.grade is None else _graded(say, row.grade),
    }


def _graded(say: Speech, grade: Grade) -> dict[str, Any]:
    return {
        "range": words.span(say, grade.low, grade.high),
        "furthest": words.furthest(say, grade.position),
        "quickest": words.quickest(say, grade.speed_m_s),
        "pace": pace(grade.speed_m_s),
        "valves": words.valves_used(say, grade.valves),
        "unplayable": words.unplayable(say, grade.unplayable, grade.notes),
        "bad": grade.unplayable > 0,
        "effort": say.number(grade.effort, 1),
    }


def _news(request: Request) -> int:
    """How many new or changed files were found in the folders."""
    studio = studio_of(request)
    here = at_this_machine(request, request.app.state.rules)
    news = shelf_of(studio).news
    return sum(news.get(row.id, 0) for row in list_folders(studio, sent_only=not here))
