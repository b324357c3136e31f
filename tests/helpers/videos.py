"""Clips, decoded: what is seen and heard in them when. By PyAV, which has decoders of its own."""

import os
import shutil
from dataclasses import dataclass

import av
import imageio_ffmpeg
import numpy as np
import pytest


@pytest.fixture
def ffmpeg(monkeypatch):
    """The machine's FFmpeg, else that of a package that only tests need."""
    program = shutil.which("ffmpeg") or imageio_ffmpeg.get_ffmpeg_exe()
    monkeypatch.setenv("HANDSLIDE_FFMPEG", program)
    return program


@dataclass
class Seen:
    """``frames`` (n, height, width, 3) at ``time_s`` (n,); ``sound`` (m,) at ``sound_s`` (m,)."""

    frames: np.ndarray
    time_s: np.ndarray
    sound: np.ndarray
    sound_s: np.ndarray
    kinds: list[str]


def watched(path):
    """A clip as a player shows it: what precedes the start of a stream isn't heard."""
    frames, times, sound, heard = [], [], [], []
    with av.open(os.fspath(path)) as file:
        kinds = [f"{one.type} {one.codec_context.name}" for one in file.streams]
        for frame in file.decode(video=0):
            frames.append(frame.to_ndarray(format="rgb24"))
            times.append(frame.time)
    with av.open(os.fspath(path)) as file:
        for frame in file.decode(audio=0):
            wave = frame.to_ndarray()
            wave = wave.mean(axis=0) if frame.format.is_planar else wave.reshape(-1)
            sound.append(wave)
            heard.append(frame.time + np.arange(len(wave)) / frame.sample_rate)
    return Seen(
        np.array(frames),
        np.array(times, float),
        np.concatenate(sound),
        np.concatenate(heard),
        kinds,
    )
