"""Speed, side by side with a peer in one run: `make bench`.

Every figure is the best of several runs on this machine, and a ratio to a peer beside it. The bars
are what the project promises; a figure outside its bar is named at the end. ``--write`` puts the
table into docs/speed.md.
"""

import argparse
import copy
import os
import platform
import time
import tracemalloc
from collections.abc import Callable, Sequence
from datetime import date
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from lxml import etree

from commands import bench_memory, bench_start
from handslide.edges.musicxml.read import read_score
from handslide.instrument.line import Line, make_line
from handslide.instrument.route import solve_line
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.setup import Setup, make_setup
from handslide.sheets.shapes import Text
from handslide.words.speech import speech
from printing import bench_printing

ROOT = Path(__file__).resolve().parents[1]
SCORES = ROOT / "tests" / "scores"
# Real studies: one with as much in a note as most have (506 bytes), one of the leanest (388).
STUDIES = (("typical", "Belcke_12_Etudes_08.musicxml"), ("lean", "Slama_01.musicxml"))
PAGE = ROOT / "docs" / "speed.md"
BEGIN, END = "<!-- written by benchmarks/run.py -->", "<!-- to here -->"
NOTES = 1000
LONG_LINE = 100_000


def best_of(runs: int, work: Callable[[], object]) -> float:
    """Shortest time of ``runs`` runs, in seconds."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def long_part(study: Path, notes: int) -> bytes:
    """A real study, its measures in a row until it has about ``notes`` notes."""
    tree = etree.fromstring(study.read_bytes())
    part = tree.find("part")
    measures = part.findall("measure")
    per_round = len(part.findall("measure/note/pitch"))
    for _ in range(round(notes / per_round) - 1):
        for measure in measures:
            again = copy.deepcopy(measure)
            again.set("number", str(len(part) + 1))
            part.append(again)
    return etree.tostring(tree, xml_declaration=True, encoding="UTF-8")


def wandering_line(notes: int, seed: int = 1) -> Line:
    """A seeded random walk over a tenor's compass, in sixteenths."""
    steps = np.random.default_rng(seed).integers(-4, 5, notes)
    midi = 40 + np.abs((np.cumsum(steps) % 62) - 31)
    return make_line(midi.tolist(), (np.arange(notes) * 0.2).tolist(), [0.2] * notes)


def bench_marking(runs: int, kind: str, study: Path) -> list[tuple[str, float, str, bool]]:
    """Read, choose and write a 1,000-note part, against a bare parse and against music21's."""
    from music21 import converter

    data = long_part(study, NOTES)
    setup = make_setup("tenor-f")
    options = MarkOptions()

    def ours() -> bytes:
        return choose_for(read_score(data), setup, options).musicxml()

    def bare() -> bytes:
        return etree.tostring(etree.fromstring(data))

    ours()
    text = data.decode()
    bare_s = ours_s = float("inf")
    # In turn, so that a busy moment of the machine hits both.
    for _ in range(3 * runs):
        bare_s, ours_s = min(bare_s, best_of(1, bare)), min(ours_s, best_of(1, ours))
    peer_s = best_of(max(1, runs // 2), lambda: converter.parseData(text, format="musicxml"))
    print(f"marking {NOTES} notes of a {kind} study ({len(data) / 1e3:.0f} kB), no PDF")
    print(f"  lxml, bare parse and serialise {1e3 * bare_s:8.1f} ms")
    print(f"  handslide, read, choose, write {1e3 * ours_s:8.1f} ms")
    print(f"  music21, parse only            {1e3 * peer_s:8.1f} ms")
    return [
        (f"marking / bare lxml, {kind}", ours_s / bare_s, "at most 2", ours_s <= 2 * bare_s),
        (f"music21 parse / marking, {kind}", peer_s / ours_s, "at least 2", peer_s >= 2 * ours_s),
    ]


def bench_choosing(runs: int) -> list[tuple[str, float, str, bool]]:
    """Notes per second of the chooser, alternatives included, and its memory for each note."""
    rows = []
    print(f"choosing alone, {LONG_LINE} notes, alternatives included")
    for name in ("tenor", "tenor-f", "bass-independent"):
        setup = make_setup(name)
        line = wandering_line(LONG_LINE)

        def solve(line: Line = line, setup: Setup = setup) -> object:
            return solve_line(line, setup.book, setup.profile).solution.worse_by

        rate = LONG_LINE / best_of(max(2, runs // 3), solve)
        print(f"  {name:<18}{rate:10.0f} notes a second")
        rows.append((f"notes/s, {name}", rate, "at least 20000", rate >= 20_000))
    setup = make_setup("tenor-f")
    peaks = []
    for notes in (LONG_LINE // 4, LONG_LINE // 2):
        line = wandering_line(notes)
        tracemalloc.start()
        kept = solve_line(line, setup.book, setup.profile).solution.worse_by
        assert len(kept) == notes
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    print(f"  memory: {peaks[1] / (LONG_LINE // 2):.0f} bytes a note")
    growth = peaks[1] / peaks[0]
    rows.append(("memory, twice the notes", growth, "at most 2.2", growth <= 2.2))
    return rows


def bench_charts(runs: int) -> list[tuple[str, float, str, bool]]:
    """One note sheet and a class of thirty, against matplotlib drawing as many texts and lines."""
    import matplotlib

    from handslide.edges.typesetting.drawing import render
    from handslide.jobs.chart.chart import ChartOptions, chart
    from handslide.jobs.chart.classroom import chart_class
    from handslide.jobs.classes import ClassDefaults

    matplotlib.use("pdf")
    from matplotlib import pyplot

    setup, options, say = make_setup("bass-independent"), ChartOptions(), speech("en")

    def ours() -> object:
        return render(chart(setup, options, say))

    pages = chart(setup, options, say).pages

    def peer() -> object:
        for page in pages:
            figure = pyplot.figure(figsize=(page.width_mm / 25.4, page.height_mm / 25.4))
            for shape in page.shapes:
                if isinstance(shape, Text):
                    figure.text(shape.x_mm / 210, 1 - shape.y_mm / 297, "T2", fontsize=9)
                else:
                    figure.add_artist(pyplot.Line2D((0.1, 0.9), (0.5, 0.6)))
            figure.savefig(BytesIO(), format="pdf")
            pyplot.close(figure)
        return None

    ours_s, peer_s = best_of(runs, ours), best_of(max(2, runs // 4), peer)
    rows = [f"Student {k},{('tenor', 'tenor-f', 'alto')[k % 3]}" for k in range(30)]
    with TemporaryDirectory() as name:
        folder = Path(name)
        roster = folder / "class.csv"
        roster.write_text("student,horn\n" + "\n".join(rows) + "\n", encoding="utf-8")

        def whole_class() -> object:
            where = folder / "out"
            return chart_class(roster, where, ClassDefaults("tenor"), options, say, force=True)

        class_s = best_of(2, whole_class)
    print(f"charts: {len(pages)} pages of a bass trombone's notes, as PDF")
    print(
        f"  handslide {1e3 * ours_s:.0f} ms, matplotlib with as many shapes {1e3 * peer_s:.0f} ms"
    )
    print(f"  a class of 30: {class_s:.1f} s")
    return [
        ("one sheet, s", ours_s, "under 2", ours_s < 2.0),
        ("matplotlib / one sheet", peer_s / ours_s, "at least 1", peer_s >= ours_s),
        ("a class of 30, s", class_s, "under 30", class_s < 30.0),
    ]


def bench_humdrum(runs: int, score: Path) -> list[tuple[str, float, str, bool]]:
    """Opening a score that music21 reads, on our leash, against its reading in this process."""
    from music21 import converter

    from handslide.edges.otherscores import read

    data = score.read_bytes()

    def ours() -> bytes:
        read._on_leash.cache_clear()
        return read.to_musicxml(data, score.name)

    ours()
    ours_s = peer_s = float("inf")
    for _ in range(max(3, runs // 2)):
        ours_s = min(ours_s, best_of(1, ours))
        peer_s = min(peer_s, best_of(1, lambda: converter.parse(score, forceSource=True)))
    again_s = best_of(runs, lambda: read.to_musicxml(data, score.name))
    print(f"opening {score.name} ({len(data) / 1e3:.0f} kB) of Humdrum: {ours_s:.2f} s")
    print(f"  opening it again:    {1e3 * again_s:.2f} ms")
    print(f"  music21, parse only: {peer_s:.2f} s")
    return [("opening a big Humdrum score, s", ours_s, "at most 1.5", ours_s <= 1.5)]


def table(rows: Sequence[tuple[str, float, str, bool]]) -> str:
    """What was measured and what was wanted, in Markdown."""
    lines = ["| | measured | wanted | |", "|---|---:|---|---|"]
    for name, value, bar, kept in rows:
        figure = f"{value:,.0f}" if value >= 100 else f"{value:.2f}"
        lines.append(f"| {name} | {figure} | {bar} | {'' if kept else 'missed'} |")
    return "\n".join(lines)


def write_table(rows: Sequence[tuple[str, float, str, bool]]) -> None:
    """Put the table in its place in docs/speed.md, with the day, the load and what measured it."""
    before, after = (PAGE.read_text(encoding="utf-8").split(mark) for mark in (BEGIN, END))
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    on = (
        f"Measured on {date.today()} with Python {platform.python_version()} on "
        f"{os.cpu_count()} processors of {platform.machine()}; load at the end {load:.1f}."
    )
    text = f"{before[0]}{BEGIN}\n\n{on}\n\n{table(rows)}\n\n{END}{after[1]}"
    PAGE.write_text(text, encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=10, help="runs of each measurement")
    parser.add_argument("--humdrum", type=Path, help="a big score in Humdrum, to open")
    parser.add_argument("--write", action="store_true", help="put the table into docs/speed.md")
    chosen = parser.parse_args()
    runs = chosen.runs
    rows: list[tuple[str, float, str, bool]] = []
    for kind, name in STUDIES:
        rows += bench_marking(runs, kind, SCORES / name)
    rows += [*bench_choosing(runs), *bench_printing(SCORES / STUDIES[0][1], best_of, runs)]
    rows += [*bench_charts(runs), *bench_start(best_of, runs)]
    if chosen.humdrum:
        rows += bench_humdrum(runs, chosen.humdrum)
    rows += bench_memory()
    print()
    for name, value, bar, kept in rows:
        print(f"{name:<34}{value:12.2f}   {bar:<16}{'kept' if kept else 'NOT KEPT'}")
    if chosen.write:
        write_table(rows)


if __name__ == "__main__":
    main()
