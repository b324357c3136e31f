"""Sounds composed for tests of hearing: notes, rooms, and what isn't a note."""

import numpy as np

from handslide.ground.units import midi_to_hz
from handslide.sound.notes import hear
from handslide.sound.tones import brass_levels, harmonic_tone

RATE_HZ = 44_100


def note(midi, length_s, *, cents=0.0, level=0.1, fade_s=0.02, rate_hz=RATE_HZ):
    return level * harmonic_tone(midi_to_hz(midi), length_s, rate_hz, cents=cents, fade_s=fade_s)


def pause(length_s, rate_hz=RATE_HZ):
    return np.zeros(round(length_s * rate_hz))


def noise(length_s, level, seed=0):
    return level * np.random.default_rng(seed).standard_normal(round(length_s * RATE_HZ))


def legato(midis, length_s, glide_s=0.02):
    """Slurred notes: one tone whose pitch steps within ``glide_s``."""
    cents = np.repeat(100.0 * (np.array(midis) - midis[0]), round(length_s * RATE_HZ))
    glide = round(glide_s * RATE_HZ)
    smooth = np.convolve(np.pad(cents, glide, mode="edge"), np.ones(glide) / glide, "same")
    return note(midis[0], len(cents) / RATE_HZ, cents=smooth[glide:-glide])


def hum(length_s, level=0.03):
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    return sum(level / k * np.sin(2 * np.pi * 50 * k * time_s) for k in (1, 2, 3))


def metronome(length_s, every_s=0.5):
    """Woodblock clicks."""
    time_s = np.arange(round(0.03 * RATE_HZ)) / RATE_HZ
    click = 0.3 * np.sin(2 * np.pi * 1000 * time_s) * np.exp(-time_s / 0.005)
    clicks = pause(length_s)
    for start_s in np.arange(0.1, length_s - 0.1, every_s):
        first = round(start_s * RATE_HZ)
        clicks[first : first + len(click)] += click
    return clicks


def count_in(seed):
    """Four spoken syllables: a consonant's hiss and a vowel whose pitch falls."""
    rng = np.random.default_rng(seed)
    parts = []
    for _ in range(4):
        f0_hz, length_s = rng.uniform(100, 200), 0.22
        fall = np.linspace(0, -rng.uniform(400, 1000), round(length_s * RATE_HZ))
        hz = f0_hz * np.arange(1, 25)
        vowel = np.exp(-(((hz - 600) / 500) ** 2)) + 0.3
        hiss = 0.05 * rng.standard_normal(2646) * np.hanning(2646)
        voice = 0.05 * harmonic_tone(
            f0_hz, length_s, RATE_HZ, levels=vowel, cents=fall, fade_s=0.04
        )
        parts += [hiss, voice, pause(0.35)]
    return np.concatenate(parts)


def piano(midi, length_s, stiffness=4e-4):
    """A struck string: partials run sharp and die away."""
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    hz = midi_to_hz(midi)
    return sum(
        0.1 / k * np.exp(-time_s * (1.5 + 0.4 * k))
        * np.sin(2 * np.pi * k * hz * np.sqrt(1 + stiffness * k * k) * time_s)
        for k in range(1, 16)
    )  # fmt: skip


def heard(*parts, floor_db=-60.0, **options):
    """What is heard in parts one after the other, in a room with noise."""
    sound = np.concatenate(parts)
    room = 10 ** (floor_db / 20) * np.random.default_rng(1).standard_normal(len(sound))
    return hear(sound + room, RATE_HZ, **options)


def midis(take):
    return [one.midi for one in take.notes]


def reasons(take):
    return {row.why.kind.removeprefix("sounds.") for row in take.left_out}


def bound_cents(f0_hz, count, rate_hz, noise_sd):
    """Cramér–Rao bound of a brass-like tone of power 1 in white noise, in cents (facts: Kay)."""
    levels = brass_levels(f0_hz, rate_hz)
    number = np.arange(1, len(levels) + 1)
    variance = 24 * noise_sd**2 / (count * (count**2 - 1.0) * np.sum((number * levels) ** 2))
    return 1200 / np.log(2) * np.sqrt(variance) * rate_hz / (2 * np.pi * f0_hz)
