"""What the words and signs around a staff order: tempo, loudness, letters, jumps."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from handslide.edges.pdfparts.found import Bar, StaffInk
from handslide.edges.pdfparts.items import Item
from handslide.edges.pdfparts.onestaff import StaffRead
from handslide.edges.pdfparts.texts import Words

_RATE = re.compile(r"=\s*(?:ca?\.?|circa|etwa|env\.?)?\s*(\d{2,3})(?:\s*[-–]\s*(\d{2,3}))?")
_CLOCK_NOTES = {"𝅝": 1, "𝅗𝅥": 2, "♩": 4, "♪": 8}
_TEMPOS = {
    "larghissimo": 24, "grave": 42, "largo": 48, "larghetto": 63, "lento": 54, "lentement": 54,
    "adagietto": 70, "adagio": 66, "andantino": 84, "andante": 76, "maestoso": 84,
    "marcia": 112, "moderato": 104, "allegretto": 112, "allegro": 132, "vivacissimo": 176,
    "vivace": 160, "vivo": 160, "prestissimo": 200, "presto": 184,
    "langsam": 56, "getragen": 60, "ruhig": 72, "gehend": 80, "mäßig": 100, "mässig": 100,
    "bewegt": 116, "lebhaft": 138, "munter": 126, "rasch": 144, "schnell": 152, "marschtempo": 112,
    "lent": 56, "modéré": 100, "animé": 132, "vif": 152, "vite": 152,
    "slow": 60, "slowly": 60, "moderate": 100, "moderately": 100, "medium": 112, "lively": 138,
    "fast": 152, "quick": 144, "ballad": 66,
    "despacio": 60, "moderado": 100, "animado": 132, "rápido": 152,
}  # fmt: skip
"""Quarters a minute that are usual for a word, where no metronome mark stands."""
_NOT = {"non", "nicht", "not", "pas"}
_JUMPS = (
    ("dacapo", re.compile(r"^\W*(d\.?\s?c\.?(?![a-z])|da\s+capo)", re.IGNORECASE)),
    ("dalsegno", re.compile(r"^\W*(d\.?\s?s\.?(?![a-z])|dal\s+segno)", re.IGNORECASE)),
    ("tocoda", re.compile(r"^\W*(to\s+coda|alla\s+coda)\b", re.IGNORECASE)),
    ("coda", re.compile(r"^\W*coda\W*$", re.IGNORECASE)),
    ("fine", re.compile(r"^\W*fine\W*$", re.IGNORECASE)),
)
_DYNAMIC = re.compile(r"^(p{1,5}|f{1,5}|m[pf]|s?f{1,2}z?p?|fp|rfz?|sfp+|n)$")
_MOST_LETTERS = 80


@dataclass(frozen=True, slots=True)
class Direction:
    """An order at ``x``: tempo, words, dynamic or rehearsal."""

    kind: str
    value: str
    x: float
    exact: bool = True
    """It says so itself; a tempo that is only usual for a word isn't."""


def directions_of(read: StaffRead, words: Sequence[Words]) -> list[Direction]:
    """The orders of a staff, from left to right; jumps and printed numbers go to its bars."""
    ink = read.ink
    found = [Direction("dynamic", value, x) for x, value in _dynamics(ink)]
    spoken: list[Words] = []
    for word in words:
        if not _is_of(ink, word):
            continue
        direction = _of_word(read, word)
        if direction is not None:
            found.append(direction)
            if direction.kind == "tempo" and not direction.exact:
                found.append(Direction("words", word.text[:_MOST_LETTERS], word.x0))
        spoken.append(word)
    _mark_jumps(read, spoken)
    return sorted(_one_tempo(found, ink.staff.space), key=lambda one: one.x)


def _is_of(ink: StaffInk, word: Words) -> bool:
    staff = ink.staff
    inside = staff.x0 - 3 * staff.space < word.x0 < staff.x1 + staff.space
    return inside and staff.bottom - 8 * staff.space < word.y < staff.top + 11 * staff.space


def _of_word(read: StaffRead, word: Words) -> Direction | None:
    ink, staff = read.ink, read.ink.staff
    above = word.y > staff.top
    text = word.text[:_MOST_LETTERS]
    rate = _rate(ink, word)
    if rate is not None and above:
        return Direction("tempo", rate, word.x0)
    if any(pattern.search(word.text) for _, pattern in _JUMPS):
        return None
    if above and _is_rehearsal(ink, word):
        return Direction("rehearsal", text, word.x0)
    usual = usual_tempo(word.text)
    if above and usual is not None:
        return Direction("tempo", str(usual), word.x0, exact=False)
    if _DYNAMIC.match(word.text) and not above:
        return Direction("dynamic", text, word.x0)
    letters = sum(letter.isalpha() for letter in text)
    if above and letters > 2 and word.y < staff.top + 7 * staff.space:
        return Direction("words", text, word.x0)
    return None


def usual_tempo(text: str) -> int | None:
    """Quarters a minute that are usual for the first word of tempo in a text; None without one."""
    spoken = re.findall(r"[^\W\d_]+", text.casefold())
    for index, word in enumerate(spoken[:4]):
        if word in _TEMPOS and not (index and spoken[index - 1] in _NOT):
            return _TEMPOS[word]
    return None


def _rate(ink: StaffInk, word: Words) -> str | None:
    """Quarters a minute of a metronome mark."""
    match = _RATE.search(word.text)
    if match is None:
        return None
    counts = [int(count) for count in match.groups() if count]
    unit = _unit(ink, word, match.start())
    if unit is None:
        return None
    quarters = Fraction(sum(counts), len(counts)) * unit
    return f"{float(quarters):g}" if 10 <= quarters <= 500 else None


def _unit(ink: StaffInk, word: Words, at: int) -> Fraction | None:
    """Quarters of the note before the equals sign: a letter of the text, or a sign on the page."""
    before = word.text[:at].rstrip()
    dotted = before.endswith((".", "·"))
    for letter, value in _CLOCK_NOTES.items():
        if before.rstrip(".· ").endswith(letter):
            return Fraction(4, value) * (Fraction(3, 2) if dotted else 1)
    share = at / max(1, len(word.text))
    x = word.x0 + share * (word.x1 - word.x0)
    near = [
        item for item in ink.items
        if item.family in ("notevalue", "head", "flag", "dot")
        and x - 4.2 * ink.staff.space < item.x0 < x + 0.8 * ink.staff.space
        and abs((item.y0 + item.y1) / 2 - word.y - 0.3 * word.em) < 1.8 * word.em
    ]  # fmt: skip
    return _unit_of(near)


def _unit_of(items: Iterable[Item]) -> Fraction | None:
    value: Fraction | None = None
    dots = flags = 0
    for item in items:
        which = item.kind.partition(".")[2]
        if item.family == "notevalue" and which.isdigit():
            value = Fraction(4, int(which) or 1)
        elif item.family == "head":
            value = {"half": Fraction(2), "whole": Fraction(4)}.get(which, Fraction(1))
        elif item.family == "flag":
            flags = max(flags, int(which))
        elif item.family == "dot":
            dots += 1
    if value is None:
        return None
    return value * (2 - Fraction(1, 1 << dots)) / (1 << flags)


def _one_tempo(found: Sequence[Direction], space: float) -> list[Direction]:
    """A word of tempo beside a metronome mark says no more than the mark."""
    kept: list[Direction] = []
    for one in sorted(found, key=lambda one: not one.exact):
        near = [other for other in kept if other.kind == one.kind == "tempo"]
        if not any(abs(other.x - one.x) < 30 * space for other in near):
            kept.append(one)
    return kept


def _is_rehearsal(ink: StaffInk, word: Words) -> bool:
    """A letter or number in a box, or a capital letter over a barline."""
    if not re.fullmatch(r"[A-Z]{1,2}\d?|\d{1,3}", word.text):
        return False
    under, over = word.y, word.y + 0.7 * word.em
    near = 1.2 * word.em
    lines = [line for line in ink.lines if line.x0 < word.x0 + 1 and line.x1 > word.x1 - 1]
    boxed = any(under - near < line.y < under for line in lines) and any(
        over < line.y < over + near for line in lines
    )
    return boxed or (word.text.isalpha() and word.em > 2.2 * ink.staff.space)


def _dynamics(ink: StaffInk) -> list[tuple[float, str]]:
    """Letters of loudness that stand together."""
    found: list[tuple[float, float, str, float]] = []
    for item in sorted(ink.of("dynamic"), key=lambda item: item.x0):
        letters = item.kind.partition(".")[2]
        x, right, before, y = found[-1] if found else (0.0, -1e9, "", 0.0)
        if item.x0 - right < 0.9 * ink.staff.space and abs(item.y - y) < 1:
            found[-1] = x, item.x1, before + letters, y
        else:
            found.append((item.x0, item.x1, letters, item.y))
    return [(x, value) for x, _, value, _ in found if _DYNAMIC.match(value)]


def _mark_jumps(read: StaffRead, words: Iterable[Words]) -> None:
    for word in words:
        for kind, pattern in _JUMPS:
            if pattern.search(word.text):
                bar = bar_at(read, word.x1 if kind not in ("coda",) else word.x0)
                if bar is not None:
                    bar.jumps.append(_jump(kind, word.plain))
                break
    for item in read.ink.of("segno", "coda"):
        bar = bar_at(read, item.x0)
        if bar is not None and not any(jump.endswith(item.family) for jump in bar.jumps):
            bar.jumps.append(item.family)


def _jump(kind: str, text: str) -> str:
    if kind in ("dacapo", "dalsegno"):
        if "fine" in text:
            return f"{kind}-fine"
        if "coda" in text:
            return f"{kind}-coda"
    return kind


def bar_at(read: StaffRead, x: float) -> Bar | None:
    """The bar over which ``x`` lies; the last one beyond the end."""
    space = read.ink.staff.space
    for bar in read.bars:
        if x < bar.x1 - 0.5 * space:
            return bar
    return read.bars[-1] if read.bars else None
