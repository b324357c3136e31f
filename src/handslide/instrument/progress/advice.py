"""What to practise next: what a listener hears, how often it is on the stand, how sure it is.

Each group is weighed in cents that are surely off: the end of its interval that is nearer to 0,
shares of faults at what a fault weighs beside a note out of tune. What is only likely counts a
fifth. A note that stands on a stand weighs more the more often it stands there.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from handslide.ground.facts import Fact, fact
from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.instrument.habits import FAULT_CENTS
from handslide.instrument.practice import HOW_FAULTS, how_to_mend
from handslide.instrument.progress.estimate import (
    UsualVariance,
    adjusted,
    share_p,
    spread_p,
    usual_variance,
)
from handslide.instrument.progress.judge import FALSE_ALARMS, WIDE, GroupProgress, Progress
from handslide.instrument.progress.rows import TakenNote

MOST_NEXT = 3
StandKey = tuple[int, tuple[str, ...] | None, int | None]
UNSTEADY_CENTS = 15.0
_UNSURE = 0.2
_LEAST_NOTES, _LEAST_SCORE = 3, 1.0
_LEAST_FAULTS = 0.1
_AGREE_CENTS, _AGREE_SHARE, _LEAST_MEMBERS = 5.0, 0.85, 3
_SAME = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Next:
    """Something to practise. ``why``: ``off`` (high, low, too far out, too short), ``unsteady``,
    ``faults``. ``midi`` is the note that shows it best or stands most often on the stand;
    ``on_stand`` how often its notes stand there; ``sure`` whether the interval says so."""

    group: GroupProgress = field(repr=False)
    why: str
    midi: int
    on_stand: int
    score: float
    sure: bool

    @property
    def reason(self) -> Fact:
        """What is the matter, and whether that is sure."""
        reason = _reason(self)
        return reason if self.sure else fact("progress.unsure", reason=reason)

    @property
    def how(self) -> Fact:
        """How to practise it."""
        if self.why == "faults":
            return HOW_FAULTS
        if self.why == "unsteady":
            return fact("progress.how_unsteady")
        return how_to_mend(self.group.kind, self.group.slide_mm)


def _reason(found: Next) -> Fact:
    group = found.group
    if found.why == "faults":
        tried, right = group.scored
        return fact("progress.faults", wrong=tried - right, tried=tried)
    if found.why == "unsteady":
        return fact("progress.unsteady", spread_cents=group.spread or 0.0)
    assert group.bias is not None
    cents = group.bias.value
    if group.kind == "valve":
        return fact("progress.valve_off", cents=cents)
    if group.slide_mm is None:
        return fact("progress.off", cents=cents)
    return fact("progress.slide_off", cents=cents, slide_mm=group.slide_mm)


def next_to_practise(
    progress: Progress, rows: Sequence[TakenNote], on_stand: Mapping[StandKey, int]
) -> tuple[Next, ...]:
    """At most three things, worst first. ``on_stand`` counts the notes in the student's
    parts by `key_of`."""
    places = progress.of_kind("place")
    sure = _surely(progress.groups)
    candidates = []
    for group in progress.groups:
        if group.kind == "all" or group.notes + group.scored[0] < _LEAST_NOTES:
            continue
        count = _on_stand(group, rows, on_stand)
        weight = 1.0 + math.log2(1.0 + count)
        for why, cents, told in _reasons(group, places):
            certain = told and (group.rows, why) in sure
            score = (cents if certain else _UNSURE * cents) * weight
            midi = _example(group, rows, on_stand)
            candidates.append(Next(group, why, midi, count, score, certain))
    candidates = [one for one in candidates if one.score >= _LEAST_SCORE]
    # Of a place and its only note the place is named first: it says more.
    candidates.sort(key=lambda one: (-round(one.score, 6), one.group.kind == "note"))
    chosen: list[Next] = []
    for one in candidates:
        if len(chosen) < MOST_NEXT and not any(_same(one, other) for other in chosen):
            chosen.append(one)
    return tuple(chosen)


def _reasons(
    group: GroupProgress, places: Sequence[GroupProgress]
) -> list[tuple[str, float, bool]]:
    """(why, cents that it weighs if it is sure, whether it can be) for all that is the matter with
    a group."""
    found: list[tuple[str, float, bool]] = []
    wide = group.kind in WIDE
    bias = group.bias
    if bias is not None and abs(bias.value) >= IN_TUNE_CENTS and group.notes >= _LEAST_NOTES:
        surely = abs(bias.nearer_to_0())
        if not wide or (surely and _agree(group, places)):
            found.append(("off", surely or abs(bias.value), surely > 0.0))
    if wide:
        return found
    if group.right is not None:
        share = 1.0 - group.right.value
        if share >= _LEAST_FAULTS and group.scored[0] - group.scored[1] >= _LEAST_NOTES:
            least = max(share - group.right.half_width, 0.0) if group.right.df > 0 else 0.0
            found.append(("faults", FAULT_CENTS * (least or share), least > 0.0))
    if group.spread is not None and group.spread >= UNSTEADY_CENTS and group.spread_notes >= 6:
        # Half: an unsteady note is right now and then.
        found.append(("unsteady", 0.5 * (group.spread - IN_TUNE_CENTS), group.takes >= 3))
    return found


def _surely(groups: Sequence[GroupProgress]) -> set[tuple[frozenset[int], str]]:
    """What is surely the matter, of all that was asked: (rows, why).

    Of so many groups some look sure by chance. In what is kept of each ``why`` these are at most
    the share FALSE_ALARMS (`adjusted`). Groups of the same notes are asked once.
    """
    alone = {one.rows: one.bias for one in groups if one.kind in ("place", "note") and one.bias}
    usual = usual_variance(list(alone.values()))
    asked: dict[str, dict[frozenset[int], float]] = {}
    for group in groups:
        if group.kind != "all":
            for why, p in _p_values(group, usual):
                asked.setdefault(why, {})[group.rows] = p
    return {
        (rows, why)
        for why, found in asked.items()
        for rows, p in zip(found, adjusted(list(found.values())))
        if p < FALSE_ALARMS
    }


def _p_values(group: GroupProgress, usual: UsualVariance) -> list[tuple[str, float]]:
    """How likely as much would be seen by chance: of notes that are in tune in the mean; of fewer
    faults than are told; of a spread that nobody hears."""
    found = []
    if group.bias is not None and group.notes >= _LEAST_NOTES:
        found.append(("off", usual.p(group.bias)))
    if group.kind in WIDE:
        return found
    if group.right is not None and group.scored[0] >= _LEAST_NOTES:
        tried, right = group.scored
        found.append(("faults", share_p(tried - right, tried, group.right.se, _LEAST_FAULTS)))
    if group.bias is not None and group.spread is not None and group.spread_notes >= 6:
        takes = group.bias.df + 1
        found.append(("unsteady", spread_p(group.spread, group.spread_notes, takes, IN_TUNE_CENTS)))
    return found


def _agree(group: GroupProgress, places: Sequence[GroupProgress]) -> bool:
    """Whether a wide group's places show it too: else it is one of them that is off."""
    assert group.bias is not None
    sign = math.copysign(1.0, group.bias.value)
    members = [
        place.bias.value * sign > _AGREE_CENTS
        for place in places
        if place.bias is not None and len(place.rows & group.rows) >= 0.5 * len(place.rows)
    ]
    least = _LEAST_MEMBERS if group.kind == "away" else 2
    return len(members) >= least and sum(members) >= _AGREE_SHARE * len(members)


def key_of(row: TakenNote) -> StandKey:
    """What names a note on a stand: MIDI note, valves, partial."""
    return row.midi, row.valves, row.partial


def _on_stand(
    group: GroupProgress, rows: Sequence[TakenNote], on_stand: Mapping[StandKey, int]
) -> int:
    """How often the group's notes stand on the stands, in the places that they were played in."""
    return sum(on_stand.get(key, 0) for key in {key_of(rows[n]) for n in group.rows})


def _example(
    group: GroupProgress, rows: Sequence[TakenNote], on_stand: Mapping[StandKey, int]
) -> int:
    if group.midi is not None:
        return group.midi
    counts = Counter(key_of(rows[n]) for n in group.rows)
    return max(counts, key=lambda key: (on_stand.get(key, 0), counts[key], -key[0]))[0]


def _same(one: Next, other: Next) -> bool:
    return say_the_same(one.group.rows, other.group.rows)


def say_the_same(one: frozenset[int], other: frozenset[int]) -> bool:
    """Whether two groups of rows say much the same: most notes of one are in the other."""
    return len(one & other) > _SAME * min(len(one), len(other))
