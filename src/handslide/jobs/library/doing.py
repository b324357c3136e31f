"""Having tasks done by workers, few at once, and writing down what came of each."""

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from handslide.edges.manifest.manifest import Manifest
from handslide.ground.errors import OutputError
from handslide.ground.progress import ProgressCallback
from handslide.jobs.library.work import is_passing
from handslide.jobs.library.workers import Outcome, Task, Workers

_PATIENCE_S = 0.2


@dataclass
class Work:
    """Work of a library: ``workers`` do it, ``manifest`` keeps what came of it.

    ``stop`` says whether somebody wants to end it; then it is ``stopped`` after what is under way.
    """

    manifest: Manifest
    workers: Workers
    progress: ProgressCallback
    stop: Callable[[], bool]
    stopped: bool = False

    def do(
        self, stage: str, tasks: Iterator[Task], count: int, done: Callable[[Outcome], None]
    ) -> None:
        """Have all ``count`` tasks done; what killed its worker comes again at the end."""
        again: deque[Task] = deque()
        running = ended = 0
        exhausted = False
        self.progress(stage, 0, count)
        while True:
            self.stopped = self.stopped or self.stop()
            while running < self.workers.room and not self.stopped:
                task = None if exhausted else next(tasks, None)
                if task is None:
                    exhausted = True
                    # Only when the others are done: it may take them with it.
                    if not again or running:
                        break
                    task = again.popleft()
                self.manifest.start(task.key)
                self.workers.start(task)
                running += 1
            if running == 0:
                return
            for outcome in self.workers.done(_PATIENCE_S):
                running -= 1
                if not self._settled(outcome, done):
                    again.append(outcome.task)
                else:
                    ended += 1
            self.progress(stage, ended, count)

    def _settled(self, outcome: Outcome, done: Callable[[Outcome], None]) -> bool:
        """Write down what came of a task; False where it is to do again."""
        key, error = outcome.task.key, outcome.error
        if outcome.again:
            return not self.manifest.put_back(key)
        if outcome.lost is not None:
            return not self.manifest.put_back(key, outcome.lost)
        if error is None:
            try:
                done(outcome)
            except OutputError as caught:
                error = caught
        if error is not None:
            self.manifest.fail(key, error.fact, passing=is_passing(error))
        return True
