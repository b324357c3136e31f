"""From sound to picture on the stage, in a real browser whose microphone hears a file.

    python benchmarks/stage_latency.py [--seconds 30]

Counted from the sample with which a tone begins, as the page gets it, to the frame in which the
slide has moved: hearing, the way to the studio and back, drawing. What the sound card takes before
that (some 10 ms) is not in it. Tones of E♭3 and F3 take turns, each 1 s long after 0.4 s of none.
"""

import argparse
import statistics
import sys
import tempfile
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests" / "helpers")]

from played import RATE_HZ, write_wav  # noqa: E402

from browser import chromium, serving, visiting  # noqa: E402
from handslide.edges.store.students import StudentValues  # noqa: E402
from handslide.ground.units import midi_to_hz  # noqa: E402
from handslide.sound.tones import harmonic_tone  # noqa: E402
from handslide.studio.people.horns import enrol  # noqa: E402
from handslide.studio.studio import open_studio  # noqa: E402

GOAL_MS = 100.0
TONES = (51, 53)
_WATCH = """
window.onsets = []; window.moves = [];
const send = WebSocket.prototype.send;
let loud = true;
WebSocket.prototype.send = function (data) {
  if (data instanceof ArrayBuffer) {
    const block = new Int16Array(data);
    const first = block.findIndex((value) => Math.abs(value) > 300);
    if (first >= 0 && !loud) {
      const after_ms = (1000 * (block.length - first)) / 48000;
      window.onsets.push(performance.now() - after_ms);
    }
    loud = first >= 0;
  }
  return send.call(this, data);
};
addEventListener("load", () => {
  const parts = document.querySelectorAll('.stage-wide .slide > svg [data-slide="outer"]');
  const brass = parts[0];
  let last = "";
  new MutationObserver(() => {
    if (brass.getAttribute("transform") === last) return;
    last = brass.getAttribute("transform");
    requestAnimationFrame(() => window.moves.push(performance.now()));
  }).observe(brass, { attributeFilter: ["transform"] });
});
"""


def microphone(folder: Path) -> Path:
    """A file of the tones, heard over and over."""
    rng = np.random.default_rng(5)
    silence = np.zeros(round(0.4 * RATE_HZ))
    pieces = []
    for midi in TONES:
        phases = rng.uniform(0, 6.28, 30)
        tone = 0.1 * harmonic_tone(midi_to_hz(midi), 1.0, RATE_HZ, phases=phases, fade_s=0.01)
        pieces += [silence, tone]
    return write_wav(folder / "played.wav", np.concatenate(pieces))


def main() -> None:
    """Measure, and say it beside the goal."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--seconds", type=float, default=30.0)
    wished = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        studio = open_studio(folder / "studio")
        student = enrol(studio, StudentValues(name="Ada Lindqvist"), "tenor-f")
        sound = microphone(folder)
        with (
            serving(studio) as address,
            chromium(sound) as browser,
            visiting(browser, address) as page,
        ):
            page.add_init_script(_WATCH)
            page.goto(f"/takes/new?student={student.id}")
            page.keyboard.press("l")
            page.wait_for_timeout(1000 * wished.seconds)
            onsets, moves = page.evaluate("[window.onsets, window.moves]")
        studio.close()
    # A move a second after the tone began isn't that tone's first.
    firsts = [min((m - o for m in moves if m > o), default=1e9) for o in onsets[1:-1]]
    ms = sorted(wait for wait in firsts if wait < 1000.0)
    assert len(ms) >= 0.8 * len(firsts) and len(ms) >= 5, (len(onsets), len(moves))
    worst = ms[round(0.9 * (len(ms) - 1))]
    print(
        f"{len(ms)} tones: median {statistics.median(ms):.0f} ms, nine of ten within {worst:.0f} ms"
    )
    print(f"goal: median {GOAL_MS:.0f} ms")


if __name__ == "__main__":
    main()
