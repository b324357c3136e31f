"""Takes of single notes as a form sends them: WAV bytes of brass-like tones, one after another."""

import numpy as np
from played import RATE_HZ, write_wav

from handslide.sound.tones import fades, harmonic_tone


def take(tmp_path, notes_hz, name="take.wav", *, seconds=1.1, seed=3):
    """(name, bytes, type) of a take with these notes, rests between them."""
    rng = np.random.default_rng(seed)
    rest = np.zeros(round(0.35 * RATE_HZ))
    pieces = [rest]
    for hz in notes_hz:
        tone = harmonic_tone(hz, seconds, RATE_HZ, phases=rng.uniform(0, 6.28, 30))
        pieces += [0.1 * tone * fades(len(tone), round(0.02 * RATE_HZ)), rest]
    samples = np.concatenate(pieces)
    path = write_wav(tmp_path / name, samples + 1e-4 * rng.standard_normal(len(samples)))
    return name, path.read_bytes(), "audio/wav"
