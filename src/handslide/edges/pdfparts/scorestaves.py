"""Full scores: which staff of each system is the part."""

import re
from collections.abc import Sequence

from handslide.edges.pdfparts.staves import Staff
from handslide.edges.pdfparts.texts import Words
from handslide.ground.errors import ScoreError

_TROMBONE = re.compile(
    r"\btromb|\btrb|\btbn|\bpos(aune|\.|$)|\bsacabuche|\btb\.", re.IGNORECASE
)  # fmt: skip


def staff_names(system: Sequence[Staff], words: Sequence[Words]) -> tuple[str, ...]:
    """What stands to the left of each staff of a system; "" where nothing does."""
    names = []
    for index, staff in enumerate(system):
        lowest = staff.bottom - staff.space
        highest = staff.top + staff.space
        if index + 1 < len(system):
            lowest = max(lowest, (staff.bottom + system[index + 1].top) / 2)
        beside = [
            word.text for word in words
            if word.x1 < staff.x0 + staff.space and lowest < word.y + 0.3 * word.em < highest
        ]  # fmt: skip
        names.append(" ".join(beside))
    return tuple(names)


def choose(
    systems: Sequence[Sequence[Staff]], names: Sequence[Sequence[str]], wish: int | None
) -> list[int]:
    """The index of the part's staff in each system. Raises ScoreError for one that isn't there.

    Without a wish the first that is called trombone, else the first. In systems of another number
    of staves it is found by its name.
    """
    first = names[0]
    if wish is not None and not 1 <= wish <= max(len(system) for system in systems):
        raise ScoreError("pdfparts.no_such_staff", wish=wish, count=len(systems[0]))
    at = wish - 1 if wish is not None else _trombone(first)
    return [
        _index(at, len(first), first[at] if at < len(first) else "", len(system), own)
        for system, own in zip(systems, names)
    ]


def _trombone(names: Sequence[str]) -> int:
    return next((index for index, name in enumerate(names) if _TROMBONE.search(name)), 0)


def _index(at: int, usual: int, name: str, count: int, names: Sequence[str]) -> int:
    if count == usual and at < count:
        return at
    fitting = [index for index, own in enumerate(names) if own and _abbreviates(own, name)]
    return fitting[0] if fitting else min(at, count - 1)


def _abbreviates(short: str, name: str) -> bool:
    """Whether a name's first letter and number are those of another."""
    same_number = re.findall(r"\d+|\b[IV]+\b", short) == re.findall(r"\d+|\b[IV]+\b", name)
    return bool(name) and short[0].casefold() == name[0].casefold() and same_number
