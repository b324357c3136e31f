"""What is costly to make and asked for again: held in memory, bounded, safe for threads.

Everything that is held belongs to a studio (`Caches`), so that nothing of a student is left in
memory when the student is erased.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar

from handslide.ground.system import give_back_memory

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")
_MANY_LARGE = 20  # as many as this of a kind that are large


class _Making:
    """A value that is being made, and how many threads want it."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.wanted_by = 0


class Cache(Generic[Key, Value]):
    """The last ``most`` values by their key; those unused for longest go first.

    With ``weigh`` they also weigh no more than ``heaviest`` together, but the last one stays,
    whatever its weight.
    """

    def __init__(
        self, most: int, weigh: Callable[[Value], int] | None = None, heaviest: int = 0
    ) -> None:
        self._most = most
        self._weigh = weigh
        self._heaviest = heaviest
        self._values: OrderedDict[Key, Value] = OrderedDict()
        self._making: dict[Key, _Making] = {}
        self._emptied = 0
        self._guard = threading.Lock()

    def get(self, key: Key, make: Callable[[], Value]) -> Value:
        """The value of ``key``, made if it isn't there; two threads never make it at once.

        What ``make`` raises comes out, and the next thread that wants the value tries again.
        """
        with self._guard:
            if key in self._values:
                self._values.move_to_end(key)
                return self._values[key]
            making = self._making.setdefault(key, _Making())
            making.wanted_by += 1
        try:
            with making.lock:
                return self._made(key, make)
        finally:
            with self._guard:
                making.wanted_by -= 1
                if not making.wanted_by:
                    del self._making[key]

    def _made(self, key: Key, make: Callable[[], Value]) -> Value:
        with self._guard:
            if key in self._values:
                return self._values[key]
            emptied = self._emptied
        value = make()
        with self._guard:
            if emptied != self._emptied:
                return value  # of before: whoever emptied it wants nothing of that to stay
            self._values[key] = value
            self._drop_old()
        if self._weigh is not None and self._weigh(value) * _MANY_LARGE > self._heaviest:
            give_back_memory()
        return value

    def weigh_again(self) -> None:
        """A value has grown since it was put in."""
        with self._guard:
            self._drop_old()

    def forget(self, key: Key) -> None:
        """Forget one value."""
        with self._guard:
            self._values.pop(key, None)

    def _drop_old(self) -> None:
        while self._too_many():
            self._values.popitem(last=False)

    def _too_many(self) -> bool:
        if self._weigh is None or len(self._values) == 1:
            return len(self._values) > self._most
        weight = sum(map(self._weigh, self._values.values()))
        return len(self._values) > self._most or weight > self._heaviest

    def find(self, key: Key) -> Value | None:
        """The value, if it is there."""
        with self._guard:
            return self._values.get(key)

    def has(self, key: Key) -> bool:
        """Whether the value is there already."""
        with self._guard:
            return key in self._values

    def empty(self) -> None:
        """Forget all values, those too that are being made now."""
        with self._guard:
            self._values.clear()
            self._emptied += 1


@dataclass(frozen=True, eq=False)
class CacheKind(Generic[Key, Value]):
    """A cache that every studio has: how many values it holds, and how heavy ones together."""

    most: int
    weigh: Callable[[Value], int] | None = None
    heaviest: int = 0


class Held(Protocol):
    """Something in memory that isn't made again when it is gone."""

    def forget_student(self, student_id: int) -> None:
        """Forget what is a student's."""


HeldThing = TypeVar("HeldThing", bound=Held)


class Caches:
    """All that one studio holds in memory."""

    def __init__(self) -> None:
        self._caches: dict[CacheKind[Any, Any], Cache[Any, Any]] = {}
        self._held: dict[Callable[[], Held], Any] = {}
        self._guard = threading.Lock()

    def of(self, kind: CacheKind[Key, Value]) -> Cache[Key, Value]:
        """The studio's cache of a kind."""
        with self._guard:
            found = self._caches.get(kind)
            if found is None:
                found = self._caches[kind] = Cache(kind.most, kind.weigh, kind.heaviest)
        return found

    def one(self, make: Callable[[], HeldThing]) -> HeldThing:
        """What ``make`` gives, made once for the studio."""
        with self._guard:
            found: HeldThing | None = self._held.get(make)
            if found is None:
                found = self._held[make] = make()
        return found

    def empty(self) -> None:
        """Forget what can be made again."""
        with self._guard:
            caches = list(self._caches.values())
        for cache in caches:
            cache.empty()

    def forget_student(self, student_id: int) -> None:
        """Forget all that may be a student's."""
        self.empty()
        with self._guard:
            held = list(self._held.values())
        for thing in held:
            thing.forget_student(student_id)
