"""A recording decoded, block by block: the work of a child process.

The only user of the audio libraries for reading. soundfile (BSD; libsndfile, LGPL) reads WAV, FLAC,
OGG, MP3, AIFF and more; what it can't read, such as the M4A of phones, is left to PyAV (BSD; the
FFmpeg in its wheels is built with GPL parts, so it is an extra that the user chooses to install).
PyAV is loaded only when it is needed.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from handslide.edges.leash.child import Lent
from handslide.ground.errors import NotInstalled, TakeError
from handslide.ground.facts import Fact

Floats = NDArray[np.float64]

_BLOCK = 65_536
_LOUDEST = 100.0  # times full scale


@dataclass(frozen=True, slots=True)
class Head:
    """What a file says of itself; ``length_s`` is None where it doesn't say."""

    rate_hz: float
    channels: int
    length_s: float | None


def decoded(name: str | Fact, audio: Path | Lent) -> Iterator[Head | Floats]:
    """The head of a recording, and its samples in blocks of shape (n, channels), -1 to 1.

    ``name`` is what errors call it. Raises TakeError for what is no audio or breaks off.
    """
    file = audio if isinstance(audio, Path) else audio.open()
    opened = _with_soundfile(file, name)
    yield from opened if opened is not None else _with_av(file, name)


def _with_soundfile(audio: Path | BinaryIO, name: str | Fact) -> Iterator[Head | Floats] | None:
    """The file through soundfile; None where it can't read it."""
    import soundfile

    try:
        file = soundfile.SoundFile(audio)
    except soundfile.LibsndfileError:
        return None
    return _soundfile_blocks(file, name)


def _soundfile_blocks(file: Any, name: str | Fact) -> Iterator[Head | Floats]:
    import soundfile

    known = 0 < file.frames < 1 << 62
    length_s = file.frames / file.samplerate if known else None
    with file:
        yield Head(float(file.samplerate), file.channels, length_s)
        while True:
            try:
                block = file.read(_BLOCK, dtype="float64", always_2d=True)
            except soundfile.LibsndfileError as error:
                raise TakeError("audio.broken_off", file=name) from error
            if not len(block):
                return
            yield _bounded(block)


def _with_av(audio: Path | BinaryIO, name: str | Fact) -> Iterator[Head | Floats]:
    """The file through PyAV. Raises TakeError where it can't read it either, NotInstalled."""
    try:
        import av
    except ImportError as error:
        raise NotInstalled("audio.phone_format", file=name) from error
    try:
        if not isinstance(audio, Path):
            audio.seek(0)
        container = av.open(str(audio) if isinstance(audio, Path) else audio)
        streams = container.streams.audio
    except (av.FFmpegError, OSError, ValueError) as error:
        raise TakeError("audio.not_audio", file=name) from error
    if not streams or not getattr(streams[0], "rate", None):  # without a codec there is none
        container.close()
        raise TakeError("audio.not_audio", file=name)
    return _av_blocks(container, streams[0], name)


def _av_blocks(container: Any, stream: Any, name: str | Fact) -> Iterator[Head | Floats]:
    import av

    length_s = None
    if stream.duration is not None and stream.time_base is not None:
        length_s = float(stream.duration * stream.time_base)
    with container:
        yield Head(float(stream.rate), stream.channels, length_s)
        planes = av.AudioResampler(format="dblp", layout=stream.layout, rate=stream.rate)
        try:
            for frame in container.decode(stream):
                for part in planes.resample(frame):
                    yield _bounded(part.to_ndarray().T)
            for part in planes.resample(None):
                yield _bounded(part.to_ndarray().T)
        except (av.FFmpegError, ValueError) as error:
            raise TakeError("audio.broken_off", file=name) from error


def _bounded(block: Any) -> Floats:
    """Samples of floating point can be anything: what is no number is silence, and nothing is
    louder than a hundred times full scale."""
    samples: Floats = np.clip(np.nan_to_num(block), -_LOUDEST, _LOUDEST)
    return samples
