"""The long fuzzing: cases one after the other in child processes, until the time is over.

``python tests/fuzz/run.py --minutes 60 [--only engrave] [--cases 20000]``

A child that dies, runs longer than a case may, or takes more memory than it may is found, as is
every exception that isn't ours. What was found is written to ``tests/regression/found``, one input
for each place in the code. At the end, however it comes, stands a table: cases, errors, hangs, peak
memory, and how often a library on a leash fell, which the program must live through.
"""

import argparse
import contextlib
import gc
import hashlib
import itertools
import json
import mmap
import os
import random
import resource
import select
import signal
import struct
import subprocess
import sys
import tempfile
import time
import traceback
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).resolve().parent
FOUND = HERE.parent / "regression" / "found"
CASE_S = 60.0  # a library on a leash may take 30 of them
START_S = 120.0
MOST_BYTES = 2**30
SLOT_BYTES = 16 * 2**20
HEAD = struct.Struct("<QQ")


@dataclass
class Count:
    """What came of a target."""

    cases: int = 0
    errors: int = 0
    hangs: int = 0
    deaths: int = 0
    fell: int = 0
    peak_mb: float = 0.0
    places: set[str] = field(default_factory=set)


def work(name: str, seed: int, slot: Path) -> None:
    """A child: runs cases and says on stdout, twice a second and of whatever it finds, how many
    there were since; the case at hand lies in slot."""
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    sys.path[:0] = [str(HERE), str(HERE.parent / "helpers")]
    out = os.fdopen(os.dup(1), "w", buffering=1)
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    from targets import TARGETS

    target, chance = TARGETS[name], random.Random(seed)
    target.seeds()
    gc.freeze()
    held = slot.open("r+b")
    shared = mmap.mmap(held.fileno(), SLOT_BYTES)
    cases, fell, told_s = 0, 0, 0.0
    while True:
        try:
            data = target.case(chance)
        except (UnicodeError, ValueError):
            continue  # a mutation that no file can hold
        if len(data) > SLOT_BYTES - HEAD.size:
            continue
        shared[: HEAD.size + len(data)] = HEAD.pack(cases, len(data)) + data
        place = ""
        try:
            fell += target(data) is not None
        except Exception as error:
            place = getattr(error, "place", None) or place_of(error)
            found_in(slot).write_bytes(data)  # the slot may hold the next one when it is looked at
        cases += 1
        if place or time.monotonic() > told_s + 0.5:
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            inner = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
            told = {"cases": cases, "fell": fell, "place": place, "peak_kb": max(peak, inner)}
            out.write(json.dumps(told) + "\n")
            cases, fell, told_s = 0, 0, time.monotonic()


def found_in(slot: Path) -> Path:
    """Where a child puts what raised an exception."""
    return slot.with_name(f"{slot.name}.found")


def place_of(error: Exception) -> str:
    """The kind of an error and the last line of ours that it came through."""
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if "handslide" in frame.filename] or frames
    return f"{type(error).__name__} {Path(own[-1].filename).name}:{own[-1].lineno}"


class Child:
    """A child process and what it says."""

    def __init__(self, name: str, seed: int) -> None:
        handle, path = tempfile.mkstemp(prefix="handslide-fuzz-")
        os.truncate(handle, SLOT_BYTES)
        os.close(handle)
        self.slot = Path(path)
        words = [sys.executable, __file__, "--child", name, str(seed), path]
        self.process = subprocess.Popen(words, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL)
        self._rest = b""

    def at_hand(self) -> tuple[int, bytes]:
        """How many cases it hasn't told of, and the one that it has or had at hand."""
        with self.slot.open("rb") as file:
            cases, size = HEAD.unpack(file.read(HEAD.size))
            return cases + 1, file.read(size)

    def line(self, patience_s: float) -> str | None:
        """The next line; None when nothing came, empty when the child is gone."""
        end = time.monotonic() + patience_s
        assert self.process.stdout is not None
        while b"\n" not in self._rest:
            ready, _, _ = select.select([self.process.stdout], [], [], end - time.monotonic())
            if not ready:
                return None
            piece = os.read(self.process.stdout.fileno(), 65536)
            if not piece:
                return ""
            self._rest += piece
        line, _, self._rest = self._rest.partition(b"\n")
        return line.decode()

    def end(self) -> None:
        self.process.kill()
        self.process.wait()
        self.slot.unlink(missing_ok=True)
        found_in(self.slot).unlink(missing_ok=True)


def keep(name: str, data: bytes, place: str, count: Count) -> None:
    """Write down an input that was found, once for each place."""
    if place in count.places:
        return
    count.places.add(place)
    FOUND.mkdir(exist_ok=True)
    path = FOUND / f"{name}-{hashlib.sha256(data).hexdigest()[:12]}"
    path.write_bytes(data)
    print(f"{name}: {place} -> {path}", flush=True)


def fuzz(name: str, seed: int, seconds: float, most: int, count: Count) -> None:
    """Run a target for a while; a new child after each that had to be ended."""
    end = time.monotonic() + seconds
    child = Child(name, seed)
    try:
        line = child.line(START_S)
        while time.monotonic() < end and count.cases < most:
            if line:
                told = json.loads(line)
                count.cases += told["cases"]
                count.peak_mb = max(count.peak_mb, told["peak_kb"] / 1024)
                count.fell += told["fell"]
                if told["place"]:
                    count.errors += 1
                    keep(name, found_in(child.slot).read_bytes(), told["place"], count)
                if told["peak_kb"] * 1024 < MOST_BYTES:
                    line = child.line(CASE_S)
                    continue
                place = "memory"
            elif line is None:
                count.hangs += 1
                place = "hang"
            else:
                count.deaths += 1
                place = f"death {child.process.wait()}"
            untold, data = child.at_hand()
            count.cases += untold
            keep(name, data, place, count)
            child.end()
            child = Child(name, seed + count.cases)
            line = child.line(START_S)
    finally:
        child.end()


def main() -> None:
    """Share the time among the targets, in turns, and print the table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--minutes", type=float, default=60.0)
    asked.add_argument("--only", action="append")
    asked.add_argument("--cases", type=int, default=10**9, help="of each target at most")
    asked.add_argument("--seed", type=int, default=int(time.time()))
    asked.add_argument("--child", nargs=3)
    words = asked.parse_args()
    if words.child:
        work(words.child[0], int(words.child[1]), Path(words.child[2]))
        return
    sys.path[:0] = [str(HERE), str(HERE.parent / "helpers")]
    from targets import TARGETS

    counts = {name: Count() for name in words.only or TARGETS}
    end = time.monotonic() + words.minutes * 60.0
    print(f"seed {words.seed}", flush=True)
    # Ended early, it still says what came of it.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with contextlib.suppress(KeyboardInterrupt):
        in_turns(words, counts, end)
    print_table(counts)
    sys.exit(any(count.places for count in counts.values()))


def in_turns(words: argparse.Namespace, counts: dict[str, Count], end: float) -> None:
    """Run each target for a while, again and again, until the time or the cases are over."""
    turn_s = max(words.minutes * 60.0 / len(counts) / 4.0, 5.0)
    for turn in itertools.count():
        for name, count in counts.items():
            left_s = end - time.monotonic()
            if left_s > 0 and count.cases < words.cases:
                seed = words.seed + 10_000_000 * turn
                fuzz(name, seed, min(turn_s, left_s), words.cases, count)
        done = all(count.cases >= words.cases for count in counts.values())
        if done or time.monotonic() >= end:
            return


def print_table(counts: dict[str, Count]) -> None:
    """What came of each target."""
    heads = f"{'cases':>10}{'errors':>8}{'hangs':>7}{'deaths':>8}{'fell':>7}{'peak MB':>9}"
    print(f"{'target':<10}{heads}")
    for name, count in counts.items():
        found = f"{count.errors:>8}{count.hangs:>7}{count.deaths:>8}{count.fell:>7}"
        print(f"{name:<10}{count.cases:>10}{found}{count.peak_mb:>9.0f}", flush=True)


if __name__ == "__main__":
    main()
