"""Clefs after a move: each passage keeps its clef where it can, and gets another where its notes
would hang too far above or below the staff.

The choice is the cheapest way through the measures: ledger lines, clefs other than the part's own
and changes of clef cost something. A note stands ``place`` steps above the middle line.
"""

from collections.abc import Collection, Mapping, Sequence

from handslide.edges.musicxml.staves import ClefRegion, PrintedClef
from handslide.ground.facts import Fact, fact

# What horns are read in that aren't read in the bass clef, by the clef's name.
HOMES: Mapping[str, PrintedClef] = {
    "alto": PrintedClef("C", 3),
    "treble": PrintedClef("G", 2),
}
BASS, TENOR = PrintedClef("F", 4), PrintedClef("C", 4)
# Common practice: up to three ledger lines are read at ease, more are avoided.
MOST_LEDGERS = 3
_LEDGER_COSTS = (0.0, 0.1, 0.5, 1.5, 6.0, 12.0)
_OTHER_CLEF = 0.4
_HOME_CLEF = 0.05
_NEW_CHANGE = 8.0
_OLD_CHANGE = 0.5
_FAR = 5


def ledgers(place: int) -> int:
    """Ledger lines of a note ``place`` steps above (negative: below) the middle line."""
    return max(0, (abs(place) - 4) // 2)


def choose_clefs(
    regions: Sequence[ClefRegion],
    steps: Mapping[int, Sequence[int]],
    *,
    letters: int,
    keep: bool,
    home: PrintedClef | None = None,
) -> list[PrintedClef | None]:
    """The clef of each region of a staff after a move.

    Parameters
    ----------
    regions : sequence
        In order of time.
    steps : mapping
        By index of the region: its notes after the move, in letters above C0.
    letters : int
        How far the part was moved.
    keep : bool
        Change no clef: a player of a transposed part reads no other.
    home : PrintedClef, optional
        The clef that the player's horn is read in, where it isn't the bass clef.
    """
    if keep or letters == 0:
        return [region.clef for region in regions]
    clefs = _candidates(regions, home)
    costs: dict[PrintedClef | None, float] = {}
    ways: list[dict[PrintedClef | None, PrintedClef | None]] = []
    for index, region in enumerate(regions):
        offered: Collection[PrintedClef | None] = clefs
        if region.clef is None:
            offered = (None,)
        changes = index > 0 and regions[index - 1].clef != region.clef
        new: dict[PrintedClef | None, float] = {}
        way: dict[PrintedClef | None, PrintedClef | None] = {}
        for clef in offered:
            own = _cost(clef, region.clef, steps.get(index, ()), letters, home)
            best, before = 0.0, None
            if costs:
                change = _OLD_CHANGE if changes else _NEW_CHANGE
                best, before = min(
                    ((cost + change * (one != clef), one) for one, cost in costs.items()),
                    key=lambda pair: pair[0],
                )
            new[clef], way[clef] = best + own, before
        costs = new
        ways.append(way)
    chosen = [min(costs, key=lambda clef: costs[clef])] if costs else []
    for way in reversed(ways[1:]):
        chosen.append(way[chosen[-1]])
    return chosen[::-1]


def _candidates(
    regions: Sequence[ClefRegion], home: PrintedClef | None
) -> list[PrintedClef | None]:
    found: dict[PrintedClef | None, None] = {
        region.clef: None for region in regions if region.clef is not None
    }
    found |= {BASS: None, TENOR: None} if home is None else {home: None}
    return list(found)


def _cost(
    clef: PrintedClef | None,
    own: PrintedClef | None,
    steps: Sequence[int],
    letters: int,
    home: PrintedClef | None,
) -> float:
    if clef is None:
        return 0.0
    each = 0.0 if clef == (home or own) else _OTHER_CLEF
    if home is None and own is not None and own.sign == "C" and letters <= -4:
        # A tenor or alto clef was there because the line was high: further down bass is at home.
        each = 0.0 if clef == BASS else _HOME_CLEF + each
    total = 0.0
    for step in steps:
        count = ledgers(step - clef.middle)
        total += each + _LEDGER_COSTS[min(count, _FAR)] + 6.0 * max(0, count - _FAR)
    return total


def clef_fact(clef: PrintedClef | None) -> Fact:
    """A clef, to be told."""
    if clef is None:
        return fact("transpose.no_clef")
    return fact("transpose.printed_clef", sign=clef.sign, line=clef.line, octaves=clef.octaves)
