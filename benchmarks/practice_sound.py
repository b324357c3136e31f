"""Speed of drones and play-alongs on one core, with peers for scale, in one run.

The peers are the same notes added up harmonic by harmonic (our own plain synthesis), the room as
one convolution of all of it (SciPy), and FFmpeg's loudness meter (PyAV, a development dependency).
Run: python benchmarks/practice_sound.py
"""

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import importlib.util  # noqa: E402
import sys  # noqa: E402
import tempfile  # noqa: E402
import time  # noqa: E402
from collections.abc import Callable  # noqa: E402
from dataclasses import replace  # noqa: E402
from pathlib import Path  # noqa: E402

from scipy.signal import fftconvolve  # noqa: E402

from handslide.edges.musicxml.read import open_score  # noqa: E402
from handslide.jobs.practice.drone import drone_data  # noqa: E402
from handslide.jobs.practice.playalong import (  # noqa: E402
    PlayAlong,
    make_playalong,
    playalong_data,
    write_playalong,
)
from handslide.jobs.practice.soundwishes import DroneWishes, PlayWishes  # noqa: E402
from handslide.sound.loudness import loudness_lufs, true_peak_dbtp  # noqa: E402
from handslide.sound.playing.room import room_answer  # noqa: E402
from handslide.sound.synth import RATE_HZ  # noqa: E402
from handslide.sound.tones import harmonic_tone  # noqa: E402

ROOT = Path(__file__).resolve().parents[1]
PART = ROOT / "tests" / "scores" / "Galliard_Sonata1.musicxml"
ACCOMPANIED = ROOT / "tests" / "scores" / "Bordogni_Vocalise_01_PD.musicxml"
WANTED_S = 3.0
LENGTH_S = 180.0
RUNS = 3


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Best wall and processor seconds of a few runs."""
    walls, busy = [], []
    for _ in range(RUNS):
        wall, processor = time.perf_counter(), time.process_time()
        work()
        walls.append(time.perf_counter() - wall)
        busy.append(time.process_time() - processor)
    return min(walls), min(busy)


def show(what: str, work: Callable[[], object]) -> float:
    wall, busy = timed(work)
    print(f"{what:<62}{wall:8.2f} s   {busy:6.2f} s of processor")
    return busy


def whole_accompaniment() -> float:
    """Processor time of three minutes of a part with all of its piano, beside peers."""
    score = open_score(ACCOMPANIED)
    once = make_playalong(score)
    wishes = PlayWishes(speed_percent=100.0 * once.sound.length_s / LENGTH_S)
    made = make_playalong(score, wishes)
    print(f"{made.sound.length_s:.0f} s with {made.other_notes} notes of the piano")
    busy = show("play-along with the piano: played, stereo, in a room", lambda: (
        make_playalong(score, wishes)
    ))  # fmt: skip
    show("  without the room", lambda: make_playalong(score, replace(wishes, room=False)))
    mono = made.sound.samples.mean(axis=0)
    show("  peer: the room as one convolution for each ear", lambda: [
        fftconvolve(mono, ear) for ear in room_answer()
    ])  # fmt: skip
    show("  peer: its solo's notes added up harmonic by harmonic", lambda: added_up(made))
    return busy


def added_up(made: PlayAlong) -> None:
    for note in made.notes:
        harmonic_tone(note.hz, note.length_s, RATE_HZ, fade_s=0.025)


def main() -> int:
    # All of the sonata, with its count-in, at the speed at which it lasts three minutes.
    whole = make_playalong(open_score(PART), PlayWishes(others=False))
    wishes = PlayWishes(speed_percent=100.0 * whole.sound.length_s / LENGTH_S)
    score = open_score(PART)
    made = make_playalong(score, wishes)
    print(f"play-along of {made.sound.length_s:.0f} s, {len(made.notes)} notes; best of {RUNS}")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "out.wav"
        busy = show(
            "play-along: score read, played, levelled, written as WAV",
            lambda: write_playalong(PART, wishes, path, force=True),
        )
    show("  of that: played and levelled", lambda: make_playalong(score, wishes))
    show("  the same as bytes of OGG", lambda: playalong_data(score, wishes, ".ogg"))
    show("  peer: its notes added up harmonic by harmonic", lambda: added_up(made))
    samples = made.sound.samples
    show("loudness and true peak of it", lambda: (
        loudness_lufs(samples, RATE_HZ), true_peak_dbtp(samples, RATE_HZ)
    ))  # fmt: skip
    if importlib.util.find_spec("av"):
        sys.path.insert(0, str(ROOT / "tests" / "helpers"))
        from sound_meter import ebur128

        show("  peer: FFmpeg's meter", lambda: ebur128(samples, RATE_HZ))
    chord = DroneWishes(("Bb2",), chord="major", just=True, length_s=60.0)
    show("drone: a chord of a minute as WAV", lambda: drone_data(chord))
    loop = DroneWishes(("Bb2",), chord="major", loop=True)
    show("loop: an equal chord of ten seconds as WAV", lambda: drone_data(loop))
    busy = max(busy, whole_accompaniment())
    print(f"wanted: a three-minute play-along under {WANTED_S:g} s of processor: {busy:.2f} s")
    return int(busy > WANTED_S)


if __name__ == "__main__":
    sys.exit(main())
