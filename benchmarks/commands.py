"""What each command takes of time to start and of memory at its peak.

A child begins with the peak of the process that starts it, so a small process stands between
(``tests/helpers/peaked.py``).
"""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[1]
sys.path.append(str(ROOT / "tests" / "helpers"))

from peaked import peaked  # noqa: E402

HANDSLIDE = [sys.executable, "-m", "handslide"]
SCORES, TAKES = ROOT / "tests" / "scores", ROOT / "tests" / "takes"
Best = Callable[[int, Callable[[], object]], float]


def bench_start(best_of: Best, runs: int) -> list[tuple[str, float, str, bool]]:
    """Start-up of the command line against a bare interpreter, and a short part marked.

    Python keeps what it compiles, as an installation does.
    """
    lanterns = ROOT / "examples" / "lanterns.musicxml"

    with TemporaryDirectory() as out, TemporaryDirectory() as compiled:
        env = os.environ | {"PYTHONPYCACHEPREFIX": compiled, "PYTHONDONTWRITEBYTECODE": ""}

        def timed(words: list[str]) -> float:
            return best_of(
                runs + 1, lambda: subprocess.run(words, check=True, capture_output=True, env=env)
            )

        bare = timed([sys.executable, "-c", "pass"])
        helped = timed([*HANDSLIDE, "--help"])
        to = ["--horn", "tenor-f", "--no-pdf", "--force", "-o", out]
        short = timed([*HANDSLIDE, "mark", str(lanterns), *to])
        libraries = timed([sys.executable, "-c", "import numpy, lxml.etree, click"])
    print(f"start-up: python -c pass {1e3 * bare:.0f} ms, handslide --help {1e3 * helped:.0f} ms")
    print(f"  a part of 125 notes marked, without PDF: {1e3 * short:.0f} ms,")
    print(f"  of which Python with numpy, lxml and click {1e3 * libraries:.0f} ms")
    over = helped - 1.5 * bare
    return [
        ("--help less 1.5 bare Pythons, s", over, "at most 0.03", over <= 0.03),
        ("a short part without PDF, s", short, "under 0.25", short < 0.25),
    ]


def bench_memory() -> list[tuple[str, float, str, bool]]:
    """The most memory that each command takes, on real scores and takes."""
    rows = []
    print("memory of each command at its peak, its helpers in other processes not counted")
    with TemporaryDirectory() as out:
        for name, words in _commands(Path(out)):
            code, peak, _ = peaked([str(word) for word in words])
            if code:
                print(f"  {name:<28}{'not here':>11}")  # a clip needs an encoder
                continue
            print(f"  {name:<28}{peak / 1e6:8.0f} MB")
            rows.append((f"memory of {name}, MB", peak / 1e6, "under 400", peak < 400e6))
    return rows


def _commands(out: Path) -> Iterator[tuple[str, list[object]]]:
    study, take = SCORES / "Belcke_12_Etudes_08.musicxml", TAKES / "tromboneF4_root53.wav"
    boats, played = ROOT / "examples" / "boats.musicxml", ROOT / "examples" / "boats-take.ogg"
    to = ["--force", "-o"]
    yield "places", ["places", "C3", "--horn", "tenor-f"]
    yield "line", ["line", "Eb3 D3 Db3 C3", "--horn", "tenor-f"]
    yield "mark, without PDF", ["mark", study, "--no-pdf", *to, out]
    yield "mark", ["mark", study, *to, out]
    yield "chart", ["chart", "--horn", "tenor-f", *to, out / "chart.pdf"]
    yield "drill", ["drill", "scales", "--horn", "tenor-f", *to, out]
    yield "routine", ["routine", "--minutes", 20, "--horn", "tenor-f", *to, out / "routine.pdf"]
    yield "transpose", ["transpose", study, "--by", "-M2", *to, out]
    yield "listen", ["listen", take, "--horn", "tenor-f"]
    yield "listen, with its part", ["listen", played, "--part", boats, "--horn", "tenor-f"]
    yield "tune", ["tune", "--horn", "tenor-f", "--open", 174.0, "--valve", 172.0]
    yield "fit", ["fit", ROOT / "examples" / "fit.csv", "--horn", "tenor-f", *to, out / "fit.toml"]
    yield "drone", ["drone", "Bb2", *to, out / "drone.wav"]
    yield "playalong", ["playalong", boats, *to, out / "along.wav"]
    yield "handout", ["handout", boats, "--horn", "tenor-f", *to, out / "boats.html"]
    yield "clip", ["clip", boats, "--horn", "tenor-f", *to, out / "boats.mp4"]
