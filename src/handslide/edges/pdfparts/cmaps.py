"""Character maps of composite fonts: which bytes are one code, which glyph and which text it is.

ISO 32000-1, 9.7.5 and 9.10.3. Maps that a file brings along are read; of the predefined ones those
that say nothing but the encoding's name are known by Python's own codecs.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from handslide.ground import limits

_BLOCK = re.compile(rb"begin(codespacerange|cidchar|cidrange|bfchar|bfrange)(.*?)end\1", re.DOTALL)
_CODE = rb"<\s*([0-9A-Fa-f\s]*)>"
_ITEM = re.compile(rb"<([0-9A-Fa-f\s]*)>|\[([^\]]*)\]|(\d+)")
_CODECS = {
    "UCS2": "utf-16-be", "UTF16": "utf-16-be", "UTF8": "utf-8", "UTF32": "utf-32-be",
    "RKSJ": "shift_jis", "EUC-H": "euc_jp", "EUC-V": "euc_jp", "GBK": "gbk", "GB-EUC": "gb2312",
    "B5": "big5", "KSC-EUC": "euc_kr", "KSCms": "cp949",
}  # fmt: skip
_FIXED = {"utf-16-be": 2, "utf-32-be": 4}
_LEADS = {"": ((0x81, 0xFE),), "shift_jis": ((0x81, 0x9F), (0xE0, 0xFC)), "utf-8": ()}


@dataclass(slots=True)
class CharacterMap:
    """A map. ``spaces`` are (bytes of a code, lowest, highest); ``cids`` and ``texts`` by code."""

    spaces: list[tuple[int, int, int]] = field(default_factory=list)
    cids: dict[int, int] = field(default_factory=dict)
    ranges: list[tuple[int, int, int]] = field(default_factory=list)
    """(lowest code, highest code, glyph of the lowest)."""
    texts: dict[int, str] = field(default_factory=dict)
    codec: str = ""
    identity: bool = False
    vertical: bool = False

    def codes(self, data: bytes) -> list[tuple[int, int]]:
        """The codes of a string, each with how many bytes it has."""
        if self.codec:
            return list(_codec_codes(data, self.codec))
        if self.identity or not self.spaces:
            return [(data[at] << 8 | data[at + 1], 2) for at in range(0, len(data) - 1, 2)]
        found, at = [], 0
        while at < len(data):
            size = self._size_at(data, at)
            found.append((int.from_bytes(data[at : at + size]), size))
            at += size
        return found

    def _size_at(self, data: bytes, at: int) -> int:
        for size, low, high in self.spaces:
            piece = data[at : at + size]
            if len(piece) == size and all(
                (low >> shift & 255) <= byte <= (high >> shift & 255)
                for byte, shift in zip(piece, range(8 * size - 8, -1, -8))
            ):
                return size
        return min((size for size, _, _ in self.spaces), default=1)

    def cid(self, code: int) -> int | None:
        """The glyph of a code; None where nobody knows."""
        if self.identity:
            return code
        if code in self.cids:
            return self.cids[code]
        return next(
            (cid + code - low for low, high, cid in self.ranges if low <= code <= high), None
        )

    def text(self, code: int, size: int) -> str:
        """The text of a code, "" where it isn't known."""
        if self.codec:
            return code.to_bytes(size).decode(self.codec, "ignore")
        return self.texts.get(code, "")


def _codec_codes(data: bytes, codec: str) -> Iterator[tuple[int, int]]:
    at, leads = 0, _LEADS.get(codec, _LEADS[""])
    while at < len(data):
        size = _FIXED.get(codec) or 1 + any(low <= data[at] <= high for low, high in leads)
        piece = data[at : at + size]
        yield int.from_bytes(piece), len(piece)
        at += size


def predefined(name: str) -> CharacterMap:
    """A map by its name, such as ``Identity-H``."""
    found = CharacterMap(vertical=name.endswith("V"))
    if name.startswith("Identity"):
        found.identity = True
    else:
        found.codec = next((codec for part, codec in _CODECS.items() if part in name), "")
    return found


def read_map(data: bytes) -> CharacterMap:
    """A map that the file brings along: for glyphs, or for text (ToUnicode)."""
    found = CharacterMap(vertical=b"/WMode 1" in data)
    for block in _BLOCK.finditer(data):
        kind, items = block[1], _ITEM.findall(block[2])
        if kind == b"codespacerange":
            for low, high in zip(items[::2], items[1::2]):
                size = len(_bytes(low[0]))
                if 1 <= size <= 4:
                    found.spaces.append((size, _int(low[0]), _int(high[0])))
        elif kind == b"cidchar":
            found.cids.update((_int(code[0]), int(cid[2] or 0)) for code, cid in _by(items, 2))
        elif kind == b"cidrange":
            found.ranges += [(_int(a[0]), _int(b[0]), int(c[2] or 0)) for a, b, c in _by(items, 3)]
        elif kind == b"bfchar":
            found.texts.update((_int(code[0]), _text(text[0])) for code, text in _by(items, 2))
        else:
            _add_range_texts(found.texts, items)
    found.spaces.sort()
    return found


def _add_range_texts(texts: dict[int, str], items: list[tuple[bytes, bytes, bytes]]) -> None:
    for low, high, to in _by(items, 3):
        first, last = _int(low[0]), _int(high[0])
        if last - first + len(texts) >= limits.PDF_CODES:
            continue
        if to[1]:
            listed = re.findall(_CODE, to[1])
            texts.update((first + place, _text(raw)) for place, raw in enumerate(listed))
        elif start := _text(to[0]):
            end = ord(start[-1])
            for place in range(last - first + 1):
                if end + place < 0x110000:
                    texts[first + place] = start[:-1] + chr(end + place)


def _by(items: list[Any], count: int) -> Iterator[tuple[Any, ...]]:
    return zip(*(items[place::count] for place in range(count)))


def _bytes(raw: bytes) -> bytes:
    digits = b"".join(raw.split())
    return bytes.fromhex((digits + b"0" if len(digits) % 2 else digits).decode())


def _int(raw: bytes) -> int:
    return int.from_bytes(_bytes(raw)[:4])


def _text(raw: bytes) -> str:
    data = _bytes(raw)
    return data.decode("latin-1") if len(data) == 1 else data.decode("utf-16-be", "ignore")
