"""What children on a leash are made to do in tests."""

import gc
import os
import signal
import sys
import time

from handslide.edges.engraving.values import Piece
from handslide.ground.errors import ScoreError


def empty_score():
    raise ScoreError("scores.empty", file="a.xml")


def broken():
    raise KeyError("nobody foresaw this")


def sigsegv():
    os.kill(os.getpid(), signal.SIGSEGV)


def sigfpe():
    os.kill(os.getpid(), signal.SIGFPE)


def sigabrt():
    os.abort()


def sigkill():
    os.kill(os.getpid(), signal.SIGKILL)


def deaf(*_):
    """A loop in C that no signal handler of Python's gets into."""
    return (b"a" * 10**8).count(b"a" * 5000 + b"b") + 10 ** (10**8)


def leaves_cycles():
    """A cycle that is left behind while nobody looks for any; how many of them there are."""
    gc.disable()
    left = [one for one in gc.get_objects() if isinstance(one, Left)]
    one = Left()
    one.itself = one
    return len(left)


class Left:
    """What `leaves_cycles` leaves."""


def wait_for_input():
    time.sleep(3600)


def greedy():
    return len(bytes(10**9))


def chatter():
    print("hello")
    print("hello", file=sys.stderr)
    os.write(1, b"hello")
    return 3


def numbers(count):
    yield from range(count)


def slow_numbers(count):
    """Each takes a third of a second of work."""
    for number in range(count):
        end = time.process_time() + 0.3
        while time.process_time() < end:
            pass
        yield number


def one_piece_then_sigsegv(*_):
    yield Piece("<svg/>", True)
    sigsegv()


def ends(count, lent):
    with lent.open() as file:
        yield file.read(count)
        file.seek(-count, 2)
        yield file.read()
        yield file.tell()
