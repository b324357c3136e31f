"""Audio files in: any usual format, rate and number of channels, as mono samples.

The libraries run on a leash, in a child process: a file that they die of is one sentence.

Conventions: samples are float64, full scale is -1 to 1, channels are averaged (silent ones left
out, so that a recording on one channel of two keeps its level; upside-down ones turned round),
shape (n,).
"""

import io
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO, TypeAlias

import numpy as np
from numpy.typing import NDArray

from handslide.edges.audio.decode import Floats, Head, decoded
from handslide.edges.leash.leash import Fallen, Leash, Limits
from handslide.ground.errors import TakeError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import (
    DECODER_BYTES,
    DECODER_S,
    GB,
    LEAST_RATE_HZ,
    MB,
    MOST_RATE_HZ,
    TAKE_BYTES,
    TAKE_S,
)
from handslide.ground.system import system_reason

Name: TypeAlias = str | Fact
"""What errors call a recording: its file's name, or words for one that has none."""

_LEASH = Leash(
    Limits(seconds=DECODER_S, memory_mb=DECODER_BYTES // MB, children=8, kept=1),
    preload=("handslide.edges.audio.decode", "soundfile"),
)
_UPSIDE_DOWN = -0.5  # a channel's correlation with the loudest


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
    _mixer: "_Mixer" = field(default_factory=lambda: _Mixer())

    def blocks(self) -> Iterator[Floats]:
        """Mono blocks, in order, once. Raises TakeError for a file that breaks off or is long."""
        for block in self._blocks:
            self.read += len(block)
            if self.read > TAKE_S * self.rate_hz:
                raise _too_long(self.name)
            yield self._mixer.mono(block)
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
    if size > TAKE_BYTES:
        raise TakeError("audio.too_large", file=called, most_gb=TAKE_BYTES // GB)
    opened = _opened(audio, called)
    _check_rate(opened)
    if opened.length_s is not None and opened.length_s > TAKE_S:
        raise _too_long(called)
    return opened


def _opened(audio: Path | BinaryIO, name: Name) -> OpenTake:
    if isinstance(audio, Path):
        items = _held(name, _LEASH.stream(decoded, name, audio.absolute()))
    else:
        items = _held(name, _LEASH.stream(decoded, name, lend=audio))
    head = next(items)
    assert isinstance(head, Head)
    return OpenTake(name, head.rate_hz, head.channels, head.length_s, items)


def _held(name: Name, items: Iterator[Any]) -> Iterator[Any]:
    """The items of a child; what it dies of is a TakeError."""
    try:
        yield from items
    except Fallen as fallen:
        if fallen.why == "slow":
            seconds = _LEASH.limits.seconds
            raise TakeError("audio.decoder_slow", file=name, seconds=seconds) from fallen
        raise TakeError("audio.decoder_died", file=name) from fallen


def _check_rate(opened: OpenTake) -> None:
    rate = {"file": opened.name, "rate_hz": opened.rate_hz}
    if opened.rate_hz < LEAST_RATE_HZ:
        raise TakeError("audio.low_rate", **rate, least_hz=LEAST_RATE_HZ)
    if opened.rate_hz > MOST_RATE_HZ:
        raise TakeError("audio.high_rate", **rate, most_hz=MOST_RATE_HZ)


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
    return TakeError("audio.too_long", file=name, most_minutes=TAKE_S / 60.0)


class _Mixer:
    """Averages channels block by block; one that is another upside down is turned round first.

    Which ones are is told from all that came so far, so a recording isn't turned in its midst.
    """

    def __init__(self) -> None:
        self._products: Floats | None = None

    def mono(self, block: Floats) -> Floats:
        """Average of the channels of ``block`` (n, channels) that aren't silent."""
        if block.shape[1] == 1:
            return block[:, 0]
        sounding = np.any(block != 0.0, axis=0)
        if not sounding.any():
            return block[:, 0]
        centred = block - block.mean(axis=0)
        products = centred.T @ centred
        self._products = products if self._products is None else self._products + products
        signs = np.where(_turned_round(self._products), -1.0, 1.0)
        mixed: Floats = (block * signs)[:, sounding].mean(axis=1)
        return mixed


def _turned_round(products: Floats) -> NDArray[np.bool_]:
    """Which channels are upside down beside the loudest, from the sums of their products."""
    power = np.diagonal(products)
    loudest = int(power.argmax())
    likeness = products[loudest] / np.sqrt(np.maximum(power * power[loudest], 1e-300))
    turned: NDArray[np.bool_] = likeness < _UPSIDE_DOWN
    return turned
