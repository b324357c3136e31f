"""How far a take can be trusted: noise, echo, band, clipping, offset, beeps; and each figure by it.

- Noise: the level of the notes above what sounds between them (20th percentile of the frames that
  are 0.3 s away from any note).
- Echo: the reverberation time as a decay of 60 dB, from a straight line through the level after a
  note, between 5 and 25 dB below it, or as far as the noise allows (ISO 3382-1: T20, and the
  evaluation from less; seen in several descriptions of it). A tone that dies slowly looks like an
  echo, an echo can't die more quickly than it does: of all pauses one of the quicker is taken, as
  those do who estimate it blindly (R. Ratnam and others, J. Acoust. Soc. Am. 114, 2003, from
  memory).
- Band: where the spectrum falls by 20 dB within a third of an octave and stays there; natural
  spectra of brass fall by 4 to 5. A lower limit: low notes whose fundamental is 35 dB below their
  strongest harmonic (recorded trombones: 10 to 25).

Conventions: levels in dB, times in seconds.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.sound.recording import Recording
from handslide.sound.track import Track

Floats = NDArray[np.float64]

FIGURES = ("pitch", "rhythm", "attacks", "slurs", "steadiness", "loudness", "brightness")
BELIEVED = ("good", "rough", "not")
"""How far a figure of a take can be believed."""
_AWAY_S, _FLOOR_PERCENTILE = 0.3, 20.0
_LEAST_FLOOR_FRAMES = 8
_LEAST_PAUSE_S, _LONGEST_DECAY_S = 0.2, 1.2
_FROM_DB, _TO_DB, _LEAST_DB, _MARGIN_DB = 5.0, 25.0, 10.0, 6.0
_SINKS_DB, _TAIL_S = 6.0, 0.2  # while it is played; what is heard of it after that
_QUICK_PERCENTILE = 40.0
_STRETCH_DB = 14.0
_HIGH_FROM_HZ, _HIGH_TO_HZ = 2000.0, 5000.0
_TELEPHONE_HZ = 4000.0
_FALL_DB, _THIRD = 20.0, 2.0 ** (1.0 / 3.0)
_LOW_NOTES_HZ = (110.0, 250.0)
_WEAK_FIRST_DB = -35.0
_OFFSET = 0.003
# From here on a figure is rough, from here on it isn't to be believed.
_ECHO_S = (0.5, 1.0)
_SIGNAL_DB = (30.0, 18.0)
_CLIPPED = (0.02, 0.2)  # of the notes


@dataclass(frozen=True, slots=True)
class Trust:
    """What a take is like as a recording; None where it couldn't be told.

    ``signal_db`` is how far the notes are above the noise, ``noise_db`` the noise re full scale,
    ``echo_s`` the time of a decay of 60 dB, ``high_hz`` the upper limit of the band, ``low_cut``
    whether low fundamentals are missing, ``clipped`` the share of the notes that are, ``offset``
    the mean of the samples, ``beeps`` how many of a metronome were heard. ``believed`` has for each
    of `FIGURES` one of `BELIEVED`.
    """

    noise_db: float | None
    signal_db: float | None
    echo_s: float | None
    high_hz: float | None
    low_cut: bool
    clipped: float
    offset: float
    beeps: int
    believed: tuple[tuple[str, str], ...]

    def of(self, figure: str) -> str:
        """How far a figure can be believed."""
        return dict(self.believed)[figure]


@dataclass(frozen=True, slots=True)
class Sounding:
    """What is asked of a note: when, how high (Hz), its level in dB, whether it is clipped, and
    how far the fundamental is below its strongest harmonic (None: not known)."""

    start_s: float
    end_s: float
    f0_hz: float
    level_db: float
    clipped: bool
    first_db: float | None


def trust_of(
    track: Track, recording: Recording | None, notes: Sequence[Sounding], beeps: int
) -> Trust:
    """How far a take with these notes, in the order of time, can be trusted."""
    noise = _noise_db(track, notes)
    signal = None
    if noise is not None and notes:
        signal = float(np.median([note.level_db for note in notes])) - noise
    echo = _echo_s(track, notes, noise)
    clipped = sum(note.clipped for note in notes) / max(len(notes), 1)
    high = None if recording is None else _high_hz(recording)
    firsts = [
        note.first_db
        for note in notes
        if note.first_db is not None and _LOW_NOTES_HZ[0] <= note.f0_hz <= _LOW_NOTES_HZ[1]
    ]
    low_cut = len(firsts) >= 3 and float(np.median(firsts)) < _WEAK_FIRST_DB
    offset = 0.0 if recording is None else recording.offset
    believed = _believed(signal, echo, clipped, high is not None or low_cut, len(notes))
    return Trust(noise, signal, echo, high, low_cut, clipped, offset, beeps, believed)


def has_offset(trust: Trust) -> bool:
    """Whether the offset of a recording is worth a word."""
    return abs(trust.offset) >= _OFFSET


def _noise_db(track: Track, notes: Sequence[Sounding]) -> float | None:
    time_s = np.arange(len(track.level_db)) * track.hop_s
    between = np.ones(len(time_s), dtype=bool)
    for note in notes:
        near = (time_s > note.start_s - 0.1) & (time_s < note.end_s + _AWAY_S)
        between &= ~near
    levels = track.level_db[between & (track.level_db > -99.0)]
    if len(levels) < _LEAST_FLOOR_FRAMES:
        silent = between.sum() >= _LEAST_FLOOR_FRAMES
        return -100.0 if silent else None
    return float(np.percentile(levels, _FLOOR_PERCENTILE))


def _echo_s(track: Track, notes: Sequence[Sounding], noise_db: float | None) -> float | None:
    """The reverberation time from the pauses after notes; None without a pause."""
    level = _short_level(track)
    found = []
    for number, note in enumerate(notes):
        until_s = notes[number + 1].start_s if number + 1 < len(notes) else track.length_s
        if until_s - note.end_s < _LEAST_PAUSE_S - 0.1:
            continue
        decay_s = _decay_s(level, track.hop_s, note, min(until_s, note.end_s + _LONGEST_DECAY_S),
                           -100.0 if noise_db is None else noise_db)  # fmt: skip
        if decay_s is not None:
            found.append(decay_s)
    return float(np.percentile(found, _QUICK_PERCENTILE)) if found else None


def _short_level(track: Track) -> Floats:
    """The level over each hop: frames of 93 ms are too long for a decay."""
    whole = len(track.samples) // track.hop
    pieces = track.samples[: whole * track.hop].reshape(whole, track.hop)
    power = np.einsum("ij,ij->i", pieces, pieces, dtype=np.float64) / track.hop
    level: Floats = 10.0 * np.log10(np.maximum(power, 1e-12))
    return level


def _ended_s(level: Floats, hop_s: float, note: Sounding) -> float:
    """When a note was last as loud as it is: in a room it may be heard long after it was played."""
    first = int(note.start_s / hop_s)
    inside = level[min(first, len(level) - 1) : max(first + 1, int(note.end_s / hop_s))]
    loud = np.flatnonzero(inside >= float(np.percentile(inside, 75)) - _SINKS_DB)
    ended_s = (first + int(loud[-1]) + 1) * hop_s
    return ended_s if note.end_s - ended_s > _TAIL_S else note.end_s


def _decay_s(
    level: Floats, hop_s: float, note: Sounding, until_s: float, noise_db: float
) -> float | None:
    end_s = _ended_s(level, hop_s, note)
    begin = max(int(note.start_s / hop_s), int((end_s - 0.25) / hop_s))
    stop = min(int(until_s / hop_s), len(level))
    if stop - begin < 8:
        return None
    # Over five hops: low tones swing from hop to hop.
    smooth = 10.0 * np.log10(
        np.convolve(10.0 ** (level[begin:stop] / 10.0), np.ones(3) / 3, "same")
    )
    top = float(np.median(smooth[: max(3, int((end_s - begin * hop_s) / hop_s) - 5)]))
    last = np.flatnonzero(smooth >= top - _FROM_DB)
    if not len(last):
        return None
    first = int(last[-1])
    lowest = max(top - _TO_DB, noise_db + _MARGIN_DB)
    under = np.flatnonzero(smooth[first:-1] <= lowest)
    end = first + int(under[0]) if len(under) else len(smooth) - 1
    fall = smooth[first] - smooth[end]
    if end <= first or fall < _LEAST_DB:
        return None
    # The quickest stretch: while the tone itself still dies away, the level falls more slowly.
    part = smooth[first : end + 1]
    drop = min(_STRETCH_DB, float(fall))
    lower = np.minimum.accumulate(part)
    times = [
        (after - number) * hop_s / (part[number] - lower[after])
        for number in range(len(part))
        if (after := int(np.argmax(lower <= part[number] - drop))) > number
    ]
    return 60.0 * min(times) if times else None


def _high_hz(recording: Recording) -> float | None:
    """Where the band ends, below 5 kHz; None where it goes on."""
    hz, power = recording.hz, recording.power
    if not len(hz) or power.max() <= 0.0:
        return None
    if recording.rate_hz < 2.2 * _TELEPHONE_HZ:
        return 0.5 * recording.rate_hz
    edges = np.geomspace(_HIGH_FROM_HZ / _THIRD, 0.48 * recording.rate_hz, 80)
    width = _THIRD ** (1.0 / 3.0)
    level = np.array([_band_db(hz, power, edge, edge * width) for edge in edges])
    found = None
    for number, edge in enumerate(edges):
        if not _HIGH_FROM_HZ <= edge <= min(_HIGH_TO_HZ, 0.40 * recording.rate_hz):
            continue
        above = edges >= edge * _THIRD
        if above.sum() >= 3 and level[number] - level[above].max() >= _FALL_DB:
            found = float(edge)
    return found


def _band_db(hz: Floats, power: Floats, low_hz: float, high_hz: float) -> float:
    inside = (hz >= low_hz) & (hz < max(high_hz, low_hz + 2.0 * hz[1]))
    return float(10.0 * np.log10(max(float(power[inside].mean()) if inside.any() else 0.0, 1e-20)))


def _believed(
    signal: float | None, echo: float | None, clipped: float, band: bool, count: int
) -> tuple[tuple[str, str], ...]:
    """What follows for each figure."""
    echoing = 0 if echo is None else sum(echo >= limit for limit in _ECHO_S)
    noisy = 0 if signal is None else sum(signal < limit for limit in _SIGNAL_DB)
    driven = sum(clipped >= limit for limit in _CLIPPED)
    none = 2 if not count else 0
    grades = {
        "pitch": max(noisy - 1, 0),
        "rhythm": max(echoing - 1, noisy - 1, 0),
        "attacks": max(echoing, noisy),
        "slurs": max(echoing, noisy - 1, 0),
        "steadiness": max(noisy, echoing - 1, 0),
        "loudness": max(driven, noisy - 1, echoing - 1, 0),
        "brightness": max(driven, 2 if band else 0, noisy),
    }
    return tuple((name, BELIEVED[max(grades[name], none)]) for name in FIGURES)
