"""The words on a page: letters put together to lines of text."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handslide.edges.pdfparts.drawn import Glyph
from handslide.ground.cleantext import clean_line

_GAP = 0.18
"""Ems between two letters from which there is a space between them."""
_APART = 1.1
"""Ems between two letters from which they are no longer one text."""


@dataclass(frozen=True, slots=True)
class Words:
    """A line of text: its left and right end, base line and size."""

    text: str
    x0: float
    x1: float
    y: float
    em: float

    @property
    def plain(self) -> str:
        """In small letters, for comparing."""
        return self.text.casefold().strip()


def words_of(letters: Iterable[Glyph], apart: float = _APART) -> list[Words]:
    """Lines of text, from above to below and left to right."""
    rows: dict[tuple[int, int], list[Glyph]] = {}
    for glyph in letters:
        if abs(glyph.matrix[1]) > 0.1 * glyph.em:
            continue  # turned text
        rows.setdefault((round(glyph.y * 2), round(glyph.em)), []).append(glyph)
    found: list[Words] = []
    for row in rows.values():
        row.sort(key=lambda glyph: glyph.x)
        found += _split(row, apart)
    return sorted(found, key=lambda words: (-words.y, words.x0))


def _split(row: Sequence[Glyph], apart: float) -> list[Words]:
    found, now = [], [row[0]]
    for glyph in row[1:]:
        gap = glyph.x - now[-1].x - now[-1].advance
        if gap > apart * glyph.em:
            found.append(_line(now))
            now = [glyph]
        else:
            now.append(glyph)
    found.append(_line(now))
    return [words for words in found if words.text]


def _line(glyphs: Sequence[Glyph]) -> Words:
    text, end = "", glyphs[0].x
    for glyph in glyphs:
        if glyph.x - end > _GAP * glyph.em and not text.endswith(" "):
            text += " "
        text += glyph.text
        end = glyph.x + glyph.advance
    cleaned = re.sub(r"\s+", " ", clean_line(text)).strip()
    return Words(cleaned, glyphs[0].x, end, glyphs[0].y, glyphs[0].em)
