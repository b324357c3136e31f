"""What would help where notes of a part can't be played: an interval, a reach, valves, a horn."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from handslide.edges.files.horns import HORN_FILES
from handslide.edges.typesetting.part import Section
from handslide.ground.errors import HornError
from handslide.ground.facts import Fact, fact
from handslide.ground.intervals import Interval
from handslide.instrument.elsewhere import (
    fewest_left,
    least_reach,
    nearest_intervals,
    playable_on,
    unlearned_valves,
)
from handslide.instrument.horn import Horn
from handslide.instrument.line import Line
from handslide.instrument.places import PlaceBook
from handslide.jobs.setup import Setup, load_tuned
from handslide.words import report as words
from handslide.words.messages import Message
from handslide.words.speech import Speech

_ROWS: Mapping[str, Message] = {
    "transpose": words.HELPS_TRANSPOSE,
    "reach": words.HELPS_REACH,
    "valves": words.HELPS_VALVES,
    "horn": words.HELPS_HORN,
}


@dataclass(frozen=True, slots=True)
class Remedies:
    """What would make every note playable: the nearest ``intervals``, or the one that leaves the
    ``fewest`` notes; a ``reach``; ``valves`` to learn; the nearest other ``horn``."""

    intervals: tuple[Interval, ...] = ()
    fewest: tuple[Interval, int] | None = None
    reach: float | None = None
    valves: tuple[str, ...] = ()
    horn: Horn | None = None
    count: int = 0

    def facts(self) -> list[tuple[str, Fact]]:
        """What is said of each, by its row in the report."""
        rows = []
        if self.intervals:
            rows.append(("transpose", fact("transpose.nearest", intervals=self.intervals)))
        elif self.fewest is not None:
            interval, left = self.fewest
            told = fact("transpose.fewest", interval=interval, left=left, count=self.count)
            rows.append(("transpose", told))
        if self.reach is not None:
            rows.append(("reach", fact("marks.remedy_reach", reach=self.reach)))
        if self.valves:
            rows.append(("valves", fact("marks.remedy_valves", valves=self.valves)))
        if self.horn is not None:
            rows.append(("horn", fact("marks.remedy_horn", horn=self.horn.called)))
        return rows


def find_remedies(setup: Setup, line: Line) -> Remedies:
    """What would help a line of which some notes can't be played.

    Glissandi are left out of account. Of another horn all valves count as learned; the nearest is
    the nearest in length, then the one with the fewest valves.
    """
    straight = replace(line, gliss=line.gliss & False)
    midis = line.midi.tolist()
    intervals = nearest_intervals(straight, setup.book)
    return Remedies(
        intervals,
        None if intervals else fewest_left(straight, setup.book),
        least_reach(midis, setup.book),
        unlearned_valves(midis, setup.book),
        _nearest_horn(setup, midis),
        len(midis),
    )


def _nearest_horn(setup: Setup, midis: Sequence[int]) -> Horn | None:
    limits = replace(setup.book.limits, learned=None)
    found = []
    for number, name in enumerate(HORN_FILES.known):
        try:
            horn = load_tuned(name, setup.horn.a4_hz)
        except HornError:
            # A broken file of the user's is told where it is asked for.
            continue
        if name != setup.horn.name and playable_on(midis, PlaceBook(horn, limits)):
            far = abs(math.log2(horn.length_m / setup.horn.length_m))
            found.append((round(far, 2), len(horn.valves), number, horn))
    return min(found, key=lambda row: row[:3])[-1] if found else None


def remedies_section(say: Speech, remedies: Remedies) -> Section | None:
    """What would help, as a section of the report."""
    rows = tuple((say(_ROWS[row]), say.fact(told)) for row, told in remedies.facts())
    return Section(say(words.HELPS), rows) if rows else None


def remedies_json(remedies: Remedies) -> dict[str, Any]:
    """The JSON object of what would help."""
    return {
        "transpose": [interval.name for interval in remedies.intervals],
        "fewest": None
        if remedies.fewest is None
        else {"by": remedies.fewest[0].name, "unplayable": remedies.fewest[1]},
        "reach": remedies.reach,
        "valves": list(remedies.valves),
        "horn": None if remedies.horn is None else remedies.horn.name,
    }
