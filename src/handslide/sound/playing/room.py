"""A small room: the first reflections off its walls and a short tail, the same each time.

The first reflections are those of a box with source and ears at their places, each wall's mirror
images after Allen & Berkley, "Image method for efficiently simulating small-room acoustics", J.
Acoust. Soc. Am. 65 (1979) 943, to the second order. What comes later is noise that dies away, high
tones sooner (Moorer, "About this reverberation business", Computer Music Journal 3 (1979) 13). The
direct sound isn't part of it, so that onsets and pitches stay as they are.

Conventions: sounds are float32 of shape (2, n), left and right.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handslide.sound.synth import RATE_HZ

Floats = NDArray[np.float64]
Mix = NDArray[np.float32]

SIZE_M = (7.2, 5.4, 3.1)
SOURCE_M, EARS_M = (4.7, 2.3, 1.4), ((2.3, 3.35, 1.5), (2.3, 3.15, 1.5))
WALLS = 0.72
"""How much of the pressure a wall gives back."""
TAIL_S = 0.45
"""In which the tail falls by 60 dB."""
WET_DB = -14.0
"""How loud all of it is beside the direct sound."""
_SOUND_M_S = 343.0
_ORDER = 2
_TAIL_FROM_S = 0.018
_EARLY_SHARE = 0.6
_BLOCK = 1 << 17


def add_room(mix: Mix, rate_hz: int = RATE_HZ) -> None:
    """Let a mix sound in the room, in place. Its end cuts what still sounds."""
    answer = room_answer(rate_hz)
    long = answer.shape[1]
    size = 1 << int(_BLOCK + long - 1).bit_length()
    count = size - long + 1
    spectra = np.fft.rfft(answer, size)
    rest = np.zeros((2, long - 1), np.float32)
    for at in range(0, mix.shape[1], count):
        piece = mix[:, at : at + count]
        dry = np.fft.rfft(0.5 * (piece[0] + piece[1]), size)
        wet = np.fft.irfft(dry * spectra, size).astype(np.float32)
        wet[:, : long - 1] += rest
        piece += wet[:, : piece.shape[1]]
        rest = wet[:, piece.shape[1] : piece.shape[1] + long - 1]


@lru_cache(maxsize=2)
def room_answer(rate_hz: int = RATE_HZ) -> Mix:
    """What comes back of a click, at each ear, shape (2, n)."""
    count = round((TAIL_S + _TAIL_FROM_S) * rate_hz)
    both = []
    rng = np.random.default_rng(1979)
    for ear in EARS_M:
        early, tail = _early(ear, count, rate_hz), _tail(rng, count, rate_hz)
        both.append(
            _EARLY_SHARE * early / np.sqrt(np.sum(early**2))
            + (1.0 - _EARLY_SHARE) * tail / np.sqrt(np.sum(tail**2))
        )
    answer = np.array(both)
    answer *= 10.0 ** (WET_DB / 20.0) / np.sqrt(np.mean(np.sum(answer**2, axis=1)))
    return answer.astype(np.float32)


def _early(ear: tuple[float, float, float], count: int, rate_hz: int) -> Floats:
    answer = np.zeros(count)
    direct_m = float(np.linalg.norm(np.subtract(SOURCE_M, ear)))
    shifts = range(-_ORDER, _ORDER + 1)
    for place in ((x, y, z) for x in shifts for y in shifts for z in shifts):
        hits = sum(abs(one) for one in place)
        if not 1 <= hits <= _ORDER:
            continue
        mirror = [
            one * size + (source if one % 2 == 0 else size - source)
            for one, size, source in zip(place, SIZE_M, SOURCE_M)
        ]
        far_m = float(np.linalg.norm(np.subtract(mirror, ear)))
        at = round((far_m - direct_m) / _SOUND_M_S * rate_hz)
        if at < count:
            answer[at] += WALLS**hits * direct_m / far_m
    return answer


def _tail(rng: np.random.Generator, count: int, rate_hz: int) -> Floats:
    """Noise in octaves, each with a decay of its own."""
    noise = rng.standard_normal(count)
    hz = np.fft.rfftfreq(count, 1.0 / rate_hz)
    spectrum = np.fft.rfft(noise)
    time_s = np.arange(count) / rate_hz
    answer = np.zeros(count)
    for middle in (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0):
        band = np.exp(-0.5 * (np.log2(np.maximum(hz, 1.0) / middle) / 0.5) ** 2)
        tail_s = TAIL_S / (1.0 + (middle / 4000.0) ** 2) ** 0.5
        answer += np.fft.irfft(spectrum * band, count) * 10.0 ** (-3.0 * time_s / tail_s)
    start = round(_TAIL_FROM_S * rate_hz)
    answer[:start] *= np.linspace(0.0, 1.0, start)
    return answer
