"""What each part asks of a student, as `handslide library search` tells it: made in the background.

A page that is opened shows what is known; what isn't is graded by a worker beside, one part after
the other, and kept.
"""

import logging
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from handslide.edges.manifest.manifest import Manifest, TargetRow, Wish
from handslide.edges.store.copies import remove_database
from handslide.edges.store.scores import ScoreRow
from handslide.ground.errors import HandslideError
from handslide.ground.facts import Fact
from handslide.ground.progress import ProgressCallback
from handslide.jobs.library.doing import Work
from handslide.jobs.library.grade import Grade, grade_of_json
from handslide.jobs.library.planning import task_key
from handslide.jobs.library.players import about_of, played_by
from handslide.jobs.library.wishes import processors
from handslide.jobs.library.work import Grading, Input, PlayedBy, Reading
from handslide.jobs.library.workers import Here, Outcome, Task
from handslide.jobs.mark.mark import MarkOptions
from handslide.studio.choosing.versions import for_stand, in_force, setup_with
from handslide.studio.library.kept import FOLDER, grades_file, kept, looks_file
from handslide.studio.library.parts import (
    SlidePart,
    by_path,
    input_of,
    look_key,
    slide_parts,
    unlooked_parts,
)
from handslide.studio.parts.scores import list_scores
from handslide.studio.people.students import get_student, main_horn
from handslide.studio.studio import Studio
from handslide.words.speech import speech

_PLAYER = "student"
_PATIENCE_S = 10.0
_log = logging.getLogger("handslide.studio")


@dataclass(frozen=True, slots=True)
class Graded:
    """A part, and what it asks of a student: ``grade``, None while it isn't graded; ``error``: why
    it can't be. ``fits``: it is what was searched for."""

    part: SlidePart
    grade: Grade | None = None
    error: Fact | None = None
    fits: bool = True


@dataclass(frozen=True, slots=True)
class Grades:
    """All parts, the hardest first where a student was named; how many are ``to_do``."""

    rows: tuple[Graded, ...]
    to_do: int = 0


def all_parts(studio: Studio, *, looked: bool = True) -> Grades:
    """The parts by title, for nobody; without having ``looked`` at them, one for each score.

    Raises StoreError, as where the disk is full.
    """
    scores = list_scores(studio)
    if not looked:
        return Grades(tuple(map(Graded, unlooked_parts(studio, scores))))
    with kept(looks_file(studio)) as known:
        parts = slide_parts(studio, known, scores)
    return Grades(tuple(map(Graded, parts)))


def graded_parts(studio: Studio, student_id: int, wish: Wish) -> Grades:
    """The parts with their grades for a student on the main horn, and which fit ``wish``.

    Those that can't be graded, or aren't yet, stand at the end; they fit only a wish for anything.

    Raises
    ------
    NotFound, StoreError
        No such student, no horn; a disk that is full.
    """
    with kept(looks_file(studio)) as looked:
        parts = slide_parts(studio, looked, list_scores(studio))
    known = by_path(parts)
    with kept(grades_file(studio, student_id)) as graded:
        _plan(graded, _tasks(studio, student_id, parts))
        rows = list(graded.marked())
        anything = wish == Wish(unplayable=True)
        fitting = set() if anything else {row.target.path for row in graded.marked(wish)}
    found, to_do = [], 0
    for row in rows:
        part = known.get(row.target.path)
        if part is None:
            continue
        grade = None if row.result is None else grade_of_json(row.result["grade"])
        to_do += grade is None and row.error is None
        fits = anything or row.target.path in fitting
        found.append(Graded(part, grade, row.error, fits))
    return Grades(tuple(found), to_do)


@dataclass(frozen=True, slots=True)
class _Plan:
    """The parts to be graded for a student: targets, and by their keys what to do."""

    targets: tuple[TargetRow, ...]
    parts: dict[str, SlidePart]
    player: PlayedBy


def _tasks(studio: Studio, student_id: int, parts: tuple[SlidePart, ...]) -> _Plan:
    student, horn = get_student(studio, student_id), main_horn(studio, student_id)
    setup = setup_with(student, horn, for_stand(student, horn, in_force(studio)))
    player = played_by(setup, speech())
    about = task_key(about_of(player))
    targets, by_key = [], {}
    for part in parts:
        key = task_key(["grade", part.key, about, part.part_id])
        source, part_id = str(part.score.id), part.part_id or ""
        targets.append(TargetRow(part.path, key, source, part_id, part.name, _PLAYER))
        by_key[key] = part
    return _Plan(tuple(targets), by_key, player)


def _plan(graded: Manifest, plan: _Plan) -> None:
    before = {(row.path, row.key) for row in graded.targets(wanted=True)}
    if before != {(row.path, row.key) for row in plan.targets}:
        graded.plan(plan.targets, {_PLAYER: {}})
        graded.drop_old()


# In the background.


@dataclass
class _Job:
    student_id: int
    stop: threading.Event = field(default_factory=threading.Event)
    done: int = 0
    total: int = 0
    thread: threading.Thread | None = None


class Grader:
    """Grades for a studio, for one student after the other."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._at_work = threading.Lock()
        self._jobs: dict[int, _Job] = {}
        self._studio: Studio | None = None

    def start(self, studio: Studio, student_id: int) -> None:
        """Begin to grade for a student, unless it is done already. Doesn't wait."""
        with self._guard:
            if student_id in self._jobs:
                return
            self._studio = studio
            job = self._jobs[student_id] = _Job(student_id)
            job.thread = threading.Thread(
                target=self._run, args=(studio, job), name="grading", daemon=True
            )
        job.thread.start()

    def busy(self, student_id: int) -> bool:
        """Whether parts are being graded for a student, or soon will be."""
        with self._guard:
            return student_id in self._jobs

    def so_far(self, student_id: int) -> tuple[int, int]:
        """How many of how many are done."""
        with self._guard:
            job = self._jobs.get(student_id)
        return (0, 0) if job is None else (job.done, job.total)

    def wait(self, student_id: int, patience_s: float) -> None:
        """Wait until it is done."""
        with self._guard:
            job = self._jobs.get(student_id)
        if job is not None and job.thread is not None:
            job.thread.join(patience_s)

    def forget_student(self, student_id: int) -> None:
        """End what is done for a student, and take away the grades."""
        with self._guard:
            job, studio = self._jobs.get(student_id), self._studio
        if job is not None and job.thread is not None:
            job.stop.set()
            job.thread.join(_PATIENCE_S)
        if studio is not None:
            remove_database(grades_file(studio, student_id))

    def _run(self, studio: Studio, job: _Job) -> None:
        def progress(stage: str, done: int, total: int) -> None:
            job.done, job.total = done, total

        try:
            with self._at_work:
                if not job.stop.is_set():
                    grade_all(studio, job.student_id, job.stop.is_set, progress)
        except HandslideError:
            pass  # the studio was closed meanwhile, its disk is full: it is graded another time
        except Exception:
            _log.exception("grading failed")
        finally:
            with self._guard:
                self._jobs.pop(job.student_id, None)


def grade_later(studio: Studio, student_id: int) -> None:
    """Grade what isn't graded for a student, in the background."""
    studio.caches.one(Grader).start(studio, student_id)


def grading_so_far(studio: Studio, student_id: int) -> tuple[int, int] | None:
    """How many of how many parts are graded for a student; None: nothing is being done."""
    grader = studio.caches.one(Grader)
    return grader.so_far(student_id) if grader.busy(student_id) else None


def forget_grades(studio: Studio, student_id: int) -> None:
    """Take away a student's grades."""
    if (studio.folder / FOLDER).exists():
        remove_database(grades_file(studio, student_id))


def grade_all(
    studio: Studio, student_id: int, stop: Callable[[], bool], progress: ProgressCallback
) -> None:
    """Look at all scores and grade their parts for a student. Raises NotFound, StoreError."""
    workers = Here(max(1, processors() - 1), pdf=False)
    try:
        with kept(looks_file(studio)) as looked:
            work = Work(looked, workers, progress, stop)
            scores = list_scores(studio)
            todo = {look_key(studio, row): row for row in scores}
            todo = {
                key: row
                for key, row in todo.items()
                if looked.result(key) is None and looked.error(key) is None
            }
            looked.add_tasks("read", todo)
            reading = _given(studio, looked, todo, Reading)
            work.do("reading", reading, len(todo), lambda o: looked.finish(o.task.key, o.value))
            parts = slide_parts(studio, looked, scores)
        if work.stopped:
            return
        with kept(grades_file(studio, student_id), begin=True) as graded:
            plan = _tasks(studio, student_id, parts)
            _plan(graded, plan)
            keys = [key for key in graded.marks_to_do() if key in plan.parts]

            def grading(key: str, source: Input) -> Grading:
                return Grading(key, source, plan.player, MarkOptions(plan.parts[key].part_id))

            def done(outcome: Outcome) -> None:
                value: Any = outcome.value
                graded.finish(outcome.task.key, {"grade": value.grade}, value.figures)

            rows = {key: plan.parts[key].score for key in keys}
            tasks = _given(studio, graded, rows, grading)
            Work(graded, workers, progress, stop).do("grading", tasks, len(keys), done)
    finally:
        workers.close()


def _given(
    studio: Studio,
    manifest: Manifest,
    rows: dict[str, ScoreRow],
    task: Callable[[str, Input], Task],
) -> Iterator[Task]:
    """A task for each score, which is read when its turn comes; one that can't be is told."""
    for key, row in rows.items():
        try:
            source = input_of(studio, row)
        except HandslideError as error:
            manifest.fail(key, error.fact)
            continue
        yield task(key, source)
