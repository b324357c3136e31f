"""Writes what the first lesson of the documents needs: examples/boats.musicxml and a take of it.

The playing is synthesised, nobody's: on a tenor with an F valve, the slide 18 mm too short in 3rd
position and a few millimetres off elsewhere. Run from the project folder:
python scripts/make_lesson.py
"""

import shutil
import sys
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

ROOT = Path(__file__).resolve().parents[1]
SCORE = ROOT / "examples" / "boats.musicxml"
TAKE = ROOT / "examples" / "boats-take.ogg"
RATE_HZ = 22_050
PARTIALS = 60
SHORT_MM, SPREAD_MM = -18.0, 3.0
SPREAD_S = 0.012


def play(horn: Any, rows: list[Any], rng: np.random.Generator) -> np.ndarray:
    """Samples of ``rows`` (place, onset in s, length in s), shape (n,)."""
    from handslide.sound.tones import fades, harmonic_tone

    end = max(onset + length for _, onset, length in rows) + 1.0
    samples = 2e-4 * rng.standard_normal(round(end * RATE_HZ))
    for place, onset, length in rows:
        x = place.extension_m
        if x > 0.01:
            x += (SHORT_MM * (round(place.position) == 3) + rng.normal(0.0, SPREAD_MM)) / 1000.0
        hz = horn.frequency_hz(place.partial, x, place.valves) * 2.0 ** (2.0 / 1200.0)
        levels = 0.88 ** np.arange(PARTIALS)
        phases = rng.uniform(0.0, 6.28, PARTIALS)
        tone = harmonic_tone(hz, 0.9 * length, RATE_HZ, levels=levels, phases=phases)
        start = round((onset + 0.4 + rng.normal(0.0, SPREAD_S)) * RATE_HZ)
        samples[start : start + len(tone)] += 0.05 * tone * fades(len(tone), round(0.02 * RATE_HZ))
    return samples


def main() -> None:
    """Write both files."""
    sys.path.insert(0, str(ROOT / "tests" / "helpers"))
    from played import placed

    from handslide.jobs.setup import make_setup

    shutil.copyfile(ROOT / "src" / "handslide" / "data" / "example" / SCORE.name, SCORE)
    setup = make_setup("tenor-f", reach=6.0)
    samples = play(setup.horn, placed(setup, SCORE), np.random.default_rng(3))
    soundfile.write(TAKE, samples, RATE_HZ, format="OGG", subtype="VORBIS")


if __name__ == "__main__":
    main()
