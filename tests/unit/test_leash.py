"""Child processes on a leash: answers, every way in which they end, and that none is left."""

import gc
import io
import os
import signal
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import leashed
import pytest

from handslide.edges.leash.leash import Fallen, Leash, Limits
from handslide.ground.errors import ScoreError

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="signals and memory limits")


@pytest.fixture
def leash():
    made = Leash(Limits(seconds=2.0, memory_mb=400, children=2, kept=2))
    yield made
    made.close()


def falls(leash, function, why):
    with pytest.raises(Fallen) as caught:
        leash.call(function)
    assert caught.value.why == why
    assert leash.call(pow, 2, 5) == 32  # another has taken its place


def test_a_function_is_called_in_a_child_that_stays(leash):
    first = leash.call(os.getpid)
    assert first != os.getpid()
    assert leash.call(os.getpid) == first
    assert leash.pids() == (first,)


def test_cycles_that_a_function_put_off_are_gone_at_the_next_call(leash):
    assert [leash.call(leashed.leaves_cycles) for _ in range(3)] == [0, 0, 0]
    assert leash.call(gc.isenabled)


def test_errors_of_ours_come_through_whole(leash):
    with pytest.raises(ScoreError, match=r"a\.xml is empty"):
        leash.call(leashed.empty_score)


def test_an_error_that_nobody_foresaw(leash):
    child = leash.call(os.getpid)
    falls(leash, leashed.broken, "raised")
    assert leash.call(os.getpid) == child


@POSIX
@pytest.mark.parametrize("name", ["SIGSEGV", "SIGFPE", "SIGABRT", "SIGKILL"])
def test_a_death_is_one_error(leash, name):
    falls(leash, getattr(leashed, name.lower()), "died")


def test_a_hang_ends(leash):
    started = time.monotonic()
    falls(leash, leashed.deaf, "slow")
    assert time.monotonic() - started < 30


@POSIX
@pytest.mark.skipif(sys.platform == "darwin", reason="macOS keeps no limit of memory")
def test_memory_is_bounded(leash):
    falls(leash, leashed.greedy, "memory")


@POSIX
def test_a_child_that_was_killed_while_it_waited_is_no_error(leash):
    leash.warm()
    leash.call(pow, 2, 2)
    (child,) = leash.pids()
    os.kill(child, signal.SIGKILL)
    assert leash.call(pow, 2, 5) == 32


def test_what_is_printed_goes_nowhere(leash, capfd):
    assert leash.call(leashed.chatter) == 3
    assert capfd.readouterr() == ("", "")


def test_a_stream(leash):
    assert list(leash.stream(leashed.numbers, 4)) == [0, 1, 2, 3]
    child = leash.pids()
    half = leash.stream(leashed.numbers, 10**9)
    assert [next(half), next(half)] == [0, 1]
    half.close()
    assert leash.pids() == ()
    assert child
    assert list(leash.stream(leashed.numbers, 1)) == [0]


def test_something_else_is_done_once_while_a_child_works(leash):
    told = []
    stream = leash.stream(leashed.numbers, 3, meanwhile=lambda: told.append("begun"))
    assert [(number, list(told)) for number in stream] == [(n, ["begun"]) for n in range(3)]

    # A child that died while it waited gives its work to another; it isn't done again.
    os.kill(leash.pids()[0], signal.SIGTERM)
    assert list(leash.stream(leashed.numbers, 2, meanwhile=lambda: told.append("again"))) == [0, 1]
    assert told == ["begun", "again"]


def test_time_of_a_stream_is_for_each_item_or_for_all(leash):
    leash.limits = replace(leash.limits, seconds=1.0)
    assert list(leash.stream(leashed.slow_numbers, 4)) == [0, 1, 2, 3]
    found = []
    with pytest.raises(Fallen) as caught:
        found.extend(leash.stream(leashed.slow_numbers, 9, together_s=1.0))
    assert caught.value.why == "slow"
    for number in leash.stream(leashed.slow_numbers, 9, together_s=60.0):
        found.append(number)
        if number == 2:
            break
    assert found[-3:] == [0, 1, 2]


def test_a_lent_file_is_read_through_the_pipe(leash):
    data = os.urandom(1_000_000)
    found = list(leash.stream(leashed.ends, 3, lend=io.BytesIO(data)))
    assert found == [data[:3], data[-3:], len(data)]


@POSIX
def test_many_threads(leash):
    found, wrong = [], []

    def work(number):
        for step in range(4):
            try:
                found.append(leash.call(pow, number, step) == number**step)
                leash.call(leashed.sigsegv if step % 2 else leashed.chatter)
            except Fallen as fallen:
                wrong.append(fallen.why)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 16 and all(found)
    assert wrong == ["died"] * 8
    assert len(leash.pids()) <= 2


PARENT = """
import sys
import leashed
from handslide.edges.leash.leash import Leash, Limits
leash = Leash(Limits(seconds=60.0))
leash.call(pow, 2, 2)
print(*leash.pids(), flush=True)
leash.call(leashed.deaf if sys.argv[1] == "busy" else leashed.wait_for_input)
"""


def lives(pid):
    try:
        told = Path(f"/proc/{pid}/stat").read_text()
        return told.rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere the limit of time ends it")
@pytest.mark.parametrize("at", ["busy", "asleep"])
def test_no_child_outlives_a_killed_program(at):
    path = os.pathsep.join(sys.path)
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT, at],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": path},
    )
    with parent:
        child = int(parent.stdout.readline())
        time.sleep(0.3)
        assert lives(child)
        parent.kill()
    until = time.monotonic() + 5
    while lives(child) and time.monotonic() < until:
        time.sleep(0.02)
    assert not lives(child)
