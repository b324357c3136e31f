"""Text that people typed or that came in a file, made fit for a line on a page."""

import re
import unicodedata

# Signs that turn the direction of writing: text after them could be shown as something else.
TURNS = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff]")


def clean_line(text: str) -> str:
    """``text`` as one line: no control signs, single spaces, nothing at its ends."""
    text = TURNS.sub("", unicodedata.normalize("NFC", text))
    text = "".join(" " if unicodedata.category(sign) in ("Cc", "Cs") else sign for sign in text)
    return " ".join(text.split())


def clean_text(text: str) -> str:
    """``text`` of several lines, each made clean; no empty lines at its ends."""
    lines = [clean_line(line) for line in text.splitlines()]
    return "\n".join(lines).strip("\n")


def cut_line(text: str, most: int) -> str:
    """``text`` as one line of at most ``most`` letters, ``…`` where it goes on."""
    line = " ".join(text[: 8 * most].split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def two_ends(text: str, most: int) -> str:
    """``text`` without its middle where it is longer than ``most`` letters."""
    if len(text) <= most:
        return text
    tail = most // 3
    return f"{text[: most - tail - 3]} … {text[-tail:]}"
