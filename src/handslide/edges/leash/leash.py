"""Running functions in child processes that are kept warm.

A `Leash` has one kind of work. Its children are started, not forked, take one call at a time and
are used again. One that dies, takes too long or needs too much memory is one `Fallen`, and another
takes its place; the program stays the same. Threads may share a leash.

Time is counted as a child works, so that a busy machine refuses nothing; the clock's, a few times
as long, ends those that only wait. Windows has the clock's alone. Limits of memory hold on Linux;
macOS takes them and doesn't keep them, Windows has none.
"""

import atexit
import contextlib
import io
import os
import subprocess
import sys
import threading
import time
import weakref
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO, Literal, TypeVar, TypeVarTuple

from handslide.edges.leash.child import OUT_OF_MEMORY, OUT_OF_TIME, Lent, Way
from handslide.edges.leash.wire import receive, send
from handslide.ground.limits import LEASH_PATIENCE

Arguments = TypeVarTuple("Arguments")
Result = TypeVar("Result")
Why = Literal["died", "slow", "memory", "raised"]

_START_S = 60.0
_CODE = (
    "import sys; sys.path[:] = {path!r}; from handslide.edges.leash.child import serve; "
    "serve({lifeline}, {memory}, {preload!r})"
)


class Fallen(Exception):
    """A child didn't do its work: it ``died``, was too ``slow``, had too little ``memory``, or
    ``raised`` an error that nobody foresaw. ``detail`` is for whoever looks for the cause."""

    def __init__(self, why: Why, detail: str = "") -> None:
        super().__init__(why, detail)
        self.why = why
        self.detail = detail


@dataclass(frozen=True, slots=True)
class Limits:
    """What a child may take.

    ``seconds`` of work for a call, or for an item of a stream; ``memory_mb`` of address space;
    ``children`` at work at once, of which ``kept`` stay when they have nothing to do.
    """

    seconds: float
    memory_mb: int = 1000
    children: int = 2
    kept: int = 2


class _Child:
    """A process at the end of two pipes."""

    def __init__(self, limits: Limits, preload: Sequence[str]) -> None:
        # Nobody writes to this pipe: it ends with the program.
        theirs, self._lifeline = (-1, -1) if sys.platform == "win32" else os.pipe()
        code = _CODE.format(
            path=sys.path,
            lifeline=theirs,
            memory=limits.memory_mb * 2**20,
            preload=tuple(preload),
        )
        try:
            self._process = subprocess.Popen(
                # -P: the folder that the program was started in is not searched for modules.
                [sys.executable, "-P", "-c", code],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                pass_fds=() if theirs < 0 else (theirs,),
                env=os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
            )
        except BaseException:
            self._let_go()
            raise
        finally:
            if theirs >= 0:
                os.close(theirs)
        assert self._process.stdin is not None and self._process.stdout is not None
        self._requests: Any = self._process.stdin
        self._answers: Any = self._process.stdout
        self._ready = False
        self._killed = False
        self.calls = 0
        _children.add(self)

    @property
    def pid(self) -> int:
        """Its process id."""
        return self._process.pid

    def begin(self, function: Any, arguments: Any, seconds: float, way: Way) -> None:
        """Hand it some work. Raises Fallen."""
        if not self._ready:
            with self._within(_START_S):
                self._receive()
            self._ready = True
        self.calls += 1
        with self._within(seconds * LEASH_PATIENCE):
            send(self._requests, (function, arguments, seconds, way))

    def answer(self, seconds: float, lent: BinaryIO | None = None) -> tuple[str, Any]:
        """Its next message, after all pieces of ``lent`` that it asks for. Raises Fallen."""
        with self._within(seconds * LEASH_PATIENCE):
            while True:
                kind, value = self._receive()
                if kind != "read" or lent is None:
                    return kind, value
                at, count = value
                lent.seek(at)
                send(self._requests, lent.read(count))

    def _receive(self) -> tuple[str, Any]:
        found: tuple[str, Any] = receive(self._answers)
        return found

    @contextlib.contextmanager
    def _within(self, seconds: float) -> Iterator[None]:
        """Kill it if the block takes longer. Raises Fallen when it is gone."""
        timer = threading.Timer(seconds, self._kill_late)
        timer.daemon = True
        timer.start()
        try:
            yield
        except (EOFError, OSError) as error:
            # Its pipe ends a moment before the process does, which has its own exit code.
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._process.wait(1.0)
            self.end()
            raise self._fallen() from error
        finally:
            timer.cancel()

    def _kill_late(self) -> None:
        self._killed = True
        self._process.kill()

    def _fallen(self) -> Fallen:
        if self._killed:
            return Fallen("slow")
        code = self._process.returncode
        if code in OUT_OF_TIME:
            return Fallen("slow")
        return Fallen("memory" if code == OUT_OF_MEMORY else "died", f"exit code {code}")

    def end(self) -> None:
        """Kill it, if it still lives, and close the pipes."""
        self._process.kill()
        self._process.wait()
        for pipe in (self._requests, self._answers):
            with contextlib.suppress(OSError):
                pipe.close()
        self._let_go()
        _children.discard(self)

    def _let_go(self) -> None:
        if self._lifeline >= 0:
            os.close(self._lifeline)
            self._lifeline = -1

    def disown(self) -> None:
        """After a fork: it is the child of another process, and must end with that one."""
        self._let_go()
        _of_others.append(self)


class Leash:
    """Child processes for one kind of work. ``preload``: modules that each imports at its start."""

    def __init__(self, limits: Limits, preload: Sequence[str] = ()) -> None:
        self.limits = limits
        self._preload = tuple(preload)
        self._forget()
        _leashes.add(self)

    def _forget(self) -> None:
        self._idle: list[_Child] = []
        self._guard = threading.Lock()
        self._room = threading.Semaphore(self.limits.children)

    def warm(self) -> None:
        """Start a child, if none waits, so that the next call finds it ready. Doesn't wait."""
        with self._guard:
            if not self._idle:
                self._idle.append(_Child(self.limits, self._preload))

    def call(
        self, function: Callable[[*Arguments], Result], *args: *Arguments, more_s: float = 0.0
    ) -> Result:
        """What the function gives in a child, within the usual time and ``more_s``.

        The function must be one of a module; its arguments and result go through pickle. Raises
        HandslideError as the function does, and Fallen.
        """
        seconds = self.limits.seconds + more_s
        with self._room:
            child, kind, value = self._first(function, args, seconds, "call")
            self._put_back(child)
        result: Result = _result(kind, value)
        return result

    def stream(
        self,
        function: Callable[..., Iterator[Any]],
        *args: Any,
        lend: BinaryIO | None = None,
        together_s: float | None = None,
        meanwhile: Callable[[], object] | None = None,
    ) -> Iterator[Any]:
        """The items that the function yields in a child, each within the usual time.

        ``together_s``: or all of them within that. ``lend`` is an open file that the function gets
        as its last argument, a `Lent`. ``meanwhile`` is called once the child is at work. Raises as
        `call` does.
        """
        if lend is not None:
            args = (*args, Lent(lend.seek(0, io.SEEK_END)))
        seconds = self.limits.seconds if together_s is None else together_s
        way: Way = "each" if together_s is None else "all"
        with self._room:
            child, kind, value = self._first(function, args, seconds, way, lend, meanwhile)
            try:
                while kind == "item":
                    yield value
                    began = time.monotonic()
                    kind, value = child.answer(max(0.0, seconds), lend)
                    if way == "all":
                        seconds -= (time.monotonic() - began) / LEASH_PATIENCE
            except BaseException:
                # Among others when nobody wants more items: the child is amid its work.
                child.end()
                raise
            self._put_back(child)
        _result(kind, value)

    def pids(self) -> tuple[int, ...]:
        """The process ids of the children that wait for work."""
        with self._guard:
            return tuple(child.pid for child in self._idle)

    def close(self) -> None:
        """End the children that wait."""
        with self._guard:
            idle, self._idle = self._idle, []
        for child in idle:
            child.end()

    def _first(
        self,
        function: Any,
        args: Any,
        seconds: float,
        way: Way,
        lend: BinaryIO | None = None,
        meanwhile: Callable[[], object] | None = None,
    ) -> tuple[_Child, str, Any]:
        """A child at work, and its first message. Raises Fallen."""
        while True:
            child = self._taken()
            used = child.calls > 0
            try:
                child.begin(function, args, seconds, way)
                if meanwhile is not None:
                    meanwhile()
                    meanwhile = None
                return child, *child.answer(seconds, lend)
            except Fallen as fallen:
                child.end()
                if not used or fallen.why == "slow":
                    self.warm()
                    raise
                # An earlier call may have harmed it, or somebody killed it while it waited.
            except BaseException:
                child.end()
                raise

    def _taken(self) -> _Child:
        with self._guard:
            if self._idle:
                return self._idle.pop()
        return _Child(self.limits, self._preload)

    def _put_back(self, child: _Child) -> None:
        with self._guard:
            keep = len(self._idle) < self.limits.kept
            if keep:
                self._idle.append(child)
        if not keep:
            child.end()


def _result(kind: str, value: Any) -> Any:
    if kind == "error":
        raise value
    if kind == "raised":
        raise Fallen("raised", value)
    return value


_leashes: "weakref.WeakSet[Leash]" = weakref.WeakSet()
# All that haven't ended. Garbage that is collected in any order must not hold a process.
_children: set[_Child] = set()
_of_others: list[_Child] = []


@atexit.register
def _close_all() -> None:
    for child in list(_children):
        child.end()


def _after_fork() -> None:
    """A fork of the program has no children yet: those it remembers are its parent's."""
    for child in list(_children):
        child.disown()
    _children.clear()
    for leash in list(_leashes):
        leash._forget()


if sys.platform != "win32":
    os.register_at_fork(after_in_child=_after_fork)
