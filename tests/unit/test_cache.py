"""What is kept in memory: bounded, made once, made again after a failure."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from handslide.ground.system import give_back_memory
from handslide.studio.cache import Cache, CacheKind, Caches


def test_what_was_unused_for_longest_goes_first():
    kept, made = Cache(2), []
    for key in "abaca":
        assert kept.get(key, lambda key=key: made.append(key) or key.upper()) == key.upper()
    assert made == ["a", "b", "c"]
    assert kept.has("a") and kept.has("c") and not kept.has("b")


def test_heavy_things_are_fewer_and_the_last_one_stays():
    kept = Cache(3, weigh=len, heaviest=10)
    for key in ("aaaa", "bbbb", "cc"):
        kept.get(key, lambda key=key: key)
    assert all(map(kept.has, ("aaaa", "bbbb", "cc")))
    kept.get("ddd", lambda: "ddd")
    assert not kept.has("aaaa") and all(map(kept.has, ("bbbb", "cc", "ddd")))
    kept.get("e" * 11, lambda: "e" * 11)
    assert kept.has("e" * 11) and not kept.has("ddd")


def test_two_threads_never_make_the_same_at_once_even_when_it_fails():
    kept, guard, tries = Cache(4), threading.Lock(), []
    at_work = most_at_work = 0

    def make():
        nonlocal at_work, most_at_work
        with guard:
            at_work += 1
            most_at_work = max(most_at_work, at_work)
            tries.append(1)
            count = len(tries)
        time.sleep(0.005)
        with guard:
            at_work -= 1
        if count <= 20:
            raise ValueError("not yet")
        return count

    def want(number):
        time.sleep(0.001 * (number % 7))
        try:
            return kept.get("x", make)
        except ValueError:
            return None

    with ThreadPoolExecutor(16) as threads:
        found = list(threads.map(want, range(60)))
    assert most_at_work == 1
    assert len(tries) == 21
    assert found.count(None) == 20 and set(found) == {None, 21}
    assert not kept._making


def test_what_fails_is_not_kept():
    kept = Cache(1)
    with pytest.raises(ZeroDivisionError):
        kept.get("x", lambda: 1 // 0)
    assert not kept.has("x")
    assert kept.get("x", lambda: 1) == 1


def test_what_is_emptied_while_it_is_made_is_not_kept():
    cache = Cache(2)

    def make():
        cache.empty()
        return "of before"

    assert cache.get("x", make) == "of before"
    assert not cache.has("x")
    assert cache.get("x", lambda: "new") == "new"
    cache.empty()
    assert not cache.has("x")


def test_each_studio_has_its_own():
    one, other, kind = Caches(), Caches(), CacheKind(2)
    one.of(kind).get("x", lambda: 1)
    assert one.of(kind) is one.of(kind) and one.of(kind).has("x")
    assert not other.of(kind).has("x")
    assert not one.of(CacheKind(2)).has("x")
    one.empty()
    assert not one.of(kind).has("x")


def test_memory_goes_back_after_what_is_large(monkeypatch):
    given = []
    monkeypatch.setattr("handslide.studio.cache.give_back_memory", lambda: given.append(1))
    cache = Cache(3, lambda value: value, 100)
    cache.get("small", lambda: 4)
    assert not given
    cache.get("large", lambda: 60)
    cache.get("large", lambda: 60)
    assert given == [1]
    give_back_memory()  # is there or isn't, but stops nothing


def test_a_value_that_grows_is_weighed_again():
    cache = Cache(9, weigh=len, heaviest=10)
    growing = [1]
    cache.get("growing", lambda: growing)
    cache.get("small", lambda: [1, 2])
    growing += range(9)
    cache.weigh_again()
    assert not cache.has("growing") and cache.has("small")
    cache.forget("small")
    assert not cache.has("small")
