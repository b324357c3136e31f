"""What a teacher waits for in a real browser, beside the same of an earlier commit in one run.

    git worktree add --detach ../before COMMIT
    python benchmarks/studio_browser.py --before ../before [--runs 5]

Each run starts a server of its own on a new folder with a class of forty; before and after take
turns, and the medians are told with their ratio. A part page is usable when its first notes can be
picked and the page is free again. Needs Debian's chromium, as the browser tests do.
"""

import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests" / "helpers"), str(Path(__file__).parent)]

from browser import chromium  # noqa: E402
from run import SCORES, STUDIES, long_part  # noqa: E402

NOTES = 1500
CLASS = 40
ORCHESTRA = 30
MOST_S = 120
# In seconds, as promised.
GOALS = {
    "1,500 notes: usable": 2.0,
    "1,500 notes again: usable": 0.5,
    "orchestral score: upload to drawn": 4.0,
    "charts of a class: first drawn": 1.0,
    "charts of a class: all drawn": 6.0,
    "charts of a class: PDF": 6.0,
}
_CLASS = """
import sys
from pathlib import Path
from handslide.edges.store.students import StudentValues
from handslide.studio.people.horns import enrol
from handslide.studio.studio import open_studio
studio = open_studio(Path(sys.argv[1]))
horns = ["tenor", "tenor-f", "bass-independent", "tenor-f-long", "alto", "bass-dependent"]
for n in range(int(sys.argv[2])):
    values = StudentValues(name=f"Student {n:02}", reach=(None, 5.0, 6.0)[n % 3])
    enrol(studio, values, horns[n % len(horns)])
studio.close()
"""
# Noted by the page itself, from when it was asked for: a page that works can't note anything.
_WATCH = """
window.seen = {};
window.longest = 0;
new PerformanceObserver((list) => {
  for (const { duration } of list.getEntries()) window.longest = Math.max(window.longest, duration);
}).observe({ type: "longtask", buffered: true });
setInterval(() => {
  const note = (name, ok) => {
    if (ok && !(name in window.seen)) window.seen[name] = performance.now() / 1000;
  };
  const columns = document.getElementsByClassName("hit");
  note("usable", columns.length && columns[0].isConnected);
  note("all", columns.length && columns.length >= window.wanted);
  note("class", document.querySelector("#class-rows"));
  const sheets = document.querySelectorAll("#class-rows svg").length;
  note("first", sheets);
  note("sheets", document.readyState === "complete" && sheets);
  note("told", document.querySelector(".making progress"));
}, 10);
"""


@contextmanager
def served(tree: Path, folder: str) -> Iterator[tuple[str, int]]:
    """The address and process id of a server of ``tree`` on a new studio."""
    env = {**os.environ, "HANDSLIDE_HOME": folder, "PYTHONPATH": str(tree / "src")}
    studio = str(Path(folder) / "studio")
    made = [sys.executable, "-c", _CLASS, studio, str(CLASS)]
    subprocess.run(made, check=True, env=env)
    process = subprocess.Popen(
        [sys.executable, "-m", "handslide", "studio", "--folder", studio, "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
        env=env,
    )
    assert process.stdout is not None
    try:
        found = re.search(r"http://[\d.]+:\d+", process.stdout.readline())
        if found is None:
            raise SystemExit("the server didn't start")
        # A studio that has just been opened has its engraver ready after a moment.
        time.sleep(3)
        yield found[0], process.pid
    finally:
        process.terminate()
        process.communicate(timeout=30)


def orchestra(parts: int) -> bytes:
    """A score of many parts, each a study of some hundred measures: what a publisher sends."""
    from lxml import etree

    root = etree.fromstring(long_part(SCORES / STUDIES[0][1], 600))
    part = root.find("part")
    entry = root.find("part-list/score-part")
    text, listed = etree.tostring(part), etree.tostring(entry)
    for number in range(2, parts + 1):
        again, name = etree.fromstring(text), etree.fromstring(listed)
        again.set("id", f"X{number}")
        name.set("id", f"X{number}")
        name.find("part-name").text = f"Desk {number}"
        for instrument in [*name.findall("score-instrument"), *name.findall("midi-instrument")]:
            name.remove(instrument)
        for instrument in list(again.iter("instrument")):
            instrument.getparent().remove(instrument)
        root.find("part-list").append(name)
        root.append(again)
    data: bytes = etree.tostring(root, xml_declaration=True, encoding="UTF-8")
    return data


class Visit:
    """One browser window at one server."""

    def __init__(self, browser: Any, address: str, note: Callable[[str, float], None]) -> None:
        self._context = browser.new_context(
            base_url=address, viewport={"width": 1440, "height": 900}, locale="en"
        )
        self._context.set_default_timeout(1000 * MOST_S)
        self._address = address
        self._note = note
        self.page = self._context.new_page()

    def close(self) -> None:
        self._context.close()

    def upload(self, file: Path) -> int:
        """Take a score in by the page's form; the number that it got."""
        self.page.goto("/parts")
        self.page.set_input_files("input[name=files]", file)
        with self.page.expect_navigation():
            self.page.evaluate("document.querySelector('input[name=files]').form.requestSubmit()")
        links = self.page.eval_on_selector_all(
            "a[href^='/parts/']", "(all) => all.map((one) => one.getAttribute('href'))"
        )
        return max(int(found[1]) for link in links if (found := re.match(r"/parts/(\d+)", link)))

    def stand(self, score: int, student: int) -> str:
        """Put a score on a student's stand, as the form of its page does."""
        answer = self._context.request.post(
            f"/parts/{score}/stands",
            form={"student": str(student)},
            headers={"Origin": self._address, "Sec-Fetch-Site": "same-origin"},
            max_redirects=0,
        )
        return str(answer.headers["location"])

    def watch(self, url: str, wanted: int, names: tuple[str, ...]) -> dict[str, float]:
        """Seconds from asking for a page until it has what ``names`` say."""
        self.page.add_init_script(f"window.wanted = {wanted}; {_WATCH}")
        self.page.goto(url, wait_until="commit")
        for name in names:
            self.page.wait_for_function("(name) => name in window.seen", arg=name, polling=20)
        seen: dict[str, float] = self.page.evaluate(
            "() => ({ ...window.seen, longest: window.longest / 1000 })"
        )
        return seen

    def part(self, kind: str, url: str, wanted: int) -> None:
        """A part's page: when it is usable, when all of its notes are there."""
        seen = self.watch(url, wanted, ("usable", "all"))
        self._note(f"{kind}: usable", seen["usable"])
        self._note(f"{kind}: all notes", seen["all"])
        self._note(f"{kind}: longest task of the page", seen["longest"])

    def print(self, kind: str, link: str) -> None:
        """Press what prints: until the PDF is there, and until the page says that it works."""
        came: list[float] = []
        self._context.on(
            "response",
            lambda answer: (
                came.append(time.perf_counter())
                if "pdf" in answer.headers.get("content-type", "")
                else None
            ),
        )
        self.page.evaluate("for (const all of document.querySelectorAll('details')) all.open = 1")
        pressed = time.perf_counter()
        at = self.page.evaluate("performance.now() / 1000")
        self.page.locator(link).first.click()
        while not came and time.perf_counter() < pressed + MOST_S:
            self.page.wait_for_timeout(10)
        self._note(f"{kind}: PDF", came[0] - pressed)
        told = self.page.evaluate("window.seen?.told ?? null")
        silent = came[0] - pressed if told is None else told - at
        self._note(f"{kind}: until the page says that it works", silent)


def peak_mb(pid: int) -> float:
    """The most memory that a process has held so far (Linux)."""
    try:
        text = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0.0
    found = re.search(r"VmHWM:\s+(\d+) kB", text)
    return int(found[1]) / 1024 if found else 0.0


def run(tree: Path, browser: Any, note: Callable[[str, float], None]) -> None:
    """All that is measured, once, of one tree."""
    with tempfile.TemporaryDirectory() as folder, served(tree, folder) as (address, pid):
        part, many = Path(folder) / "long.musicxml", Path(folder) / "orchestra.musicxml"
        part.write_bytes(long_part(SCORES / STUDIES[0][1], NOTES))
        many.write_bytes(orchestra(ORCHESTRA))
        visit = Visit(browser, address, note)
        url = visit.stand(visit.upload(part), 1)
        wanted = visit._context.request.get(f"{url}/route").json()["notes"]
        visit.part("1,500 notes", url, len(wanted))
        visit.page.goto("/parts")
        visit.part("1,500 notes again", url, len(wanted))
        visit.print("1,500 notes", "a[data-show*='/pdf']:not([download])")
        visit.close()
        visit = Visit(browser, address, note)
        began = time.perf_counter()
        url = visit.stand(visit.upload(many), 2)
        visit.watch(url, 1, ("usable",))
        note("orchestral score: upload to drawn", time.perf_counter() - began)
        visit.close()
        visit = Visit(browser, address, note)
        seen = visit.watch("/charts/class?sheet=all", 1, ("class",))
        visit.page.wait_for_load_state()
        visit.page.wait_for_timeout(50)
        seen = visit.page.evaluate("window.seen")
        for name, kind in (("first", "first drawn"), ("sheets", "all drawn")):
            if name in seen:
                note(f"charts of a class: {kind}", seen[name])
        visit.print("charts of a class", "button[formaction='/charts/class.pdf']")
        visit.close()
        note("server: peak memory, MB", peak_mb(pid))


def main() -> int:
    """Measure, print, judge."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--before", type=Path, help="a worktree of an earlier commit")
    parser.add_argument("--runs", type=int, default=3)
    wish = parser.parse_args()
    trees = {"now": ROOT} | ({"before": wish.before.resolve()} if wish.before else {})
    times: dict[str, dict[str, list[float]]] = {name: defaultdict(list) for name in trees}
    with chromium() as browser:
        for _ in range(min(wish.runs, 20)):
            for name, tree in trees.items():
                run(tree, browser, lambda what, value, to=times[name]: to[what].append(value))
    missed = []
    print(f"{'median of ' + str(wish.runs):42} {'before':>8} {'now':>8} {'ratio':>7} {'goal':>6}")
    for what in dict.fromkeys([*times.get("before", {}), *times["now"]]):
        before, now = (
            statistics.median(times[name][what]) if times.get(name, {}).get(what) else None
            for name in ("before", "now")
        )
        goal = GOALS.get(what)
        ratio = f"{now / before:7.2f}" if now is not None and before else f"{'':7}"
        told = [f"{value:8.2f}" if value is not None else f"{'-':>8}" for value in (before, now)]
        print(f"{what:42} {told[0]} {told[1]} {ratio} {goal or '':>6}")
        if goal is not None and (now is None or now > goal):
            missed.append(what)
    print(f"above the goal: {', '.join(missed) or 'none'}")
    return 1 if missed else 0


if __name__ == "__main__":
    raise SystemExit(main())
