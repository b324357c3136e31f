"""Measuring sounds by other means than the program's own."""

import numpy as np
import pytest
from scipy.signal import butter, sosfiltfilt


def ebur128(samples, rate_hz):
    """(integrated LUFS, true peak in dBTP) by FFmpeg's meter; ``samples`` is (n,) or (2, n)."""
    av = pytest.importorskip("av", reason="FFmpeg's loudness meter comes with PyAV")
    planes = np.atleast_2d(samples).astype(np.float32)
    layout = "mono" if len(planes) == 1 else "stereo"
    graph = av.filter.Graph()
    source = graph.add_abuffer(sample_rate=rate_hz, format="fltp", layout=layout)
    meter = graph.add("ebur128", "peak=true:metadata=1")
    sink = graph.add("abuffersink")
    source.link_to(meter)
    meter.link_to(sink)
    graph.configure()
    found = {}

    def pull():
        while True:
            try:
                found.update(sink.pull().metadata)
            except (av.BlockingIOError, av.EOFError):
                return

    for at in range(0, planes.shape[1], 4800):
        block = np.ascontiguousarray(planes[:, at : at + 4800])
        frame = av.AudioFrame.from_ndarray(block, format="fltp", layout=layout)
        frame.sample_rate, frame.pts = rate_hz, at
        source.push(frame)
        pull()
    source.push(None)
    pull()
    peak = max(float(found[key]) for key in found if key.startswith("lavfi.r128.true_peaks_ch"))
    return float(found["lavfi.r128.I"]), 20 * np.log10(peak)


def line_hz(samples, rate_hz, near_hz):
    """Frequency of the spectral line near ``near_hz``: how its phase turns from half to half."""
    count = len(samples) // 2
    turn = np.exp(-2j * np.pi * near_hz * np.arange(2 * count) / rate_hz) * samples[: 2 * count]
    window = np.blackman(count)
    first, second = (turn[:count] * window).sum(), (turn[count:] * window).sum()
    return near_hz + np.angle(second / first) * rate_hz / (2 * np.pi * count)


def db(power):
    return 10 * np.log10(np.maximum(power, 1e-30))


def hiss_db(samples, rate_hz, above_hz=14_000.0, frame_s=0.005):
    """Level of what is above ``above_hz``, beside the whole, in short frames: clicks stand out."""
    sections = butter(8, above_hz, "high", fs=rate_hz, output="sos")
    high = sosfiltfilt(sections, np.pad(np.asarray(samples, float), rate_hz // 10))
    high = high[rate_hz // 10 : -rate_hz // 10]
    count = round(frame_s * rate_hz)
    frames = high[: len(high) // count * count].reshape(-1, count)
    return db((frames**2).mean(axis=1)) - db(np.mean(np.asarray(samples, float) ** 2))
