"""What a room, a phone and a file do to a take. Sounds are (n,) at `RATE_HZ`."""

import importlib.util
import io

import numpy as np
from scipy.signal import butter, fftconvolve, sosfilt

from .truth import Floats
from .voices import RATE_HZ

_SPEED_M_S = 343.0
_ASIDE_DB = 3.0


def decaying_noise(rt_s: float, direct_db: float, rng: np.random.Generator) -> Floats:
    """A room's answer: the direct sound and noise that dies away by 60 dB in ``rt_s``.

    J. A. Moorer, "About this reverberation business" (Computer Music Journal 3, 1979).
    ``direct_db``: the direct sound's energy beside that of all the rest.
    """
    count = round(1.1 * rt_s * RATE_HZ)
    time_s = np.arange(count) / RATE_HZ
    tail = rng.standard_normal(count) * 10.0 ** (-3.0 * time_s / rt_s)
    tail[: round(0.004 * RATE_HZ)] = 0.0
    tail = sosfilt(butter(1, 6000.0, fs=RATE_HZ, output="sos"), tail)
    tail *= 10.0 ** (-direct_db / 20.0) / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    return np.asarray(tail)


def box_room(
    rt_s: float, size_m: tuple[float, float, float], apart_m: float, rng: np.random.Generator
) -> Floats:
    """A room's answer by images of the source in its walls.

    J. B. Allen and D. A. Berkley, "Image method for efficiently simulating small-room acoustics"
    (J. Acoust. Soc. Am. 65, 1979), with one reflection coefficient for all walls and pitches, such
    that the room dies away in ``rt_s`` (`reverberation_s`). Source and microphone are ``apart_m``
    from each other; the bell points at the microphone, so what comes back from the walls is
    `_ASIDE_DB` weaker (own assumption). The direct sound comes first and has level 1.
    """
    size = np.array(size_m)
    ear = size * rng.uniform(0.3, 0.7, 3)
    way = rng.standard_normal(3) * (1.0, 1.0, 0.2)
    mouth = np.clip(ear + apart_m * way / np.linalg.norm(way), 0.3, size - 0.3)
    far, hits = _images(size, mouth, ear, _SPEED_M_S * min(rt_s, 0.9))
    # Signs at random keep the many equal arrivals of a perfect box from adding up to a tone.
    signs = np.where(hits > 2, rng.choice((-1.0, 1.0), len(hits)), 1.0)
    at = np.rint(far / _SPEED_M_S * RATE_HZ).astype(int)
    direct = int(at.min())
    volume, surface = size.prod(), 2.0 * (size[0] * size[1] + size[1] * size[2] + size[0] * size[2])
    designed_s = rt_s
    for _ in range(3):
        # C. F. Eyring, "Reverberation time in dead rooms" (J. Acoust. Soc. Am. 1, 1930); a box
        # of mirrors dies away more slowly than that, so what it is designed for is corrected.
        kept = np.exp(-24.0 * np.log(10.0) * volume / (_SPEED_M_S * surface * designed_s))
        level = np.sqrt(kept) ** hits / far * signs * np.where(hits, 10 ** (-_ASIDE_DB / 20), 1.0)
        answer = np.bincount(at - direct, level) * far.min()
        designed_s *= rt_s / reverberation_s(answer)
    return np.asarray(answer)


def _images(size: Floats, mouth: Floats, ear: Floats, reach_m: float) -> tuple[Floats, Floats]:
    """How far all images of the source within reach are, and how many walls each one has met."""
    grids = [np.arange(-n, n + 1) for n in np.ceil(reach_m / (2.0 * size)).astype(int)]
    found_far, found_hits = [], []
    for flip in np.ndindex(2, 2, 2):
        sign = 1.0 - 2.0 * np.array(flip)
        off = [2.0 * grids[i] * size[i] + sign[i] * mouth[i] - ear[i] for i in range(3)]
        met = [np.abs(2 * grids[i] - flip[i]) for i in range(3)]
        x, y, z = np.ix_(*off)
        far = np.sqrt(x**2 + y**2 + z**2).ravel()
        a, b, c = np.ix_(*met)
        hits = (a + b + c).ravel()
        found_far.append(far[far < reach_m])
        found_hits.append(hits[far < reach_m])
    return np.concatenate(found_far), np.concatenate(found_hits)


def reverberation_s(answer: Floats) -> float:
    """Reverberation time of a room's answer from its decay between -5 and -25 dB.

    M. R. Schroeder, "New method of measuring reverberation time" (J. Acoust. Soc. Am. 37, 1965),
    over 20 dB as in ISO 3382; without the direct sound, which would hide the decay near by.
    """
    energy = np.cumsum(answer[:0:-1] ** 2)[::-1]
    db = 10.0 * np.log10(np.maximum(energy / energy[0], 1e-12))
    span = slice(int(np.argmax(db < -5.0)), int(np.argmax(db < -25.0)))
    slope = np.polyfit(np.arange(span.start, span.stop) / RATE_HZ, db[span], 1)[0]
    return float(-60.0 / slope)


def in_room(dry: Floats, answer: Floats) -> Floats:
    """A sound in a room, of the same length."""
    return np.asarray(fftconvolve(dry, answer)[: len(dry)])


def band(sound: Floats, low_hz: float = 300.0, high_hz: float = 3400.0) -> Floats:
    """Only a telephone's band, or another one."""
    sections = butter(4, (low_hz, high_hz), "bandpass", fs=RATE_HZ, output="sos")
    return np.asarray(sosfilt(sections, sound))


def pink_noise(count: int, level_db: float, rng: np.random.Generator) -> Floats:
    """Noise that falls by 3 dB an octave, RMS ``level_db``."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hz = np.maximum(np.fft.rfftfreq(count, 1.0 / RATE_HZ), 20.0)
    noise = np.fft.irfft(spectrum / np.sqrt(hz), count)
    return np.asarray(noise * 10.0 ** (level_db / 20.0) / np.std(noise))


def hum(count: int, level_db: float, mains_hz: float, rng: np.random.Generator) -> Floats:
    """Mains hum with its harmonics, RMS ``level_db``."""
    time_s = np.arange(count) / RATE_HZ
    wave = sum(
        level * np.sin(2.0 * np.pi * k * mains_hz * time_s + rng.uniform(0.0, 6.28))
        for k, level in ((1, 0.5), (2, 1.0), (3, 0.2), (4, 0.3))
    )
    return np.asarray(wave * 10.0 ** (level_db / 20.0) / np.std(wave))


def has_aac() -> bool:
    """Whether an AAC encoder is at hand (FFmpeg's, through PyAV)."""
    return importlib.util.find_spec("av") is not None


def through_aac(sound: Floats, bits_per_s: int) -> Floats:
    """A sound after AAC-LC, as phones store it, with nothing moved in time."""
    import av

    file = io.BytesIO()
    with av.open(file, "w", format="mp4") as out:
        stream = out.add_stream("aac", rate=RATE_HZ, layout="mono")
        stream.bit_rate = bits_per_s
        for at in range(0, len(sound), 1024):
            block = sound[at : at + 1024].astype(np.float32)[None]
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block), "fltp", "mono")
            frame.sample_rate, frame.pts = RATE_HZ, at
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    file.seek(0)
    with av.open(file) as back:
        parts = [frame.to_ndarray()[0] for frame in back.decode(audio=0)]
    found = np.concatenate(parts).astype(np.float64)
    lag = _lag(found, sound)
    found = np.concatenate((np.zeros(max(0, -lag)), found[max(0, lag) :]))
    return np.concatenate((found, np.zeros(max(0, len(sound) - len(found)))))[: len(sound)]


def _lag(found: Floats, sound: Floats) -> int:
    """How many samples later ``found`` is than ``sound``, within 4096."""
    count = min(len(found), len(sound), 4 * RATE_HZ)
    match = fftconvolve(found[:count], sound[:count][::-1])
    middle = match[count - 1 - 4096 : count + 4096]
    return int(np.argmax(middle)) - 4096
