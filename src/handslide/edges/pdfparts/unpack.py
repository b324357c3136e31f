"""Streams of a PDF unpacked, but no further than a limit: a small file may hold endless zeros."""

import base64
import re
import zlib
from collections.abc import Callable, Mapping
from typing import Any

import pikepdf

from handslide.edges.pdfparts.operators import from_hex
from handslide.ground import limits
from handslide.ground.errors import ScoreError

_SHORT = {"Fl": "FlateDecode", "LZW": "LZWDecode", "A85": "ASCII85Decode", "AHx": "ASCIIHexDecode"}
_NO_HEX = re.compile(rb"[^0-9A-Fa-f]")


class Unpacker:
    """Unpacks streams, and counts what all of them have given together."""

    def __init__(self) -> None:
        self._left = limits.PDF_UNPACKED_BYTES

    def bytes_of(self, stream: Any) -> bytes:
        """What a stream (of pikepdf) holds, or as much of it as isn't damaged; b"" for a picture.

        Raises ScoreError where it, or all together, are beyond the limits.
        """
        most = min(limits.PDF_STREAM_BYTES, self._left)
        try:
            data = bytes(stream.read_raw_bytes())
            filters = _filters(stream)
            for name, early, predicted in filters:
                data = _STEPS[name](data, most, early)
                if len(data) > most:
                    raise ScoreError("pdfparts.unpacks_large", most_mb=most // limits.MB)
                if predicted:
                    data = bytes(stream.read_bytes()) if len(filters) == 1 else b""
        except ScoreError:
            raise
        except (pikepdf.PdfError, ValueError, TypeError, AttributeError, KeyError):
            return b""
        self._left -= len(data)
        return data


def _filters(stream: Any) -> list[tuple[str, bool, bool]]:
    """Names of the filters; of each, whether LZW codes grow early, and whether it has a
    predictor."""
    names, settings = stream.get("/Filter"), stream.get("/DecodeParms")
    if names is None:
        return []
    if isinstance(names, pikepdf.Array):
        listed = [str(name)[1:] for name in names]
        each = list(settings) if isinstance(settings, pikepdf.Array) else [settings] * len(listed)
    else:
        listed, each = [str(names)[1:]], [settings]
    each += [None] * (len(listed) - len(each))
    found = []
    for name, how in zip(listed[: limits.PDF_DEPTH], each):
        kept: Any = how if isinstance(how, pikepdf.Dictionary) else {}
        early, predictor = int(kept.get("/EarlyChange", 1)), int(kept.get("/Predictor", 1))
        found.append((_SHORT.get(name, name), early != 0, predictor > 1))
    return found


def _inflated(data: bytes, most: int, _early: bool) -> bytes:
    try:
        return zlib.decompressobj().decompress(data, most + 1)
    except zlib.error:
        pass
    engine, found = zlib.decompressobj(), bytearray()
    for at in range(0, len(data), 256):
        try:
            found += engine.decompress(data[at : at + 256], most + 1 - len(found))
        except zlib.error:
            break
        if len(found) > most:
            break
    return bytes(found)


def _from_85(data: bytes, _most: int, _early: bool) -> bytes:
    return base64.a85decode(data.partition(b"~")[0])  # four bytes of five, or of a single z


def _from_16(data: bytes, _most: int, _early: bool) -> bytes:
    return from_hex(_NO_HEX.sub(b"", data.partition(b">")[0]))


def _from_lengths(data: bytes, most: int, _early: bool) -> bytes:
    found, at = bytearray(), 0
    while at + 1 < len(data) and data[at] != 128 and len(found) <= most:
        count = data[at]
        if count < 128:
            found += data[at + 1 : at + 2 + count]
            at += count + 2
        else:
            found += data[at + 1 : at + 2] * (257 - count)
            at += 2
    return bytes(found)


def _from_lzw(data: bytes, most: int, early: bool) -> bytes:
    """ISO 32000-1, 7.4.4: codes of 9 to 12 bits, 256 begins anew, 257 ends."""
    first = [bytes([byte]) for byte in range(256)] + [b"", b""]
    table, found, last = list(first), bytearray(), b""
    bits, held, width = 0, 0, 9
    for byte in data:
        held, bits = (held << 8 | byte) & 0xFFFFFF, bits + 8
        if bits < width:
            continue
        bits -= width
        code = held >> bits & (1 << width) - 1
        if code == 257 or len(found) > most:
            break
        if code == 256:
            table, last, width = list(first), b"", 9
            continue
        if code > len(table) or (code == len(table) and not last):
            break
        entry = table[code] if code < len(table) else last + last[:1]
        found += entry
        if last and len(table) < 4096:
            table.append(last + entry[:1])
        last = entry
        width = min(12, max(9, (len(table) + early).bit_length()))
    return bytes(found)


_STEPS: Mapping[str, Callable[[bytes, int, bool], bytes]] = {
    "FlateDecode": _inflated,
    "LZWDecode": _from_lzw,
    "ASCII85Decode": _from_85,
    "ASCIIHexDecode": _from_16,
    "RunLengthDecode": _from_lengths,
    "RL": _from_lengths,
    "Crypt": lambda data, _most, _early: data,
}
