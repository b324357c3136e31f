"""Audio files in: any usual format, rate and number of channels, as mono samples.

The only user of the audio libraries. soundfile (BSD; libsndfile, LGPL) reads WAV, FLAC, OGG, MP3,
AIFF and more; what it can't read, such as the M4A of phones, is left to PyAV (BSD; the FFmpeg in
its wheels is built with GPL parts, so it is an extra that the user chooses to install). Both are
loaded when a file is read, PyAV only when it is needed.

Conventions: samples are float64, full scale is -1 to 1, channels are averaged (silent ones left
out, so that a recording on one channel of two keeps its level), shape (n,).
"""

import io
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO, TypeAlias

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import TakeError
from handslide.ground.facts import Fact, fact
from handslide.ground.system import system_reason

Floats = NDArray[np.float64]
Name: TypeAlias = str | Fact
"""What errors call a recording: its file's name, or words for one that has none."""

LONGEST_S = 10_800.0
_GB = 10**9
LARGEST_BYTES = 4 * _GB
_BLOCK = 65_536
_RATES_HZ = (4000.0, 768_000.0)


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """A recording: mono ``samples`` (n,) at ``rate_hz``; how many ``channels`` the file had."""

    samples: Floats
    rate_hz: float
    channels: int
    name: Name


@dataclass(slots=True, eq=False)
class OpenTake:
    """A recording that is read in blocks; ``length_s`` is what the file says, if it does."""

    name: Name
    rate_hz: float
    channels: int
    length_s: float | None
    _blocks: Iterator[Floats]
    read: int = field(default=0)

    def blocks(self) -> Iterator[Floats]:
        """Mono blocks, in order, once. Raises TakeError for a file that breaks off or is long."""
        for block in self._blocks:
            self.read += len(block)
            if self.read > LONGEST_S * self.rate_hz:
                raise _too_long(self.name)
            yield _mono(block)
        if self.read == 0:
            raise TakeError("audio.no_samples", file=self.name)


def read_take(path: Path) -> Take:
    """Read a whole recording.

    Raises
    ------
    TakeError
        When the file is missing, a folder, empty, not audio, broken off, or longer than three
        hours.
    """
    opened = open_take(path)
    samples = np.concatenate(list(opened.blocks()))
    return Take(samples, opened.rate_hz, opened.channels, opened.name)


def open_take(audio: Path | BinaryIO, name: str = "") -> OpenTake:
    """Open a recording to read it in blocks: a file, or an open one that is called ``name``.

    Raises TakeError as ``read_take`` does.
    """
    called: Name
    if isinstance(audio, Path):
        called, size = audio.name, _size_of(audio)
    else:
        called, size = name or fact("audio.a_recording"), audio.seek(0, io.SEEK_END)
        audio.seek(0)
    if size == 0:
        raise TakeError("audio.empty", file=called)
    if size > LARGEST_BYTES:
        raise TakeError("audio.too_large", file=called, most_gb=LARGEST_BYTES // _GB)
    opened = _with_soundfile(audio, called) or _with_av(audio, called)
    _check_rate(opened)
    if opened.length_s is not None and opened.length_s > LONGEST_S:
        raise _too_long(called)
    return opened


def _check_rate(opened: OpenTake) -> None:
    least_hz, most_hz = _RATES_HZ
    rate = {"file": opened.name, "rate_hz": opened.rate_hz}
    if opened.rate_hz < least_hz:
        raise TakeError("audio.low_rate", **rate, least_hz=least_hz)
    if opened.rate_hz > most_hz:
        raise TakeError("audio.high_rate", **rate, most_hz=most_hz)


def _size_of(path: Path) -> int:
    try:
        about = path.stat()
        if path.is_dir():
            raise TakeError("audio.is_folder", file=str(path))
        if not stat.S_ISREG(about.st_mode):
            raise TakeError("files.not_plain", path=str(path))
        with path.open("rb") as file:
            file.read(1)
    except OSError as error:
        reason = system_reason(error)
        raise TakeError("audio.unreadable", file=str(path), reason=reason) from error
    return about.st_size


def _too_long(name: Name) -> TakeError:
    return TakeError("audio.too_long", file=name, most_minutes=LONGEST_S / 60.0)


def _mono(block: Floats) -> Floats:
    """Average of the channels of ``block`` (n, channels) that aren't silent."""
    if block.shape[1] == 1:
        return block[:, 0]
    sounding = np.any(block != 0.0, axis=0)
    return block[:, sounding].mean(axis=1) if sounding.any() else block[:, 0]


def _with_soundfile(audio: Path | BinaryIO, name: Name) -> OpenTake | None:
    """The file through soundfile; None where it can't read it."""
    import soundfile

    try:
        file = soundfile.SoundFile(audio)
    except soundfile.LibsndfileError:
        return None
    known = 0 < file.frames < 1 << 62
    length_s = file.frames / file.samplerate if known else None
    blocks = _soundfile_blocks(file, name)
    return OpenTake(name, float(file.samplerate), file.channels, length_s, blocks)


def _soundfile_blocks(file: Any, name: Name) -> Iterator[Floats]:
    import soundfile

    with file:
        while True:
            try:
                block = file.read(_BLOCK, dtype="float64", always_2d=True)
            except soundfile.LibsndfileError as error:
                raise TakeError("audio.broken_off", file=name, reason=str(error)) from error
            if not len(block):
                return
            yield np.nan_to_num(block)


def _with_av(audio: Path | BinaryIO, name: Name) -> OpenTake:
    """The file through PyAV. Raises TakeError where it can't read it either."""
    try:
        import av
    except ImportError as error:
        raise TakeError("audio.phone_format", file=name) from error
    try:
        if not isinstance(audio, Path):
            audio.seek(0)
        container = av.open(str(audio) if isinstance(audio, Path) else audio)
        streams = container.streams.audio
    except (av.FFmpegError, OSError, ValueError) as error:
        raise TakeError("audio.not_audio", file=name) from error
    if not streams or not streams[0].rate:
        container.close()
        raise TakeError("audio.not_audio", file=name)
    stream = streams[0]
    length_s = None
    if stream.duration is not None and stream.time_base is not None:
        length_s = float(stream.duration * stream.time_base)
    blocks = _av_blocks(container, stream, name)
    return OpenTake(name, float(stream.rate), stream.channels, length_s, blocks)


def _av_blocks(container: Any, stream: Any, name: Name) -> Iterator[Floats]:
    import av

    with container:
        planes = av.AudioResampler(format="dblp", layout=stream.layout, rate=stream.rate)
        try:
            for frame in container.decode(stream):
                for part in planes.resample(frame):
                    yield np.nan_to_num(part.to_ndarray().T)
            for part in planes.resample(None):
                yield np.nan_to_num(part.to_ndarray().T)
        except (av.FFmpegError, ValueError) as error:
            raise TakeError("audio.broken_off", file=name, reason=str(error)) from error
