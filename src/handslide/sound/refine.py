"""The pitch of one note, as finely as the recording allows: harmonic least squares.

Method. Harmonic k of the note is turned down to 0 Hz along a reference pitch (the coarse track) and
averaged under Hann windows of four or more periods that overlap by half, which gives its level and
phase in blocks. With harmonics locked to each other, as a blown tone's are, one phase path explains
them all: its least-squares value in a block weighs harmonic k by k times its level. The slope of
that path is the pitch. In white noise this reaches the Cramér–Rao bound of a harmonic tone,
var(f0) >= 24·σ²·fs² / ((2π)²·N·(N² - 1)·Σ k²·A_k²)
(S. M. Kay, Fundamentals of Statistical Signal Processing I, 1993, example 3.14, summed over
harmonics; D. C. Rife and R. R. Boorstyn, IEEE Trans. IT-20, 1974; both from memory).

Conventions: phases in rad of the fundamental; cents relative to a stated reference.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_HARMONICS = 40
_HIGHEST_SHARE = 0.42  # of the rate: above, the low pass of the track falls
_SHORTEST_BLOCK_S = 0.008
_ENOUGH_BLOCKS = 8
_LEAST_BLOCKS = 5
_SAFE_DEVIATION = 0.02  # of the pitch: how far off the reference may be
_CHUNK = 16384
CENTS = 1200.0 / np.log(2.0)


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Harmonics of a note in blocks.

    ``time_s`` (b,) middles of the windows from the start of the samples, ``step_s`` apart;
    ``turn`` (b,) phase of the fundamental in rad, averaged under each window; ``parts`` (k, b)
    complex level of each harmonic with that phase taken out (0 for a perfect, still tone);
    ``power`` (b,) mean square of the samples under each window.
    """

    time_s: Floats
    step_s: float
    turn: Floats
    parts: NDArray[np.complex128]
    power: Floats

    @property
    def hz(self) -> Floats:
        """Pitch between neighbouring blocks, shape (b - 1,)."""
        return np.diff(self.turn) / (2.0 * np.pi * self.step_s)

    def cut(self, first: int, stop: int) -> "Blocks":
        """The blocks from ``first`` to before ``stop``."""
        return Blocks(
            self.time_s[first:stop],
            self.step_s,
            self.turn[first:stop],
            self.parts[:, first:stop],
            self.power[first:stop],
        )


def harmonic_count(f0_hz: float, rate_hz: float) -> int:
    """How many harmonics of a note are used."""
    return int(np.clip(_HIGHEST_SHARE * rate_hz / f0_hz, 1, MOST_HARMONICS))


def blocks_of(samples: Floats, rate_hz: float, path_hz: Floats) -> Blocks | None:
    """Harmonics of ``samples`` (n,) along the reference pitch ``path_hz`` (n,); None if too short.

    The phase path is fitted too, so ``turn`` carries the measured pitch and ``parts`` what is left.
    """
    f0_hz = float(np.median(path_hz))
    hop = _hop_for(rate_hz / f0_hz, rate_hz, len(samples))
    rows = len(samples) // hop
    if rows < _LEAST_BLOCKS:
        return None
    used = rows * hop
    reference = 2.0 * np.pi * np.cumsum(path_hz[:used]) / rate_hz
    parts, turn, power = turned_down(samples[:used], reference, hop, harmonic_count(f0_hz, rate_hz))
    step_s = hop / rate_hz
    time_s: Floats = np.arange(1.0, rows) * step_s - 0.5 / rate_hz
    left = _phase_path(parts, f0_hz * step_s)
    number = np.arange(1, len(parts) + 1)[:, None]
    return Blocks(time_s, step_s, turn + left, parts * np.exp(-1j * number * left), power)


def _hop_for(period: float, rate_hz: float, samples: int) -> int:
    """Samples between blocks: near a multiple of half a period.

    A Hann window of a whole number of periods, two or more, is blind for all other harmonics. Four
    or more are taken where that leaves enough blocks.
    """
    shortest = 2.0 * _SHORTEST_BLOCK_S * rate_hz / period
    for periods in (4.0, 2.0):
        least = int(np.ceil(max(periods, shortest)))
        if samples >= _ENOUGH_BLOCKS * least * period / 2.0:
            break
    else:
        return round(least * period / 2.0)
    hops = np.arange(least, max(least + 3, int(1.5 * least))) * period / 2.0
    off = np.abs(np.rint(hops) - hops) / hops
    # Just under a whole number of samples all multiples are off alike: the shortest, not chance.
    return round(float(hops[np.argmax(off <= off.min() * (1.0 + 1e-6))]))


def turned_down(
    samples: Floats, reference: Floats, hop: int, count: int
) -> tuple[NDArray[np.complex128], Floats, Floats]:
    """Parts (count, rows - 1), mean reference phase and mean square under each Hann window."""
    rows = len(samples) // hop
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(hop) + 0.5) / hop)
    halves = np.stack((rise, 1.0 - rise), axis=1) / hop
    sums = np.empty((count, rows, 2), dtype=np.complex128)
    per_chunk = max(1, _CHUNK // hop)
    for first in range(0, rows, per_chunk):
        last = min(rows, first + per_chunk)
        span = slice(first * hop, last * hop)
        turner = np.exp(-1j * reference[span])
        turned = samples[span] * turner
        for index in range(count):
            if index:
                turned *= turner
            sums[index, first:last] = turned.reshape(-1, hop) @ halves
    turn, power = (row.reshape(rows, hop) @ halves for row in (reference, samples**2))
    return (
        2.0 * (sums[:, :-1, 0] + sums[:, 1:, 1]),
        turn[:-1, 0] + turn[1:, 1],
        power[:-1, 0] + power[1:, 1],
    )


def _phase_path(parts: NDArray[np.complex128], periods: float) -> Floats:
    """The phase (b,) of the fundamental that all harmonics share, relative to the reference."""
    number = np.arange(1, len(parts) + 1)[:, None]
    # The lowest harmonics can't be mistaken by a turn; they bring the others within reach.
    low = int(np.clip(0.4 / (_SAFE_DEVIATION * periods), 1, len(parts)))
    path = _from_steps(parts[:low], number[:low])
    path += _from_steps(parts * np.exp(-1j * number * path), number)
    for _ in range(2):
        path += phase_left(parts * np.exp(-1j * number * path))
    return path


def _from_steps(parts: NDArray[np.complex128], number: NDArray[np.int64]) -> Floats:
    pair = parts[:, 1:] * parts[:, :-1].conj()
    weight = np.abs(pair)
    step = np.sum(number * weight * np.angle(pair), axis=0) / np.maximum(
        np.sum(number**2 * weight, axis=0), 1e-30
    )
    return np.concatenate(([0.0], np.cumsum(step)))


def phase_left(parts: NDArray[np.complex128]) -> Floats:
    """Least-squares phase (b,) of the fundamental in each block, linearised around 0.

    Σ k·Im(z_k·conj(a_k)) / Σ k²·|a_k|², with a_k the mean of z_k: one Gauss-Newton step.
    """
    number = np.arange(1, len(parts) + 1)[:, None]
    mean = parts.mean(axis=1, keepdims=True)
    weight = np.sum(number**2 * np.abs(mean) ** 2)
    turned = np.sum(number * (parts * mean.conj()).imag, axis=0)
    slope: Floats = turned / max(float(weight), 1e-30)
    return slope


def white_phase_sd(turn: Floats) -> float:
    """Standard deviation in rad of the noise that differs from block to block.

    From third differences, which a smooth path hardly has. Hann windows that overlap by half share
    1/6 of their noise, hence 20 - 2·15/6 = 15 where independent blocks would have 20.
    """
    if len(turn) < 5:
        return float("nan")
    return float(np.sqrt(np.mean(np.diff(turn, 3) ** 2) / 15.0))


def unlocked_cents(blocks: Blocks, f0_hz: float) -> tuple[Floats, Floats, Floats, Floats]:
    """How far each harmonic runs from its multiple of the pitch.

    Returns harmonic numbers, cents, standard errors in cents and mean squares, each (m,), of those
    harmonics that can be judged (within 35 dB of the strongest, clear of the noise). Those of a
    blown tone are locked: all 0. A struck string's rise with the square of the number; those of two
    tones together scatter.
    """
    level = np.sqrt(np.mean(np.abs(blocks.parts) ** 2, axis=1))
    use = np.flatnonzero(level > level.max() * 10 ** (-35 / 20))
    phase = np.unwrap(np.angle(blocks.parts[use]), axis=1)
    time_s = blocks.time_s - blocks.time_s.mean()
    slope = phase @ time_s / np.sum(time_s**2)
    jitter = np.diff(phase, 3, axis=1)
    noise = np.sqrt(np.mean(jitter**2, axis=1) / 15.0)
    number = use + 1
    scale = CENTS / (2.0 * np.pi * number * f0_hz)
    se = scale * noise * np.sqrt(4.0 / 3.0 / np.sum(time_s**2))
    clear = noise < 0.5
    power = 0.5 * level[use] ** 2
    return number[clear].astype(np.float64), (scale * slope)[clear], se[clear], power[clear]
