"""A library of thousands of parts: how many a second, on one processor and more, in what memory.

    python benchmarks/library.py                      10,000 parts without PDF and 1,000 with
    python benchmarks/library.py --parts 200 --pdf-parts 20 --cluster
    python benchmarks/library.py --parts 0 --pdf-parts 0 --driver 10000

The parts are variants of real studies, made by this script: each has a title and some notes of its
own, so that none is known from another. The peer of each figure is beside it in the same run: one
worker against several, the same work in a plain loop without manifest or processes, Dask's cluster
(``--cluster``: a scheduler and as many workers on this machine) against processes. On a machine
that others use the processors' time of all processes together says more than the clock.
"""

import argparse
import json
import os
import random
import re
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from handslide.jobs.library import library
from handslide.jobs.library.players import players_of
from handslide.jobs.library.wishes import LibraryWishes, processors
from handslide.jobs.library.work import (
    Input,
    Marking,
    Put,
    Reading,
    content_hash,
    make,
    mark_here,
    put,
    read_parts,
)
from handslide.jobs.library.workers import Outcome
from handslide.jobs.mark.mark import MarkOptions
from handslide.words.speech import speech

ROOT = Path(__file__).resolve().parents[1]
SHARED = ROOT.parent / "shared" / "scores"
SCORES = SHARED if SHARED.is_dir() else ROOT / "tests" / "scores"
HORN = "tenor-f"
GOAL = 0.9  # efficiency of as many workers as processors against one
MAIN = "from handslide.faces.cli.main import main; main()"
_LOOPED = 50


def originals() -> list[str]:
    """Parts of one player alone, as text."""
    texts = [path.read_text(encoding="utf-8") for path in sorted(SCORES.rglob("*.musicxml"))]
    return [text for text in texts if text.count("<score-part ") == 1]


def make_library(folder: Path, count: int) -> None:
    """``count`` variants in folders of a hundred."""
    chance = random.Random(1)
    texts = originals()
    for number in range(count):
        text = re.sub(r"<work-title>.*?</work-title>", "", texts[number % len(texts)])
        steps = [found.start(1) for found in re.finditer(r"<step>([A-G])</step>", text)]
        signs = list(text)
        for at in chance.sample(steps, min(4, len(steps))):
            signs[at] = chance.choice("ABCDEFG")
        text = "".join(signs)
        title = f"<movement-title>Variant {number}</movement-title><part-list>"
        path = folder / f"{number // 100:03d}" / f"variant-{number}.musicxml"
        path.parent.mkdir(parents=True, exist_ok=True)
        text = re.sub(r"<movement-title>.*?</movement-title>", "", text)
        path.write_text(text.replace("<part-list>", title, 1), encoding="utf-8")


@dataclass
class Ran:
    """A run: its seconds by the clock and of processors, what it says of itself, and the largest
    memory of the driver and of a worker."""

    seconds: float
    cpu_s: float
    told: dict
    driver_mb: float
    child_mb: float


def run(source: Path, out: Path, *more: str) -> Ran:
    """The command as a user has it."""
    words = ["library", str(source), str(out), "--horn", HORN, "--json", *more]
    start = time.perf_counter()
    process = subprocess.Popen([sys.executable, "-c", MAIN, *words], stdout=subprocess.PIPE)
    memory = {"driver": 0.0, "child": 0.0}
    watch = threading.Thread(target=_watch, args=(process, memory), daemon=True)
    watch.start()
    before = os.times()
    output, _ = process.communicate()
    seconds, after = time.perf_counter() - start, os.times()
    watch.join()
    cpu_s = after.children_user + after.children_system
    cpu_s -= before.children_user + before.children_system
    return Ran(seconds, cpu_s, json.loads(output), memory["driver"], memory["child"])


def _watch(process: "subprocess.Popen[bytes]", memory: dict[str, float]) -> None:
    while process.poll() is None:
        memory["driver"] = max(memory["driver"], _peak_mb(process.pid))
        for task in Path(f"/proc/{process.pid}/task").glob("*/children"):
            try:
                children = task.read_text().split()
            except OSError:
                continue
            memory["child"] = max([memory["child"], *map(_peak_mb, map(int, children))])
        time.sleep(0.2)


def _peak_mb(pid: int) -> float:
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0.0
    found = re.search(r"VmHWM:\s+(\d+) kB", status)
    return int(found[1]) / 1024 if found else 0.0


def looped(source: Path, out: Path, *, pdf: bool) -> tuple[float, float]:
    """Seconds a part of the same work in a plain loop, by the clock and of the processor."""
    (player,), _ = players_of((HORN,), None, speech())
    files = sorted(source.rglob("*.musicxml"))[:_LOOPED]
    tasks = []
    for number, path in enumerate(files):
        data = Input(str(path), path.name, content_hash(path.read_bytes()))
        target = str(out / str(number))
        tasks.append(Marking(str(number), data, player.played, MarkOptions(part="1"), pdf, target))
    mark_here(tasks[0])
    start, cpu = time.perf_counter(), time.process_time()
    for task in tasks:
        mark_here(task)
    seconds, cpu_s = time.perf_counter() - start, time.process_time() - cpu
    return seconds / len(tasks), cpu_s / len(tasks)


@contextmanager
def cluster(folder: Path, workers: int) -> Iterator[str]:
    """The address of a scheduler with ``workers`` workers on this machine."""
    file = folder / "scheduler.json"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    environment = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    words = [sys.executable, "-m", "dask"]
    started = [
        subprocess.Popen([*words, "scheduler", "--host", "127.0.0.1", "--port", "0",
                          "--no-dashboard", "--scheduler-file", str(file)], **quiet)
    ]  # fmt: skip
    try:
        while not file.exists():
            time.sleep(0.1)
        started += [
            subprocess.Popen([*words, "worker", "--scheduler-file", str(file), "--nthreads", "1",
                              "--no-dashboard", "--local-directory", str(folder)],
                             env=environment, **quiet)
            for _ in range(workers)
        ]  # fmt: skip
        yield json.loads(file.read_text())["address"]
    finally:
        for process in reversed(started):
            process.terminate()
            process.wait()


def compare(count: int, *, pdf: bool, workers: int, with_cluster: bool) -> bool:
    """All figures for ``count`` parts; says whether the goal is met."""
    more = [] if pdf else ["--no-pdf"]
    with TemporaryDirectory() as name:
        folder = Path(name)
        source = folder / "in"
        make_library(source, count)
        print(f"{count} parts {'with' if pdf else 'without'} PDF")
        alone, cpu_s = looped(source, folder / "loop", pdf=pdf)
        print(f"  plain loop           {1 / alone:8.1f} parts/s   {1000 * cpu_s:6.1f} ms a part")
        one = run(source, folder / "one", *more, "--workers", "1")
        _say("1 worker", one, count)
        several = run(source, folder / "several", *more, "--workers", str(workers))
        _say(f"{workers} workers", several, count)
        efficiency = one.seconds / several.seconds / workers
        print(
            f"  efficiency           {efficiency:8.2f}  (goal {GOAL}), by processors' time "
            f"{one.cpu_s / several.cpu_s:.2f}"
        )
        again = run(source, folder / "several", *more)
        print(f"  nothing to do        {again.seconds:8.1f} s, of processors {again.cpu_s:.1f} s")
        if with_cluster:
            before = os.times()
            with cluster(folder, workers) as address:
                there = run(source, folder / "there", *more, "--scheduler", address)
            after = os.times()
            # The scheduler's and the workers' too, now that they have ended.
            there.cpu_s = after.children_user + after.children_system
            there.cpu_s -= before.children_user + before.children_system
            _say(f"Dask, {workers} workers", there, count)
            print(
                f"  Dask's own cost      {there.seconds / several.seconds - 1:8.0%}, "
                f"by processors' time {there.cpu_s / several.cpu_s - 1:.0%}"
            )
    return efficiency >= GOAL


def _say(what: str, ran: Ran, count: int) -> None:
    assert ran.told["parts"] == {"done": count, "to_do": 0, "error": 0}, ran.told["parts"]
    cpu_ms = 1000 * ran.cpu_s / count
    print(
        f"  {what:<20} {count / ran.seconds:8.1f} parts/s   {cpu_ms:6.1f} ms a part   "
        f"{ran.seconds:8.1f} s   driver {ran.driver_mb:.0f} MB, worker {ran.child_mb:.0f} MB"
    )


class _Idle:
    """Workers that have a finished part at hand: what is left is the driver's own work."""

    room = 4

    def __init__(self, looks: dict, put: Put) -> None:
        self._looks, self._put = looks, put
        self._waiting: list[Reading | Marking] = []

    def start(self, task: Reading | Marking) -> None:
        self._waiting.append(task)

    def done(self, patience_s: float) -> list[Outcome]:
        waiting, self._waiting = self._waiting, []
        return [
            Outcome(task, self._looks if isinstance(task, Reading) else self._put)
            for task in waiting
        ]

    def close(self) -> None:
        pass


def driver_alone(count: int) -> None:
    """What the driver itself takes for a part, in time, memory and on the disk."""
    players, _ = players_of((HORN,), None, speech())
    with TemporaryDirectory() as name:
        folder = Path(name)
        source = folder / "in"
        make_library(source, 1)
        first = next(source.rglob("*.musicxml"))
        data = first.read_bytes()
        known = Input(str(first), first.name, content_hash(data))
        target = str(folder / "x")
        task = Marking("", known, players[0].played, MarkOptions(part="P1"), False, target)
        workers = _Idle(read_parts(data, first.name), put(make(data, task), target))
        for number in range(1, count):
            path = source / f"{number // 100:05d}" / f"{number}.musicxml"
            path.parent.mkdir(exist_ok=True)
            path.write_text(str(number), encoding="ascii")
        library.Here = lambda workers_, pdf: workers
        before, start, cpu = _peak_mb(os.getpid()), time.perf_counter(), time.process_time()
        wishes = LibraryWishes(source, folder / "out", players, pdf=False)
        assert library.mark_library(wishes, speech()).counts["done"] == count
        seconds, cpu_s = time.perf_counter() - start, time.process_time() - cpu
        print(f"{count} parts, the driver alone")
        print(f"  time                 {1000 * cpu_s / count:8.2f} ms a part   {seconds:8.1f} s")
        more = 1024 * (_peak_mb(os.getpid()) - before) / count
        print(f"  memory               {more:8.2f} kB a part")
        for file in ("library.db", "grades.csv", "parts.csv"):
            size = (folder / "out" / file).stat().st_size / count / 1024
            print(f"  {file:<20} {size:8.2f} kB a part")


def main() -> None:
    """Measure, and end with 1 where the goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--parts", type=int, default=10_000)
    parser.add_argument("--pdf-parts", type=int, default=1000)
    parser.add_argument("--workers", type=int, default=processors())
    parser.add_argument("--cluster", action="store_true")
    parser.add_argument("--driver", type=int, default=0, metavar="PARTS", help="the driver alone")
    asked = parser.parse_args()
    if asked.driver:
        driver_alone(asked.driver)
    good = [
        compare(count, pdf=pdf, workers=asked.workers, with_cluster=asked.cluster)
        for count, pdf in ((asked.parts, False), (asked.pdf_parts, True))
        if count
    ]
    sys.exit(0 if all(good) else 1)


if __name__ == "__main__":
    main()
