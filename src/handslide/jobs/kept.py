"""What is costly to make and asked for again: a bounded store in memory, safe for threads."""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


class Kept(Generic[Key, Value]):
    """The last ``most`` values by their key; those unused for longest go first."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[Key, Value] = OrderedDict()
        self._making: dict[Key, threading.Lock] = {}
        self._guard = threading.Lock()

    def get(self, key: Key, make: Callable[[], Value]) -> Value:
        """The value of ``key``, made if it isn't there; two threads never make it at once."""
        with self._guard:
            if key in self._values:
                self._values.move_to_end(key)
                return self._values[key]
            making = self._making.setdefault(key, threading.Lock())
        with making:
            with self._guard:
                if key in self._values:
                    return self._values[key]
            try:
                value = make()
                with self._guard:
                    self._values[key] = value
                    while len(self._values) > self._most:
                        self._values.popitem(last=False)
            finally:
                with self._guard:
                    self._making.pop(key, None)
            return value

    def has(self, key: Key) -> bool:
        """Whether the value is there already."""
        with self._guard:
            return key in self._values
