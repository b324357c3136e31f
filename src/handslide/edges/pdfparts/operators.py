"""The words of a content stream: numbers, names, strings, operators (ISO 32000-1, 7.2, 7.8).

Read by own hand, for speed and because a part with a few wrong bytes should still be drawn: what
can't be read is stepped over.
"""

import re
from collections.abc import Iterator
from typing import Any

from handslide.ground import limits


class Name(str):
    """A name, without its slash."""

    __slots__ = ()


_WHITE = b"\x00\t\n\f\r "
_WORD = re.compile(
    rb"[\x00\t\n\f\r ]*(?:%[^\r\n]*[\x00\t\n\f\r ]*)*(?:"
    rb"([+-]?(?:\d+\.?\d*|\.\d+))(?=[\x00\t\n\f\r ()<>\[\]{}/%]|$)"  # 1: a number
    rb"|([^\x00\t\n\f\r ()<>\[\]{}/%]+)"  # 2: an operator, or a number oddly written
    rb"|/([^\x00\t\n\f\r ()<>\[\]{}/%]*)"  # 3: a name
    rb"|\(([^()\\\r]*)\)"  # 4: a plain string
    rb"|<([0-9A-Fa-f\x00\t\n\f\r ]*)>"  # 5: a string in hexadecimal
    rb"|(\(|\[|\]|<<|>>|[{}<>)])"  # 6: what opens and closes
    rb")"
)
_ODD_NUMBER = re.compile(rb"[+-]*(\d*)(?:\.(\d*))?")
_ESCAPED = re.compile(rb"\\(?:([0-7]{1,3})|(\r\n|[\r\n])|(.))|(\r\n?)", re.DOTALL)
_LETTERS = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}
_PARENTHESES = re.compile(rb"\\.|[()]", re.DOTALL)
_HASH = re.compile(r"#([0-9A-Fa-f]{2})")
_IMAGE_END = re.compile(rb"[\x00\t\n\f\r ]EI(?=[\x00\t\n\f\r ]|$)")
_VALUES = {b"true": True, b"false": False, b"null": None}
_MOST = 1e7


def operations(data: bytes) -> Iterator[tuple[bytes, list[Any]]]:
    """The operators of a content stream, each with its operands.

    Numbers are floats or, without a point, ints; strings are bytes; arrays lists; names `Name`. An
    inline image is one operator ``BI`` with its dictionary and its bytes, still packed. One loop,
    for a page has a hundred thousand words.
    """
    at, held = 0, _Held()
    match, most = _WORD.match, limits.PDF_ARRAY
    while True:
        found = match(data, at)
        if found is None:
            if at >= len(data) or not data[at:].strip(_WHITE):
                return
            at += 1
            continue
        at = found.end()
        which = found.lastindex
        if which == 1:
            value = float(found[1])
            if len(held.values) < most:
                held.values.append(value if -_MOST < value < _MOST else _number(found[1]))
        elif which == 2:
            word = found[2]
            if word == b"ID" and held.image:
                end, at = _image_end(data, at)
                held.image = False
                yield b"BI", [dict_of(held.taken()), data[found.end() + 1 : end]]
            elif word == b"BI":
                held.image = True
                held.taken()
            elif word in _VALUES:
                held.add(_VALUES[word])
            elif (odd := _odd_number(word)) is not None:
                held.add(odd)
            elif not held.open:
                yield word, held.taken()
        elif which == 3:
            held.add(name_of(found[3]))
        elif which == 4:
            held.add(found[4])
        elif which == 5:
            held.add(from_hex(found[5]))
        elif found[6] == b"(":
            at, text = _string(data, at)
            held.add(text)
        else:
            held.bracket(found[6])


class _Held:
    """Operands on their way: ``values`` of the innermost of the arrays and dictionaries that are
    open, or of none."""

    def __init__(self) -> None:
        self.image = False
        self.values: list[Any] = []
        self.open: list[list[Any]] = []

    def add(self, value: Any) -> None:
        if len(self.values) < limits.PDF_ARRAY:
            self.values.append(value)

    def bracket(self, sign: bytes) -> None:
        if sign in (b"[", b"<<"):
            if len(self.open) < limits.PDF_DEPTH:
                self.open.append(self.values)
                self.values = []
        elif sign in (b"]", b">>") and self.open:
            values, self.values = self.values, self.open.pop()
            self.add(values if sign == b"]" else dict_of(values))

    def taken(self) -> list[Any]:
        values = self.open[0] if self.open else self.values
        self.values = []
        self.open.clear()
        return values


def dict_of(values: list[Any]) -> dict[str, Any]:
    """A dictionary from names and values in turn."""
    return {key: value for key, value in zip(values[::2], values[1::2]) if isinstance(key, Name)}


def name_of(raw: bytes) -> Name:
    """A name from how it is written."""
    text = raw.decode("latin-1")
    return Name(_HASH.sub(lambda found: chr(int(found[1], 16)), text) if "#" in text else text)


def from_hex(raw: bytes) -> bytes:
    """A string from its hexadecimal digits; a digit that lacks is 0."""
    digits = raw.translate(None, _WHITE)
    return bytes.fromhex((digits + b"0" if len(digits) % 2 else digits).decode())


def _number(raw: bytes) -> float:
    return max(-_MOST, min(_MOST, float(raw)))


def _odd_number(raw: bytes) -> float | None:
    """``--5``, ``5-3``, ``1.2.3``: old programs wrote such numbers, and readers take what stands
    first."""
    if raw[0] not in b"+-.0123456789" or not any(letter in b"0123456789" for letter in raw):
        return None
    found = _ODD_NUMBER.match(raw)
    if found is None or not (found[1] or found[2]):
        return None
    value = _number((found[1] or b"0") + b"." + (found[2] or b"0"))
    return -value if raw.startswith(b"-") else value


def _string(data: bytes, at: int) -> tuple[int, bytes]:
    """A string with parentheses or escapes: where it ends, and its bytes."""
    depth, start = 1, at
    for found in _PARENTHESES.finditer(data, at):
        if found[0] == b"(":
            depth += 1
        elif found[0] == b")":
            depth -= 1
            if depth == 0:
                return found.end(), _ESCAPED.sub(_unescaped, data[start : found.start()])
    return len(data), b""


def _unescaped(found: re.Match[bytes]) -> bytes:
    if found[1] is not None:
        return bytes([int(found[1], 8) & 255])
    if found[3] is not None:
        return _LETTERS.get(found[3], found[3])
    return b"" if found[2] is not None else b"\n"


def _image_end(data: bytes, at: int) -> tuple[int, int]:
    """Where an inline image's bytes end and where its ``EI`` does: one after which there is text,
    not more of a picture."""
    for found in _IMAGE_END.finditer(data, at):
        after = data[found.end() : found.end() + 12]
        if all(letter in b"\t\n\f\r" or 32 <= letter < 127 for letter in after):
            return found.start(), found.end()
    return len(data), len(data)
