"""Size and time of hand-outs, in one run with their peers: the same music as a PDF and as sound.

Three minutes of a part, with and without its piano: how large the page is and how long it takes,
beside the print of the same part, and beside what the sound alone would weigh as Ogg Vorbis.
A routine and a lesson beside their prints.
Run: python benchmarks/handout.py
"""

import re
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

from handslide.edges.musicxml.read import open_score
from handslide.jobs.handout.exercises import routine_handout
from handslide.jobs.handout.handout import HandoutWishes, make_handout
from handslide.jobs.handout.lesson import lesson_handout
from handslide.jobs.mark.mark import MarkOptions
from handslide.jobs.mark.written import mark_file
from handslide.jobs.practice.lesson import LessonWishes, make_lesson
from handslide.jobs.practice.playalong import playalong_data
from handslide.jobs.practice.routine import Asked, make_week
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

SCORES = Path(__file__).resolve().parents[1] / "tests" / "scores"
PARTS = ("Galliard_Sonata1.musicxml", "Bordogni_Vocalise_01_PD.musicxml", "Slama_01.musicxml")
LENGTH_S = 180.0
WANTED_S, WANTED_MB = 5.0, 1.5
WANTED_SHEET_S, WANTED_SHEET_MB = 10.0, 3.0
T = TypeVar("T")


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """Wall seconds of one run, and what it gave."""
    begin = time.perf_counter()
    made = work()
    return time.perf_counter() - begin, made


def compare(name: str) -> bool:
    """One part at the tempo at which it lasts three minutes; whether the page is as wanted."""
    path, setup, say = SCORES / name, make_setup("tenor-f"), speech()
    once = make_handout(path, setup, HandoutWishes(), say)
    part = open_score(path).read_part()
    tempo_qpm = part.tempo_qpm * once.blocks[0].length_s / LENGTH_S
    wishes = HandoutWishes(MarkOptions(tempo_qpm=tempo_qpm), tempo_qpm=tempo_qpm)
    page_s, made = timed(lambda: make_handout(path, setup, wishes, say))
    with tempfile.TemporaryDirectory() as folder:
        print_s, _ = timed(lambda: mark_file(path, setup, MarkOptions(), say, folder=Path(folder)))
    play = PlayWishes(tempo_qpm=tempo_qpm, count_in=0, clicks=False)
    sound_s, (_, sound) = timed(lambda: playalong_data(open_score(path), play, ".ogg"))
    text = made.data.decode()
    fonts = sum(len(one) for one in re.findall(r"base64,([^)]*)\)", text))
    block = made.blocks[0]
    print(f"{name}: {block.count} notes, {block.length_s:.0f} s, "
          f"{'with' if 'others' in block.html.packed else 'without'} other parts")  # fmt: skip
    print(f"  page {len(made.data) / 1e3:7.0f} kB in {page_s:.2f} s   (fonts {fonts / 1e3:.0f} kB)")
    print(f"  peer: its print as PDF      in {print_s:.2f} s   page/print {page_s / print_s:.2f}")
    print(f"  peer: its sound as Ogg {len(sound) / 1e3:7.0f} kB in {sound_s:.2f} s"
          f"   as base64 {len(sound) * 4 / 3 / 1e3:.0f} kB, one tempo only")  # fmt: skip
    return page_s < WANTED_S and len(made.data) < 1e6 * WANTED_MB


def compare_sheets() -> bool:
    """A routine and a lesson beside their prints; whether the pages are as wanted."""
    setup, say, wishes = make_setup("tenor-f"), speech(), HandoutWishes()
    routine = make_week(setup, Asked(minutes=30))
    lesson = make_lesson(open_score(SCORES / PARTS[0]), setup, LessonWishes())
    good = True
    for name, page, peer in (
        ("routine of 30 minutes", partial(routine_handout, routine), routine.pdf),
        ("week's lesson", partial(lesson_handout, lesson), lesson.pdf),
    ):
        page_s, made = timed(partial(page, wishes, say))
        print_s, _ = timed(partial(peer, say))
        size_mb = len(made.data) / 1e6
        print(f"{name}: {len(made.blocks)} blocks, {size_mb:.2f} MB in {page_s:.2f} s")
        print(
            f"  peer: its print as PDF      in {print_s:.2f} s   page/print {page_s / print_s:.2f}"
        )
        good = good and page_s < WANTED_SHEET_S and size_mb < WANTED_SHEET_MB
    return good


if __name__ == "__main__":
    sys.exit(0 if sum(map(compare, PARTS)) == len(PARTS) and compare_sheets() else 1)
