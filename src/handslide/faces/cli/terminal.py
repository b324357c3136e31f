"""Text for a terminal: what came from files moves no cursor and changes no colour."""

import codecs
import errno
import json
import os
import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

import click

from handslide.ground.cleantext import TURNS
from handslide.ground.errors import OutputError
from handslide.ground.system import system_reason

_KEPT = "\n\t"
# What is written where an encoding lacks a sign, as a pipe on Windows does: ♭2 must not become ?2.
_OTHERWISE = {
    "♭": "b", "♯": "#", "♮": "=", "𝄫": "bb", "𝄪": "##", "½": "1/2", "¼": "1/4", "¾": "3/4",
    "×": "x", "↺": "(again)", "♩": "q",
    "−": "-", "–": "-", "—": "-", "‑": "-", "·": ".", "•": "*", "±": "+-", "→": "->", "←": "<-",
    "↑": "^", "↓": "v", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"', "‘": "'", "’": "'",
    "‚": "'", "°": "deg ", "⁄": "/", "≤": "<=", "≥": ">=", "≈": "~", "¢": "c", "ß": "ss", "æ": "ae",
    "œ": "oe", "Œ": "OE", "Æ": "AE", "ø": "o", "Ø": "O", "€": "EUR", "¿": "", "¡": "", "µ": "u",
}  # fmt: skip
_HANDLER = "handslide.otherwise"


def tell(text: str, *, err: bool = False) -> None:
    """Print a text; signs that a terminal would obey are shown as a box."""
    with writing():
        click.echo(plain(text), err=err)


@contextmanager
def writing() -> Iterator[None]:
    """Raises OutputError where the output takes no more, as on a full disk; nobody who reads on is
    click's to end with."""
    try:
        yield
    except OSError as error:
        if error.errno == errno.EPIPE:
            raise
        # What waits to be written would be tried again at the end, and complained of.
        with suppress(OSError, ValueError, AttributeError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise OutputError("files.unwritten", path="stdout", reason=system_reason(error)) from error


def is_asked() -> bool:
    """Whether somebody sits before a terminal."""
    return sys.stdin.isatty()


def typed(prompt: str) -> str | None:
    """A line that somebody types after a prompt; None where nothing more comes."""
    click.echo(f"{plain(prompt)}: ", nl=False)
    line = sys.stdin.readline()
    return line.strip() if line else None


def plain(text: str) -> str:
    """``text`` without signs that a terminal would obey, or can't be sent to one."""
    if text.isascii() and text.isprintable():
        return text
    text = TURNS.sub("", text)
    return "".join(
        "\ufffd" if unicodedata.category(sign) in ("Cc", "Cs") and sign not in _KEPT else sign
        for sign in text
    )


def plain_json(text: str) -> str:
    """JSON whose control signs, turns and halves of signs are written as its own escapes."""
    return "".join(
        f"\\u{ord(sign):04x}"
        if TURNS.match(sign) or (unicodedata.category(sign) in ("Cc", "Cs") and sign not in _KEPT)
        else sign
        for sign in text
    )


def write_what_fits() -> None:
    """From now on, signs that the encoding of the output lacks are written in others."""
    codecs.register_error(_HANDLER, _otherwise)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=_HANDLER)


def _otherwise(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    text = error.object[error.start : error.end]
    return "".join(map(in_ascii, text)), error.end


def in_ascii(sign: str) -> str:
    """A sign as the nearest that every encoding has, else a question mark."""
    if sign in _OTHERWISE:
        return _OTHERWISE[sign]
    parts = unicodedata.normalize("NFKD", sign)
    if parts != sign:
        return "".join(
            in_ascii(part) if not part.isascii() else part
            for part in parts
            if not unicodedata.combining(part)
        )
    return "?"


def tell_json(result: Any) -> None:
    """Print JSON; where the encoding lacks a sign, in JSON's own escapes."""
    text = plain_json(json.dumps(result, ensure_ascii=False, indent=1))
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(result, indent=1)
    with writing():
        click.echo(text)
