"""How long practice sheets take: a lesson sheet and each kind of drill, made and printed.

    python benchmarks/practice.py

Best of three runs, in wall and processor seconds: on a busy machine the first are longer. A lesson
sheet is made in this process and by the command, which starts anew. Exit code 1 when it takes 3 s
of processor time or more.
"""

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from handslide.drills.kinds import DRILLS
from handslide.edges.musicxml.read import Score, open_score
from handslide.jobs.practice.drill import make_drill
from handslide.jobs.practice.lesson import LessonWishes, make_lesson
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

ROOT = Path(__file__).resolve().parents[1]
PARTS = (
    ROOT / "examples" / "lanterns.musicxml",
    ROOT / "tests" / "scores" / "Galliard_Sonata1.musicxml",
)
WANTED_S = 3.0
RUNS = 3


def busy() -> float:
    """Processor seconds of this process and those it started."""
    found = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in found)


def show(what: str, work: Callable[[], object]) -> float:
    """Print the best wall and processor seconds of a few runs; returns the latter."""
    walls, used = [], []
    for _ in range(RUNS):
        begin, before = time.perf_counter(), busy()
        work()
        walls.append(time.perf_counter() - begin)
        used.append(busy() - before)
    print(f"{what:<48}{min(walls):7.2f} s   {min(used):6.2f} s of processor")
    return min(used)


def by_command(part: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        words = ["lesson", str(part), "--horn", "tenor-f", "-o", str(Path(folder) / "x.pdf")]
        done = [sys.executable, "-m", "handslide", *words]
        subprocess.run(done, check=True, capture_output=True)


def main() -> int:
    setup, say = make_setup("tenor-f", reach=6.0), speech()
    slowest = 0.0
    for part in PARTS:
        score = open_score(part)

        def made(score: Score = score) -> bytes:
            return make_lesson(score, setup, LessonWishes()).pdf(say)

        def command(part: Path = part) -> None:
            by_command(part)

        name = f"lesson sheet of {part.stem}"
        slowest = max(slowest, show(name, made), show(f"{name}, as a command", command))
    for kind in DRILLS.values():
        if not kind.from_report:

            def sheet(kind: str = kind.name) -> bytes:
                return make_drill(setup, kind).pdf(say)

            show(f"drill {kind.name}", sheet)
    return int(slowest >= WANTED_S)


if __name__ == "__main__":
    sys.exit(main())
