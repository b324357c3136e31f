"""Twenty clients at once on a real server with the example studio: errors, median and p95 per page.

    python benchmarks/studio.py [--seconds 60] [--clients 20] [--pause 0.5]

Each client walks through the pages by their links as a person does, with a short pause between
two. Loopback only; a new studio in a temporary folder; ends by itself. Exit code 1 for any error
or for a page whose median is above 100 ms.
"""

import argparse
import http.client
import math
import os
import random
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from html import unescape
from urllib.parse import urldefrag, urlsplit

MEDIAN_MS = 100.0
FEW = 5
MOST_SECONDS, MOST_CLIENTS = 600, 50
# What is made on wish and takes its time: sheets, files, sound. Pages only.
NOT_PAGES = re.compile(
    r"\.(pdf|svg|png|musicxml|mxl|csv|toml)$|/audio$|/file$|/pdf$|/score$|/backups/"
)


def start(folder: str) -> tuple[subprocess.Popen[str], str, int]:
    """A server process with the example studio, its host and port."""
    process = subprocess.Popen(
        [sys.executable, "-m", "handslide", "studio", "--folder", folder, "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "HANDSLIDE_HOME": folder},
    )
    assert process.stdout is not None
    found = re.search(r"http://([\d.]+):(\d+)", process.stdout.readline())
    if found is None:
        raise SystemExit("the server didn't start")
    return process, found[1], int(found[2])


class Client(threading.Thread):
    """One person with a browser: one connection, page after page."""

    def __init__(self, host: str, port: int, until: float, pause: float, seed: int) -> None:
        super().__init__(daemon=True)
        self._place, self._until, self._pause = (host, port), until, pause
        self._random = random.Random(seed)
        self.times_ms: dict[str, list[float]] = defaultdict(list)
        self.errors: list[str] = []

    def run(self) -> None:
        line = http.client.HTTPConnection(*self._place, timeout=30)
        url = "/"
        while time.monotonic() < self._until:
            time.sleep(self._random.expovariate(1 / self._pause) if self._pause else 0)
            try:
                text = self._get(line, url)
            except (OSError, http.client.HTTPException) as error:
                self.errors.append(f"{url}: {error!r}")
                line.close()
                text = ""
            url = self._next(text)

    def _get(self, line: http.client.HTTPConnection, url: str) -> str:
        began = time.perf_counter()
        line.request("GET", url, headers={"Accept": "text/html"})
        answer = line.getresponse()
        data = answer.read()
        self.times_ms[kind(url)].append((time.perf_counter() - began) * 1000)
        if answer.status == 303:
            return f'href="{answer.headers["Location"]}"'
        if answer.status != 200:
            self.errors.append(f"{url}: status {answer.status}")
        is_page = answer.headers.get("Content-Type", "").startswith("text/html")
        return data.decode() if is_page else ""

    def _next(self, text: str) -> str:
        links = {
            urldefrag(unescape(link))[0]
            for link in re.findall(r'(?:href|hx-get)="(/[^"]*)"', text)
            if not link.startswith(("//", "/static", "/fonts"))
        }
        pages = sorted(link for link in links if not NOT_PAGES.search(urlsplit(link).path))
        return self._random.choice(pages) if pages else "/"


def kind(url: str) -> str:
    """The page that an address is one of: /students/3 and /students/4 are /students/N."""
    return re.sub(r"/\d+", "/N", urlsplit(url).path)


def measure(seconds: float, clients: int, pause: float) -> tuple[dict[str, list[float]], list[str]]:
    """Times in milliseconds by page, and what went wrong."""
    with tempfile.TemporaryDirectory() as folder:
        process, host, port = start(folder)
        try:
            until = time.monotonic() + seconds
            people = [Client(host, port, until, pause, seed) for seed in range(clients)]
            for person in people:
                person.start()
            for person in people:
                person.join(seconds + 60)
        finally:
            process.terminate()
            process.communicate(timeout=30)
    times: dict[str, list[float]] = defaultdict(list)
    for person in people:
        for name, values in person.times_ms.items():
            times[name] += values
    return times, [error for person in people for error in person.errors]


def main() -> int:
    """Measure, print, judge."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--clients", type=int, default=20)
    parser.add_argument("--pause", type=float, default=0.5, help="mean pause of a client, s")
    wish = parser.parse_args()
    seconds, clients = min(wish.seconds, MOST_SECONDS), min(wish.clients, MOST_CLIENTS)
    times, errors = measure(seconds, clients, wish.pause)
    print(f"{'page':40} {'count':>6} {'median ms':>10} {'p95 ms':>8}")
    for name, values in sorted(times.items()):
        p95 = sorted(values)[math.ceil(0.95 * len(values)) - 1]
        print(f"{name:40} {len(values):6} {statistics.median(values):10.1f} {p95:8.1f}")
    every = [value for values in times.values() for value in values]
    print(f"{'all':40} {len(every):6} {statistics.median(every):10.1f}")
    for error in errors[:20]:
        print(f"error: {error}")
    # What was seen only a few times says more of the first call than of the page.
    slow = [
        name
        for name, values in times.items()
        if len(values) >= FEW and statistics.median(values) > MEDIAN_MS
    ]
    print(f"{len(errors)} errors; above {MEDIAN_MS:.0f} ms: {', '.join(sorted(slow)) or 'none'}")
    return 1 if errors or slow else 0


if __name__ == "__main__":
    raise SystemExit(main())
