"""Speed and errors of hearing, beside other trackers on the same sounds, in one run, on one core.

Praat's autocorrelation is measured when praat-parselmouth is there (a development dependency),
pyin and yin when librosa is (not one: pip install librosa). Run from the project folder:
python benchmarks/hearing.py
"""

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import argparse  # noqa: E402
import importlib.util  # noqa: E402
import time  # noqa: E402
from collections.abc import Callable  # noqa: E402
from pathlib import Path  # noqa: E402

import numpy as np  # noqa: E402
from numpy.typing import NDArray  # noqa: E402

from handslide.edges.audio.read import read_take  # noqa: E402
from handslide.ground.units import cents, midi_to_hz  # noqa: E402
from handslide.sound.notes import hear  # noqa: E402
from handslide.sound.tones import brass_levels, harmonic_tone  # noqa: E402

ROOT = Path(__file__).resolve().parents[1]
SHARED = ROOT.parent / "shared" / "audio"
TAKES = SHARED if SHARED.is_dir() else ROOT / "tests" / "takes"
RATE_HZ = 44_100
FLOOR_HZ, CEILING_HZ = 30.0, 1000.0
Floats = NDArray[np.float64]
# Gives the median pitch of a sound with one note, in Hz.
Tracker = Callable[[Floats, float], float]


def ours(samples: Floats, rate_hz: float) -> float:
    notes = hear(samples, rate_hz).notes
    return max(notes, key=lambda note: note.end_s - note.start_s).f0_hz if notes else np.nan


def praat(samples: Floats, rate_hz: float) -> float:
    import parselmouth

    sound = parselmouth.Sound(samples, rate_hz)
    pitch = sound.to_pitch_ac(0.01, pitch_floor=FLOOR_HZ, pitch_ceiling=CEILING_HZ)
    hz = pitch.selected_array["frequency"]
    return float(np.median(hz[hz > 0])) if np.any(hz > 0) else np.nan


def pyin(samples: Floats, rate_hz: float) -> float:
    import librosa

    hz, _, _ = librosa.pyin(samples, fmin=FLOOR_HZ, fmax=CEILING_HZ, sr=rate_hz, frame_length=4096)
    return float(np.nanmedian(hz))


def yin(samples: Floats, rate_hz: float) -> float:
    import librosa

    hz = librosa.yin(samples, fmin=FLOOR_HZ, fmax=CEILING_HZ, sr=rate_hz, frame_length=4096)
    return float(np.median(hz))


def trackers() -> dict[str, Tracker]:
    found: dict[str, Tracker] = {"handslide": ours}
    if importlib.util.find_spec("parselmouth"):
        found["praat"] = praat
    if importlib.util.find_spec("librosa"):
        found |= {"librosa pyin": pyin, "librosa yin": yin}
    return found


def known_tones(count: int, snr_db: float) -> list[tuple[Floats, float]]:
    rng = np.random.default_rng(1)
    tones = []
    for _ in range(count):
        f0_hz = midi_to_hz(rng.uniform(28, 77))
        tone = 0.1 * harmonic_tone(f0_hz, 1.0, RATE_HZ, fade_s=0.02)
        tones.append((tone + 0.1 * 10 ** (-snr_db / 20) * rng.standard_normal(len(tone)), f0_hz))
    return tones


def bound_cents(f0_hz: float, length_s: float, noise: float, levels: Floats) -> float:
    """The Cramér-Rao bound of a harmonic tone's pitch in white noise: standard deviation in cents.

    var(f0) >= 24·σ²·fs² / ((2π)²·N·(N² - 1)·Σ k²·A_k²), for many periods (S. M. Kay, Fundamentals
    of Statistical Signal Processing I, 1993, example 3.14, summed over harmonics; M. G. Christensen
    and A. Jakobsson, Multi-Pitch Estimation, 2009; both from memory). ``levels`` (k,) are
    amplitudes, ``noise`` is the standard deviation of a sample.
    """
    count = length_s * RATE_HZ
    slope = float(np.sum((np.arange(1, len(levels) + 1) * levels) ** 2))
    variance = 24.0 * (noise * RATE_HZ) ** 2 / ((2 * np.pi) ** 2 * count * (count**2 - 1) * slope)
    return float(1200.0 / np.log(2.0) * np.sqrt(variance) / f0_hz)


def show_bound(count: int, snr_db: float) -> None:
    """Our errors over the bound of all of a tone, that is with its ends and all its harmonics."""
    rng = np.random.default_rng(2)
    off, over = [], []
    for _ in range(count):
        f0_hz, length_s = midi_to_hz(rng.uniform(34, 70)), float(rng.uniform(0.5, 2.0))
        levels = brass_levels(f0_hz, RATE_HZ)
        tone = 0.1 * harmonic_tone(f0_hz, length_s, RATE_HZ, levels=levels, fade_s=0.01)
        amplitudes = levels * np.sqrt(2.0 * np.mean(tone**2) / np.sum(levels**2))
        noise = 10.0 ** (-snr_db / 20.0) * float(np.std(tone))
        quiet = noise * rng.standard_normal(round(0.3 * RATE_HZ))
        sound = np.concatenate((quiet, tone + noise * rng.standard_normal(len(tone)), quiet))
        off.append(float(cents(ours(sound, RATE_HZ) / f0_hz)))
        over.append(off[-1] / bound_cents(f0_hz, length_s, noise, amplitudes))
    near = np.abs(off) < 50
    rms = np.sqrt(np.mean(np.square(over)[near]))
    usual = np.median(np.abs(over)[near]) / 0.6745  # of a normal distribution: its rms
    print(
        f"  {snr_db:3.0f} dB: bias {np.median(np.array(off)[near]):8.4f} cents, errors of rms "
        f"{rms:5.2f} (from their median {usual:5.2f}), {np.sum(~near)} of {count} off the note"
    )


def show_errors(name: str, track: Tracker, tones: list[tuple[Floats, float]], title: str) -> None:
    off = np.array([cents(track(sound, RATE_HZ) / f0_hz) for sound, f0_hz in tones])
    gross = ~(np.abs(off) < 50)
    rms = np.sqrt(np.mean(off[~gross] ** 2)) if not gross.all() else np.nan
    print(f"  {name:<14}{title}: rms {rms:8.4f} cents, {gross.sum()} of {len(off)} off the note")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tones", type=int, default=40)
    parser.add_argument("--takes", type=int, default=70)
    options = parser.parse_args()
    takes = [
        read_take(path)
        for path in sorted(TAKES.rglob("*"))
        if path.suffix in (".wav", ".ogg", ".mp3")
    ][: options.takes]
    length_s = sum(len(take.samples) / take.rate_hz for take in takes)
    print(f"{len(takes)} recorded notes, {length_s:.0f} s")
    speed = {}
    for name, track in trackers().items():
        track(takes[0].samples, takes[0].rate_hz)
        start = time.perf_counter()
        for take in takes:
            track(take.samples, take.rate_hz)
        speed[name] = length_s / (time.perf_counter() - start)
        print(f"  {name:<14}{speed[name]:8.1f} × real time")
    for snr_db in (40.0, 20.0, 10.0):
        tones = known_tones(options.tones, snr_db)
        for name, track in trackers().items():
            show_errors(name, track, tones, f"{snr_db:.0f} dB")
    print("handslide, in Cramér-Rao bounds")
    for snr_db in (50.0, 40.0, 30.0, 20.0, 10.0):
        show_bound(4 * options.tones, snr_db)
    print(f"bar: 80 × real time: {'kept' if speed['handslide'] >= 80 else 'NOT KEPT'}")
    if "librosa pyin" in speed:
        ratio = speed["handslide"] / speed["librosa pyin"]
        kept = "kept" if ratio >= 30 else "NOT KEPT"
        print(f"bar: 30 × as quick as pyin: {ratio:.0f}: {kept}")


if __name__ == "__main__":
    main()
