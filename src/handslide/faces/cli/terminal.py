"""Text for a terminal: what came from files moves no cursor and changes no colour."""

import sys
import unicodedata

import click

from handslide.ground.cleantext import TURNS

_KEPT = "\n\t"


def tell(text: str, *, err: bool = False) -> None:
    """Print a text; signs that a terminal would obey are shown as a box."""
    click.echo(plain(text), err=err)


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
