"""What is costly to make and asked for again: a bounded store in memory, safe for threads."""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


class _Making:
    """A value that is being made, and how many threads want it."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.wanted_by = 0


class Kept(Generic[Key, Value]):
    """The last ``most`` values by their key; those unused for longest go first."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[Key, Value] = OrderedDict()
        self._making: dict[Key, _Making] = {}
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
        value = make()
        with self._guard:
            self._values[key] = value
            while len(self._values) > self._most:
                self._values.popitem(last=False)
        return value

    def has(self, key: Key) -> bool:
        """Whether the value is there already."""
        with self._guard:
            return key in self._values
