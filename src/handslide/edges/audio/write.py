"""Audio out: mono samples as the bytes of a WAV, FLAC or OGG (Vorbis) file.

WAV and FLAC have 16 or 24 bits and keep every sample's place, so that a loop stays one. OGG is
smaller; it changes the sound a little, also where it begins and ends.
"""

import io

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import BadUsage

MEDIA_TYPES = {".wav": "audio/wav", ".flac": "audio/flac", ".ogg": "audio/ogg"}
BITS = (16, 24)
_BLOCK = 1 << 16  # the library's Vorbis encoder fails on much longer ones
_VORBIS_QUALITY = 0.7


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
    """The file: ``samples`` (n,) between -1 and 1. Raises BadUsage as `check_ending` does."""
    import soundfile

    check_ending(ending, bits)
    kind = ending.lower()[1:].upper()
    subtype = "VORBIS" if kind == "OGG" else f"PCM_{bits}"
    quality = {"compression_level": 1.0 - _VORBIS_QUALITY} if kind == "OGG" else {}
    steps = 2.0 ** (bits - 1)
    out = io.BytesIO()
    with soundfile.SoundFile(out, "w", rate_hz, 1, subtype=subtype, format=kind, **quality) as file:
        for at in range(0, len(samples), _BLOCK):
            block = samples[at : at + _BLOCK]
            if kind != "OGG":
                # Rounded here: the library cuts off, which would move the whole sound down.
                whole = np.clip(np.rint(block * steps), -steps, steps - 1).astype(np.int32)
                block = whole << (32 - bits)
            file.write(block)
    return out.getvalue()
