"""Recordings as they are kept for playing back: FLAC, 16 bit, mono, at the take's own rate."""

import io
from pathlib import Path
from typing import BinaryIO

import numpy as np

from handslide.edges.audio.read import open_take

MEDIA_TYPE = "audio/flac"
_STEPS = 32_767.0
_HIGHEST_RATE_HZ = 192_000.0


def flac_of(audio: Path | BinaryIO, name: str, most_bytes: int) -> bytes | None:
    """The recording as FLAC; None where it would take more than ``most_bytes``.

    Raises TakeError for a file that can't be read.
    """
    import soundfile

    take = open_take(audio, name)
    if take.rate_hz > _HIGHEST_RATE_HZ or take.rate_hz != int(take.rate_hz):
        return None
    kept = io.BytesIO()
    with soundfile.SoundFile(
        kept, "w", int(take.rate_hz), 1, subtype="PCM_16", format="FLAC"
    ) as out:
        for block in take.blocks():
            out.write(np.rint(np.clip(block, -1.0, 1.0) * _STEPS).astype(np.int16))
            if kept.tell() > most_bytes:
                return None
    return kept.getvalue() if kept.tell() <= most_bytes else None
