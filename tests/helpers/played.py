"""Takes that sound: a part played with known slide errors, as samples of brass-like tones."""

import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np

from handslide.edges.musicxml.read import open_score
from handslide.instrument.places import Place
from handslide.jobs.hear.followed import FollowedTake, follow_take
from handslide.jobs.setup import Setup
from handslide.sound.notes import hear
from handslide.sound.tones import fades, harmonic_tone

RATE_HZ = 22_050.0
Slip = Callable[[int, Place, Place | None], float | None]
"""(note number, place, place before) -> mm too far out; None leaves the note out."""


def play_part(
    setup: Setup,
    places: list[tuple[Place, float, float]],
    slip: Slip,
    *,
    cents: float = 0.0,
    noise: float = 1e-4,
    seed: int = 0,
) -> np.ndarray:
    """Samples of ``places`` (place, onset in s, length in s), each with its slide error."""
    rng = np.random.default_rng(seed)
    end = max(onset + length for _, onset, length in places) + 0.8
    samples = noise * rng.standard_normal(round(end * RATE_HZ))
    before = None
    for number, (place, onset, length) in enumerate(places):
        off_mm = slip(number, place, before)
        before = place
        if off_mm is None:
            continue
        x = place.extension_m + off_mm / 1000.0
        hz = setup.horn.frequency_hz(place.partial, x, place.valves)
        hz *= 2.0 ** ((place.lip_cents + cents) / 1200.0)
        sounds = max(0.88 * length, 0.08)
        tone = harmonic_tone(hz, sounds, RATE_HZ, phases=rng.uniform(0, 6.28, 30))
        start = round((onset + 0.3) * RATE_HZ)
        tone *= fades(len(tone), round(0.015 * RATE_HZ))
        samples[start : start + len(tone)] += 0.1 * tone
    return samples


def play_slurred(
    setup: Setup, places: list[tuple[Place, float, float]], *, moving_s: float = 0.09
) -> np.ndarray:
    """Samples of ``places`` in one breath: from note to note the slide is heard moving, without a
    tongue, and the partial changes half way."""
    end = max(onset + length for _, onset, length in places) + 0.8
    hz, sounds = np.full(round(end * RATE_HZ), 100.0), np.zeros(round(end * RATE_HZ))
    half = round(0.5 * moving_s * RATE_HZ)
    for number, (place, onset, length) in enumerate(places):
        at = slice(round((onset + 0.3) * RATE_HZ), round((onset + 0.3 + length) * RATE_HZ))
        where = np.full(at.stop - at.start, place.extension_m)
        for other, near in (
            (number - 1, slice(0, half)), (number + 1, slice(len(where) - half, None))
        ):  # fmt: skip
            if 0 <= other < len(places):
                middle = 0.5 * (place.extension_m + places[other][0].extension_m)
                ends = (
                    (middle, place.extension_m) if other < number else (place.extension_m, middle)
                )
                where[near] = np.linspace(*ends, half)
        steps = np.linspace(where.min(), where.max() + 1e-6, 50)
        played = [setup.horn.frequency_hz(place.partial, x, place.valves) for x in steps]
        hz[at] = np.interp(where, steps, played) * 2.0 ** (place.lip_cents / 1200.0)
        sounds[at] = 1.0
    level = np.convolve(sounds, np.full(441, 1 / 441), "same")
    phase = 2 * np.pi * np.cumsum(hz) / RATE_HZ
    tone = sum(np.sin(k * phase) / k for k in range(1, 12))
    return 0.05 * level * tone + 1e-4 * np.random.default_rng(0).standard_normal(len(hz))


def placed(
    setup: Setup, score: Path, measures: int | None = None
) -> list[tuple[Place, float, float]]:
    """The places of a part as it is routed, with onset and length."""
    empty = follow_take(open_score(score), _hum(), setup)
    rows = []
    for number, written in enumerate(empty.part.played):
        place = empty.routed.places.get(written)
        index = empty.part.notes[written].measure_index
        if place is not None and (measures is None or index < measures):
            rows.append((place, empty.part.onset_s[number], empty.part.length_s[number]))
    return rows


def _hum():
    return hear(harmonic_tone(220.0, 1.0, RATE_HZ), RATE_HZ)


def follow_samples(samples: np.ndarray, score: Path, setup: Setup) -> FollowedTake:
    return follow_take(open_score(score), hear(samples, RATE_HZ), setup)


def write_wav(path: Path, samples: np.ndarray) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(round(RATE_HZ))
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return path
