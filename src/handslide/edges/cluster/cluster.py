"""Functions run on a cluster: handed out, and collected as they are done.

The scheduler may die, and what it had then is lost: each piece of work that didn't come back is
told of as ``again``, and a scheduler that stays away is an error within half a minute.
"""

import gc
import logging
import queue
import time
from collections.abc import Callable
from concurrent.futures import CancelledError
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from handslide.ground.errors import BadData, BadUsage, HandslideError, NotInstalled

if TYPE_CHECKING:
    from distributed import Future

_LIKE = "tcp://host:8786"
_CONNECT_S = 10.0
_ASK_EVERY_S = 3.0
_ANSWER_S = 8.0
_AWAY_S = 8.0  # a scheduler that is started again has so long to come back
_COLLECT_S = 10.0
_LEVEL = logging.CRITICAL  # it tells of each lost connection, several times

Way = Literal["done", "error", "raised", "killed", "again"]


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of the work called ``name``: its ``value`` when it is ``done``; the ``error`` that
    it raised, or what nobody foresaw (``raised``); that its workers died over it (``killed``);
    or that it was lost on the way and is to be done ``again``."""

    name: str
    way: Way
    value: Any = None


class Cluster:
    """A connection to the scheduler at ``address`` (``tcp://HOST:PORT``).

    Raises
    ------
    NotInstalled
        Without the extra ``cluster``.
    BadUsage
        When this is no address.
    BadData
        When nobody answers there, or no worker comes.
    """

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
        except ImportError:
            raise NotInstalled("library.no_extra") from None
        for name in ("distributed", "distributed.client", "tornado"):
            logging.getLogger(name).setLevel(_LEVEL)
        self.address = address
        failed: HandslideError | None = None
        try:
            self._client: Client = Client(address, timeout=_CONNECT_S, set_as_default=False)
        except ValueError:
            failed = BadUsage("library.address", address=address, like=_LIKE)
        except OSError:  # among them that it took too long
            failed = BadData("library.no_scheduler", address=address)
        if failed is not None:
            # What didn't come about ends now: at any later moment it could be while another client
            # begins, and each would wait for the other.
            gc.collect()
            raise failed
        self._running: dict[Future, str] = {}
        self._ended: queue.Queue[Future] = queue.Queue()
        self._asked_at = self._seen_at = time.monotonic()
        self.threads = 1
        try:
            self._client.wait_for_workers(1, timeout=_CONNECT_S)
            self._ask()
        except OSError:
            self.close()
            raise BadData("library.no_workers", address=address) from None

    def everywhere(self, function: Callable[[], Any]) -> list[Any]:
        """What the function gives on each worker. Raises BadData where one hasn't got it."""
        try:
            return list(self._client.run(function).values())
        except Exception:
            raise BadData("library.workers_without", address=self.address) from None

    def begin(self, name: str, function: Callable[..., Any], *args: Any) -> None:
        """Have the function run somewhere. Raises BadData when the scheduler is gone."""
        try:
            future = self._client.submit(function, *args, pure=False, retries=0)
        except Exception:  # the client is closed by itself when the scheduler is gone
            raise self._gone() from None
        self._running[future] = name
        future.add_done_callback(self._ended.put)

    def answers(self, patience_s: float) -> list[Answer]:
        """What came back since the last time; waits so long for the first.

        Raises BadData when the scheduler is gone.
        """
        ended: list[Future] = []
        try:
            ended.append(self._ended.get(timeout=patience_s))
            while True:
                ended.append(self._ended.get_nowait())
        except queue.Empty:
            gc.collect()
        found = [self._answer(future) for future in ended if future in self._running]
        self._look_after()
        return found

    def close(self) -> None:
        """Let go of the cluster; what it still has of ours is forgotten."""
        self._running.clear()
        self._client.close(timeout=1.0)

    def _answer(self, future: "Future") -> Answer:
        from distributed import KilledWorker

        name = self._running.pop(future)
        try:
            value = future.result(timeout=_COLLECT_S)
        except HandslideError as error:
            return Answer(name, "error", error)
        except KilledWorker:
            return Answer(name, "killed")
        except (CancelledError, OSError):
            # Cancelled with its scheduler, or its worker died before it was fetched.
            return Answer(name, "again")
        except Exception as error:
            return Answer(name, "raised", repr(error))
        finally:
            future.release()
        return Answer(name, "done", value)

    def _look_after(self) -> None:
        now = time.monotonic()
        if now - self._asked_at < _ASK_EVERY_S and self._client.status == "running":
            return
        self._asked_at = now
        try:
            if self._client.status != "running":
                raise OSError
            self._ask()
            self._seen_at = time.monotonic()
        except OSError:
            if time.monotonic() - self._seen_at > _AWAY_S:
                raise self._gone() from None

    def _ask(self) -> None:
        """How many threads the workers have. Raises OSError where no answer comes."""
        threads = self._client.sync(self._client.scheduler.ncores, callback_timeout=_ANSWER_S)
        self.threads = max(1, sum(threads.values()))

    def _gone(self) -> BadData:
        return BadData("library.cluster_gone", address=self.address)
