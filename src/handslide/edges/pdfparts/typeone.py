"""Fonts of Type 1, from bytes (Adobe Type 1 Font Format, 1990)."""

import re
from typing import Any

from fontTools.misc.psCharStrings import T1CharString

from handslide.edges.pdfparts.encodings import STANDARD
from handslide.ground import limits

_CLEAR, _SECRET = 4330, 55665
_MATRIX = re.compile(rb"/FontMatrix\s*\[\s*(-?[\d.eE+-]+)")
_ENCODED = re.compile(rb"dup\s+(\d+)\s*/([^\s/\[\]{}()<>]+)\s+put")
_LEN_IV = re.compile(rb"/lenIV\s+(-?\d+)")
_SUBR = re.compile(rb"dup\s+(\d+)\s+(\d+)\s+(?:RD|-\||\S+)\s")
_CHAR = re.compile(rb"/([^\s/\[\]{}()<>]+)\s+(\d+)\s+(?:RD|-\||\S+)\s")


class TypeOne:
    """A Type 1 font: ``glyphs`` by name, ``encoding`` by code, ``em`` its units.

    Raises ValueError.
    """

    def __init__(self, data: bytes) -> None:
        data = _without_headers(data)
        at = data.find(b"eexec")
        if at < 0:
            raise ValueError("no eexec")
        clear, hidden = data[:at], data[at + 5 :].lstrip(b" \t\r\n")
        if re.fullmatch(rb"[0-9A-Fa-f\s]{8}", hidden[:8]):
            digits = re.sub(rb"[^0-9A-Fa-f]", b"", hidden)
            hidden = bytes.fromhex(digits[: len(digits) // 2 * 2].decode())
        private = _decrypted(hidden, _SECRET)[4:]
        matrix = _MATRIX.search(clear)
        self.em = 1 / (float(matrix[1]) if matrix else 0.001)
        self.encoding = {
            int(code): name.decode("latin-1") for code, name in _ENCODED.findall(clear)
        }
        skipped = _LEN_IV.search(private)
        self._skipped = int(skipped[1]) if skipped else 4
        start = private.find(b"/CharStrings")
        subrs: list[Any] = []
        for number, program in self._programs(_SUBR, private[:start]):
            place = int(number)
            if place < limits.PDF_CODES:
                subrs += [None] * (place + 1 - len(subrs))
                subrs[place] = T1CharString(program, subrs=subrs)
        self.glyphs: dict[str, Any] = {}
        for name, program in self._programs(_CHAR, private[start + 12 :]):
            called = name.decode("latin-1")
            self.glyphs[called] = T1CharString(program, subrs=subrs)
        if not self.encoding:
            self.encoding = dict(STANDARD)

    def _programs(self, pattern: re.Pattern[bytes], data: bytes) -> list[tuple[bytes, bytes]]:
        found, at = [], 0
        while (one := pattern.search(data, at)) is not None:
            end = one.end() + int(one[2])
            program = data[one.end() : end]
            if self._skipped >= 0:
                program = _decrypted(program, _CLEAR)[self._skipped :]
            found.append((one[1], program))
            at = end
        return found


def _decrypted(data: bytes, key: int) -> bytes:
    found = bytearray()
    for byte in data:
        found.append(byte ^ key >> 8)
        key = (byte + key) * 52845 + 22719 & 0xFFFF
    return bytes(found)


def _without_headers(data: bytes) -> bytes:
    """Of a PFB file, what stands in its segments."""
    found, at = b"", 0
    while data[at : at + 1] == b"\x80" and data[at + 1 : at + 2] in (b"\x01", b"\x02"):
        size = int.from_bytes(data[at + 2 : at + 6], "little")
        found += data[at + 6 : at + 6 + size]
        at += 6 + size
    return found or data
