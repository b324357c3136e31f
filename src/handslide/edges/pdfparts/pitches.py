"""Which pitch a place has: clefs, keys, accidentals by step up to the barline.

Steps count letters above C0: C4 is 28. A key is a letter's alteration by letter (C is 0).
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from handslide.edges.pdfparts.found import Accidental, Head
from handslide.edges.pdfparts.items import Item
from handslide.edges.pdfparts.staves import Staff

SIGNS = {"F": 24, "C": 28, "G": 32}
_SHARPS = (3, 0, 4, 1, 5, 2, 6)
_FLATS = _SHARPS[::-1]
_NAMED = {"bass": "F4", "tenor": "C4", "alto": "C3", "treble": "G2"}
_CLEF = re.compile(r"([FCG])([1-5])(8a|8b)?")
_SEMITONES = (0, 2, 4, 5, 7, 9, 11)


@dataclass(frozen=True, slots=True)
class ReadClef:
    """A clef: sign, line (1 is the lowest), octaves above."""

    sign: str
    line: int
    octaves: int = 0
    sure: bool = True
    plain: bool = True
    """Its octave is part of its sign, not a number near it."""

    @property
    def name(self) -> str:
        """Such as ``F4`` or ``G28b``."""
        return f"{self.sign}{self.line}" + {0: "", 1: "8a", -1: "8b"}[self.octaves]

    def step_at(self, place: int) -> int:
        """The step at a place."""
        return SIGNS[self.sign] + 7 * self.octaves + place - 2 * (self.line - 1)


def clef_of(item: Item, staff: Staff) -> ReadClef:
    """The clef of a sign."""
    _, sign, *more = item.kind.split(".")
    octaves = 1 if "8a" in more else -1 if "8b" in more else 0
    place = staff.place(item.y)
    line = min(5, max(1, round(place / 2) + 1))
    on_line = abs(place - 2 * (line - 1)) < 0.6
    return ReadClef(sign, line, octaves, item.sure and on_line)


def clef_named(name: str) -> ReadClef | None:
    """A clef by its name, such as ``F4`` or ``bass``; None for another text."""
    match = _CLEF.fullmatch(_NAMED.get(name.strip().lower(), name.strip()))
    if match is None:
        return None
    return ReadClef(match[1], int(match[2]), {"8a": 1, "8b": -1}.get(match[3], 0))


def key_of_fifths(fifths: int) -> dict[int, int]:
    """The letters that so many sharps (negative: flats) alter."""
    if fifths >= 0:
        return dict.fromkeys(_SHARPS[:fifths], 1)
    return dict.fromkeys(_FLATS[:-fifths], -1)


@dataclass(frozen=True, slots=True)
class ReadKey:
    """The letters that a key signature alters; ``odd`` are those that don't fit the usual order."""

    alters: dict[int, int] = field(default_factory=dict)
    odd: frozenset[int] = frozenset()

    @property
    def fifths(self) -> int:
        """Sharps, negative flats."""
        return sum(self.alters.values())


def key_of_signs(signs: Sequence[Accidental], clef: ReadClef) -> ReadKey:
    """The key that a run of accidentals shows. Naturals take back what was."""
    alters = {clef.step_at(s.place) % 7: s.alter for s in signs if s.alter in (-1, 1)}
    order = _SHARPS if any(alter > 0 for alter in alters.values()) else _FLATS
    usual = set(order[: len(alters)])
    mixed = len(set(alters.values())) > 1
    odd = set(alters) ^ usual if not mixed else set(alters) | usual
    return ReadKey(alters, frozenset(odd))


def sounding(step: int, alter: int) -> int:
    """The MIDI number of a step (C4 is 60)."""
    return 12 * (step // 7 + 1) + _SEMITONES[step % 7] + alter


class Alterations:
    """What alters a step: the key, and accidentals up to the barline."""

    def __init__(self) -> None:
        self.key = ReadKey()
        self._shown: dict[int, int] = {}

    def barline(self) -> None:
        """Accidentals end."""
        self._shown = {}

    def give(self, head: Head) -> None:
        """The alteration of a head whose step is known."""
        if head.sign is not None:
            self._shown[head.step] = head.sign
        head.alter = self._shown.get(head.step, self.key.alters.get(head.step % 7, 0))
