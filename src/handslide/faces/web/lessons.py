"""A lesson as a thin line of steps over the pages that are there: kept by the browser's cookie.

The cookie holds the student's number and the step, so that the lesson goes on after a restart.
"""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.pages import LESSON_COOKIE, see, studio_of
from handslide.studio.home.desk import lesson_of
from handslide.studio.people.students import get_student

_AGE_S = 4 * 3600


def go(request: Request) -> Response:
    """Begin a lesson, or go to one of its steps."""
    step = request.path_params.get("step", 0)
    lesson = lesson_of(studio_of(request), request.path_params["student_id"], step)
    answer = see(lesson.address(lesson.step))
    answer.set_cookie(
        LESSON_COOKIE,
        lesson.kept,
        max_age=_AGE_S,
        httponly=True,
        samesite="strict",
    )
    return answer


def end(request: Request) -> Response:
    """The lesson is over: back to the desk."""
    student = get_student(studio_of(request), request.path_params["student_id"])
    answer = see(f"/students/{student.id}")
    answer.delete_cookie(LESSON_COOKIE, httponly=True, samesite="strict")
    return answer


routes: list[BaseRoute] = [
    Route("/students/{student_id:int}/lesson", go),
    Route("/students/{student_id:int}/lesson/{step:int}", go),
    Route("/students/{student_id:int}/lesson/end", end, methods=["POST"]),
]
