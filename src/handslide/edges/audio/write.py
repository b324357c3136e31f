"""Audio out: samples as the bytes of a WAV, FLAC, OGG (Vorbis) or MP3 file.

WAV and FLAC have 16 or 24 bits and keep every sample's place, so that a loop stays one. OGG and MP3
are smaller; they change the sound a little, also where it begins and ends.
"""

import io
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import BadUsage

MEDIA_TYPES = {
    ".wav": "audio/wav", ".flac": "audio/flac", ".ogg": "audio/ogg", ".mp3": "audio/mpeg",
}  # fmt: skip
LOSSY = (".ogg", ".mp3")
"""Endings of files that don't keep every sample."""
BITS = (16, 24)
_BLOCK = 1 << 16  # the library's Vorbis encoder fails on much longer ones
_LOSSY_KINDS: dict[str, tuple[str, dict[str, Any]]] = {
    "OGG": ("VORBIS", {"compression_level": 0.3}),
    "MP3": ("MPEG_LAYER_III", {"bitrate_mode": "VARIABLE", "compression_level": 0.2}),
}


def check_ending(ending: str, bits: int = 16) -> None:
    """Raise BadUsage for an ending or a number of bits that can't be written."""
    if ending.lower() not in MEDIA_TYPES:
        if not ending:
            raise BadUsage("audio.no_ending", known=tuple(MEDIA_TYPES))
        raise BadUsage("audio.ending", ending=ending, known=tuple(MEDIA_TYPES))
    if bits not in BITS:
        raise BadUsage("audio.bits", bits=bits, known=BITS)


def audio_bytes(
    samples: NDArray[np.float32], rate_hz: int, ending: str = ".wav", bits: int = 16
) -> bytes:
    """The file: ``samples`` (n,) or (2, n) between -1 and 1. Raises BadUsage as `check_ending`
    does."""
    import soundfile

    check_ending(ending, bits)
    kind = ending.lower()[1:].upper()
    subtype, options = _LOSSY_KINDS.get(kind, (f"PCM_{bits}", {}))
    steps = 2.0 ** (bits - 1)
    out = io.BytesIO()
    channels = np.atleast_2d(samples)
    with soundfile.SoundFile(
        out, "w", rate_hz, len(channels), subtype=subtype, format=kind, **options
    ) as file:
        for at in range(0, channels.shape[1], _BLOCK):
            block = channels[:, at : at + _BLOCK].T
            if kind not in _LOSSY_KINDS:
                # Rounded here: the library cuts off, which would move the whole sound down.
                whole = np.clip(np.rint(block * steps), -steps, steps - 1)
                block = whole.astype(np.int16) if bits == 16 else whole.astype(np.int32) << 8
            file.write(block)
    return out.getvalue()
