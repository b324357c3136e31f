"""Workers of a library on other machines: inputs and outputs go there and back as bytes, so that
they need no folder in common, and the driver alone writes."""

from typing import Any

from handslide import __version__
from handslide.edges.cluster.cluster import Answer, Cluster
from handslide.ground.errors import BadData, HandslideError
from handslide.ground.facts import fact
from handslide.jobs.library.work import Made, Marking, Reading, input_bytes, make, read_parts
from handslide.jobs.library.workers import Outcome, Task

_AT_HAND = 2  # tasks for each thread, so that it needn't wait for the next


class There:
    """The workers of the cluster at ``address``. Raises as `Cluster`, and BadData where they have
    another version of handslide, whose results would be others."""

    def __init__(self, address: str) -> None:
        self._cluster = Cluster(address)
        self._tasks: dict[str, Task] = {}
        self._failed: list[Outcome] = []
        try:
            versions = set(self._cluster.everywhere(version_there))
            if versions != {__version__}:
                raise BadData(
                    "library.versions", here=__version__, there=", ".join(sorted(versions))
                )
        except BaseException:
            self._cluster.close()
            raise

    @property
    def room(self) -> int:
        """How many tasks they take at once; workers may come and go."""
        return _AT_HAND * self._cluster.threads

    def start(self, task: Task) -> None:
        """Begin a task."""
        try:
            data = input_bytes(task.source)
        except HandslideError as error:
            self._failed.append(Outcome(task, error=error))
            return
        self._tasks[task.key] = task
        self._cluster.begin(task.key, work_there, data, task)

    def done(self, patience_s: float) -> list[Outcome]:
        """What was done since the last time."""
        failed, self._failed = self._failed, []
        answers = self._cluster.answers(0.0 if failed else patience_s)
        return failed + [self._outcome(answer) for answer in answers]

    def close(self) -> None:
        """Let go of them."""
        self._cluster.close()

    def _outcome(self, answer: Answer) -> Outcome:
        task = self._tasks.pop(answer.name)
        match answer.way:
            case "done":
                return Outcome(task, answer.value)
            case "error":
                return Outcome(task, error=answer.value)
            case "again":
                return Outcome(task, again=True)
            case "killed":  # the scheduler has tried it with several workers
                return Outcome(task, error=BadData("library.worker", why="died"))
            case "raised":
                return Outcome(task, lost=fact("library.worker", why="raised"))


def version_there() -> str:
    """Which handslide a worker has."""
    return __version__


def work_there(data: bytes, task: Task) -> dict[str, Any] | Made:
    """Do a task on a worker that has only its bytes. Raises as `read_parts` and `make`."""
    if isinstance(task, Reading):
        return read_parts(data, task.source.name)
    assert isinstance(task, Marking)
    return make(data, task)
