"""Who does the work of a library: processes on this machine (others in `remote`).

The driver hands out a task where there is room, and asks what is done; it alone writes down what
came of it.
"""

from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from typing import Any, Protocol, TypeAlias

from handslide.edges.leash.leash import Fallen, Leash, Limits
from handslide.ground.errors import HandslideError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import LIBRARY_PART_BYTES, LIBRARY_PART_S, MB
from handslide.jobs.library.work import (
    Grading,
    Marking,
    Reading,
    grade_here,
    mark_here,
    read_here,
)

Task: TypeAlias = Reading | Marking | Grading
_DO: dict[type, Callable[[Any], Any]] = {
    Reading: read_here, Marking: mark_here, Grading: grade_here,
}  # fmt: skip


def done_here(task: Task) -> Any:
    """Do a task in this process. Raises HandslideError."""
    return _DO[type(task)](task)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a task: its ``value``, the ``error`` that it raised, that its worker was
    ``lost`` over it, and why, or that it got lost by no fault of its own and is to do ``again``."""

    task: Task
    value: Any = None
    error: HandslideError | None = None
    lost: Fact | None = None
    again: bool = False


class Workers(Protocol):
    """Workers, wherever they are."""

    @property
    def room(self) -> int:
        """How many tasks they take at once."""

    def start(self, task: Task) -> None:
        """Begin a task; there must be room."""

    def done(self, patience_s: float) -> list[Outcome]:
        """What was done since the last time; waits so long for the first."""

    def close(self) -> None:
        """End the workers; what they still do is lost."""


class Here:
    """Processes on this machine, each with limits of time and memory; one that dies costs one part
    one try."""

    def __init__(self, count: int, *, pdf: bool) -> None:
        limits = Limits(LIBRARY_PART_S, LIBRARY_PART_BYTES // MB, children=count, kept=count)
        more = ("handslide.edges.engraving.engrave",) if pdf else ()
        self._leash = Leash(limits, preload=("handslide.jobs.library.work", *more))
        self._threads = ThreadPoolExecutor(count, thread_name_prefix="library")
        self._running: dict[Future[Any], Task] = {}
        self._count = count

    @property
    def room(self) -> int:
        """One more is at hand for each worker that ends its own."""
        return 2 * self._count

    def start(self, task: Task) -> None:
        """Begin a task."""
        self._running[self._threads.submit(self._leash.call, done_here, task)] = task

    def done(self, patience_s: float) -> list[Outcome]:
        """What was done since the last time."""
        ended, _ = wait(self._running, timeout=patience_s, return_when=FIRST_COMPLETED)
        return [self._outcome(future) for future in ended]

    def close(self) -> None:
        """End the workers."""
        self._threads.shutdown(wait=not self._running, cancel_futures=True)
        self._leash.close()

    def _outcome(self, future: Future[Any]) -> Outcome:
        task = self._running.pop(future)
        try:
            return Outcome(task, future.result())
        except HandslideError as error:
            return Outcome(task, error=error)
        except Fallen as fallen:
            return Outcome(task, lost=fact("library.worker", why=fallen.why))
