"""Recordings as they are kept or handed on for playing back: mono, at the take's own rate.

Kept as FLAC, 16 bit; handed on as MP3, the one small kind that all browsers play.
"""

import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from handslide.edges.audio.read import open_take

MEDIA_TYPE = "audio/flac"
_STEPS = 32_767.0
_HIGHEST_RATE_HZ = 192_000.0
# Rates of MP3 (ISO/IEC 11172-3 and 13818-3).
_MP3_RATES_HZ = (16_000, 22_050, 24_000, 32_000, 44_100, 48_000)
# 64 kbit/s, each second as long, so that a browser finds any: a share of what a rate may have.
_MP3_KBIT, _MOST_KBIT, _LEAST_KBIT = 64, {False: 160, True: 320}, {False: 8, True: 32}


def flac_of(audio: Path | BinaryIO, name: str, most_bytes: int) -> bytes | None:
    """The recording as FLAC; None where it would take more than ``most_bytes``.

    Raises TakeError for a file that can't be read.
    """
    take = open_take(audio, name)
    if take.rate_hz > _HIGHEST_RATE_HZ or take.rate_hz != int(take.rate_hz):
        return None
    steps = (np.rint(np.clip(block, -1.0, 1.0) * _STEPS) for block in take.blocks())
    blocks = (block.astype(np.int16) for block in steps)
    return _written(blocks, int(take.rate_hz), most_bytes, subtype="PCM_16", format="FLAC")


def mp3_of(audio: Path | BinaryIO, name: str, most_bytes: int) -> bytes | None:
    """The recording as MP3; None where it would take more than ``most_bytes``.

    Another rate than those of MP3 becomes the next higher one, or the highest, each sample drawn
    from its two neighbours. Raises TakeError for a file that can't be read.
    """
    take = open_take(audio, name)
    blocks: Iterable[NDArray[Any]] = take.blocks()
    rate_hz = next((hz for hz in _MP3_RATES_HZ if hz >= take.rate_hz), _MP3_RATES_HZ[-1])
    if rate_hz != take.rate_hz:
        whole = np.concatenate([np.zeros(0), *blocks])
        times_s = np.arange(round(len(whole) * rate_hz / take.rate_hz)) / rate_hz
        blocks = [np.interp(times_s * take.rate_hz, np.arange(len(whole)), whole)]
    clipped = (np.clip(block, -1.0, 1.0) for block in blocks)
    most, least = _MOST_KBIT[rate_hz >= 32_000], _LEAST_KBIT[rate_hz >= 32_000]
    return _written(
        clipped, rate_hz, most_bytes, subtype="MPEG_LAYER_III", format="MP3",
        bitrate_mode="CONSTANT", compression_level=(most - _MP3_KBIT) / (most - least),
    )  # fmt: skip


def _written(
    blocks: Iterable[NDArray[Any]], rate_hz: int, most_bytes: int, **form: Any
) -> bytes | None:
    import soundfile

    kept = io.BytesIO()
    with soundfile.SoundFile(kept, "w", rate_hz, 1, **form) as out:
        for block in blocks:
            out.write(block)
            if kept.tell() > most_bytes:
                return None
    return kept.getvalue() if len(kept.getvalue()) <= most_bytes else None
