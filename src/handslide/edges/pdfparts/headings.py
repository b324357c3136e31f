"""The head of a first page: title, composer, the part's name."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from handslide.edges.pdfparts.staves import Staff
from handslide.edges.pdfparts.texts import Words
from handslide.ground.cleantext import cut_line

_INSTRUMENT = re.compile(
    r"tromb|posaun|sacabuche|baryton|bariton|euphon|bombardin|tuba|\bhorn\b|trompete|trumpet|"
    r"\btbn|\btrb", re.IGNORECASE,
)  # fmt: skip
_LONGEST = 120
_LONGEST_NAME = 40
_CREDIT = re.compile(
    r"\b(arr|transcr\w*|bearb\w*|edited|ed|by|von|par|por|op|opus|no)\b", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands over the first staff; "" where nothing does."""

    title: str = ""
    composer: str = ""
    part_name: str = ""


def heading_of(words: Sequence[Words], staff: Staff, width: float) -> Heading:
    """The heading: the largest line is the title, a line at the right end the composer, one that
    names an instrument or stands at the left end the part's name."""
    over = [word for word in words if word.y > staff.top + 3 * staff.space and _says(word)]
    if not over:
        return Heading()
    largest = max(word.em for word in over)
    titles = [word for word in over if word.em > 0.95 * largest]
    title = titles[0] if largest > 1.15 * min(word.em for word in over) else None
    rest = [word for word in over if word is not title]
    named = [
        word for word in rest if _INSTRUMENT.search(word.text) and len(word.text) < _LONGEST_NAME
    ]
    at_left = [
        word for word in rest
        if word.x0 < staff.x0 + 0.12 * width and word.y > staff.top + 8 * staff.space
        and len(word.text) < _LONGEST_NAME and not _CREDIT.search(word.text)
    ]  # fmt: skip
    part = named[0] if named else next(iter(at_left), None)
    at_right = [
        word for word in rest
        if word is not part and word.x1 > 0.8 * staff.x1 and word.x0 > 0.5 * width
        and not _CREDIT.search(word.text)
    ]  # fmt: skip
    return Heading(_text(title), _text(at_right[0] if at_right else None), _text(part))


def names_instrument(text: str) -> bool:
    """Whether a text names an instrument."""
    return _INSTRUMENT.search(text) is not None


def _says(word: Words) -> bool:
    return any(letter.isalpha() for letter in word.text)


def _text(word: Words | None) -> str:
    return "" if word is None else cut_line(word.text, _LONGEST)
