"""Progress over weeks: how each note, place and habit group stands, and whether it changed.

Rows of many takes go in, values with their uncertainty come out. What a take's closed notes and the
take as a whole have in common is the tuning of the horn on that day; it is taken off first and said
apart. Conventions: cents above (+) or below (-) the note; slide in mm, positive = too far out.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.instrument.marks import position_text
from handslide.instrument.progress.estimate import (
    Estimate,
    adjusted,
    heard_share,
    mean_over,
    median,
    robust_sd,
    spread_of,
    spread_variance,
    takes_for_change,
    takes_for_mean,
    thirds,
    trend_over,
)
from handslide.instrument.progress.rows import (
    LEAST_SIGMA,
    LEAST_TUNING,
    Group,
    Ints,
    Table,
    TakenNote,
    Tuning,
    find_groups,
)

__all__ = ["Change", "GroupProgress", "Progress", "TakePoint", "TakenNote", "find_progress"]

RECENT_DAYS, RECENT_TAKES = 42.0, 6
LEAST_TAKES, LEAST_DAYS = 4, 10.0
# A change smaller than this is nobody's progress, however sure it is: cents, cents, share of notes.
LEAST_CHANGE = {"bias": 3.0, "spread": 2.0, "right": 0.03}
# An interval within this says that nothing changed that a listener would hear.
STEADY = {"bias": IN_TUNE_CENTS, "spread": IN_TUNE_CENTS / 2, "right": 0.1}
FALSE_ALARMS = 0.05
# Causes of pitch, not of the slide.
PITCH = ("all", "valve", "partial")
WIDE = ("valve", "away", "out", "in", "partial")
# Few notes say little of their own spread: that of all places counts as four notes more.
_PRIOR_DF = 4
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TakePoint:
    """A group in one take: the median ``cents`` beside the tuning, its spread (None: one note)."""

    take: int
    when_days: float
    cents: float
    spread: float | None
    notes: int


@dataclass(frozen=True, slots=True)
class Change:
    """A change over time of ``measure``: ``bias`` (distance from 0), ``spread`` or ``right``.

    ``early`` and ``late`` are read from a straight line at the first and the last third of the
    takes; ``by`` is late - early with its interval. ``verdict``: ``improved``, ``worse``,
    ``steady`` (surely no change that is heard), ``unclear`` (nothing can be told yet). ``now`` is
    the line's end with its interval.
    """

    measure: str
    early: float
    late: float
    now: Estimate
    by: Estimate
    p: float
    p_adjusted: float
    verdict: str


@dataclass(frozen=True, slots=True, eq=False)
class GroupProgress:
    """A group of notes: how it stands now, and how it changed.

    ``kind``: ``all``, ``place``, ``note``, ``valve``, ``away``, ``out``, ``in``, ``partial``. Only
    what names the group is set: ``valves`` and ``position`` of a place or note, ``midi`` of a note,
    ``partial``. ``scored`` is (notes of a part, right ones among them). ``bias``, ``spread``,
    ``scored`` and ``right`` are those of the recent takes, the bias that of the line's end where it
    surely changed; ``more`` and ``more_for_change`` are how many more takes would make the bias
    known to within hearing, and would show a change that is heard (0: enough; None: more than
    anybody plays).
    """

    kind: str
    valves: tuple[str, ...] | None
    position: float | None
    midi: int | None
    partial: int | None
    rows: frozenset[int] = field(repr=False)
    notes: int
    takes: int
    scored: tuple[int, int]
    right: Estimate | None
    bias: Estimate | None
    mm_per_cent: float | None
    spread: float | None
    spread_notes: int
    """Of how many notes the spread is."""
    points: tuple[TakePoint, ...] = field(repr=False)
    changes: tuple[Change, ...]
    more: int | None
    more_for_change: int | None

    @property
    def key(self) -> str:
        """What names the group in an address."""
        valves = "" if self.valves is None else "+".join(self.valves) or "open"
        position = "" if self.position is None else f"{self.position:.2f}"
        numbers = ("" if each is None else str(each) for each in (self.midi, self.partial))
        return "_".join([self.kind, valves, position, *numbers])

    @property
    def mark(self) -> str:
        """The position as written in a mark, without the valve; empty where there is none."""
        return "" if self.position is None else position_text(self.position)

    @property
    def slide_mm(self) -> float | None:
        """How far the slide is too far out (positive); None at the closed slide, where it isn't
        the slide (a valve, a partial), or unknown."""
        if self.bias is None or self.mm_per_cent is None or self.kind in PITCH:
            return None
        return -self.bias.value * self.mm_per_cent

    @property
    def known(self) -> bool:
        """Whether the bias is known to within what a listener hears."""
        return self.bias is not None and self.bias.half_width <= IN_TUNE_CENTS

    @property
    def heard(self) -> float | None:
        """The share of its notes that a listener hears as out of tune."""
        if self.bias is None or self.spread is None:
            return None
        return heard_share(self.bias.value, self.spread, IN_TUNE_CENTS)

    def change(self, measure: str) -> Change | None:
        """The change of a measure; None where there are too few takes to ask."""
        return next((one for one in self.changes if one.measure == measure), None)


@dataclass(frozen=True, slots=True, eq=False)
class Progress:
    """Everything that can be said; ``groups`` in the order of kinds, then valves and position."""

    takes: int
    days: float
    tuning: tuple[Tuning, ...]
    tuning_now: Estimate | None
    groups: tuple[GroupProgress, ...]
    tests: int

    def of_kind(self, *kinds: str) -> tuple[GroupProgress, ...]:
        """The groups of some kinds."""
        return tuple(group for group in self.groups if group.kind in kinds)


def find_progress(rows: Sequence[TakenNote]) -> Progress:
    """Judge the notes of all takes."""
    if not rows:
        return Progress(0, 0.0, (), None, (), 0)
    table = Table(rows)
    groups = [_judged(table, group) for group in find_groups(table)]
    groups, tests = _with_verdicts(groups)
    when = np.array([row.when_days for row in rows])
    return Progress(
        takes=len(table.order),
        days=float(np.ptp(when)),
        tuning=table.tuning,
        tuning_now=_tuning_now(table),
        groups=tuple(groups),
        tests=tests,
    )


def _tuning_now(table: Table) -> Estimate | None:
    known = [one for one in table.tuning if one.notes >= LEAST_TUNING][-RECENT_TAKES:]
    if not known:
        return None
    y = np.array([one.cents for one in known])
    variance = 1.57 * table.sigma**2 / np.array([one.notes for one in known], float)
    return mean_over(y, variance)[0]


# One group: each take gives a value, then the takes are counted.


def _judged(table: Table, group: Group) -> GroupProgress:
    points = _points(table, group.at)
    sigma = _sigma(points, table.sigma)
    recent = _recent(table, points)
    bias = more = None
    sd = table.sigma
    if recent:
        y, variance = _values(recent, sigma)
        bias, between = mean_over(y, variance)
        sd = math.sqrt(between**2 + median(variance))
        wanted = takes_for_mean(max(round(sd, 1), 0.1), IN_TUNE_CENTS)
        more = None if wanted is None else max(wanted - len(recent), 0)
        if bias.half_width <= IN_TUNE_CENTS:
            more = 0
    scored = _scored(table, group.at)
    changes = [
        *_tuned_changes(points, sigma, group.kind),
        *_right_changes(table, scored),
    ]
    wanted = takes_for_change(max(round(sd, 1), 0.1), IN_TUNE_CENTS)
    lately_scored = _recent_scored(table, scored)
    lately = _lately(table, group.at, recent)
    return GroupProgress(
        kind=group.kind,
        valves=group.valves,
        position=group.position,
        midi=group.midi,
        partial=group.partial,
        rows=frozenset(group.at.tolist()),
        notes=sum(point.notes for point in points),
        takes=len(set(table.take[group.at].tolist())),
        scored=(sum(row[1] for row in lately_scored), sum(row[2] for row in lately_scored)),
        right=mean_over(*_shares(lately_scored), counted=True)[0] if lately_scored else None,
        bias=bias,
        mm_per_cent=_mm_per_cent(table, group.at),
        spread=robust_sd(lately) if len(lately) > 2 else None,
        spread_notes=len(lately),
        points=points,
        changes=tuple(changes),
        more=takes_for_mean(max(round(sd, 1), 0.1), IN_TUNE_CENTS) if not recent else more,
        more_for_change=None if wanted is None else max(wanted - len(points), 0),
    )


def _points(table: Table, at: Ints) -> tuple[TakePoint, ...]:
    """The group in each take that has tuned notes of it, in order of time."""
    tuned = at[~np.isnan(table.cents[at])]
    turns = table.turn[tuned]
    tuned = tuned[np.argsort(turns, kind="stable")]
    ends = np.cumsum(np.bincount(turns)).tolist()
    points = []
    for take, first, last in zip(table.order, [0, *ends], ends):
        if first < last:
            cents, when = table.cents[tuned[first:last]], table.when[tuned[first:last]]
            spread = spread_of(cents) if len(cents) > 1 else None
            middle = float(when.sum()) / len(when)
            points.append(TakePoint(take, middle, median(cents), spread, len(cents)))
    return tuple(points)


def _sigma(points: Sequence[TakePoint], general: float) -> float:
    """The spread within a take, leaning on that of all places where the group has few notes."""
    df, total = float(_PRIOR_DF), _PRIOR_DF * general**2
    for point in points:
        if point.spread is not None:
            df += point.notes - 1
            total += (point.notes - 1) * point.spread**2
    return max(math.sqrt(total / df), LEAST_SIGMA)


def _values(points: Sequence[TakePoint], sigma: float) -> tuple[Floats, Floats]:
    """The takes' medians and their variances: of one or two notes the median is the mean."""
    count = np.array([point.notes for point in points], float)
    factor = np.where(count <= 2, 1.0, 1.4)
    return np.array([point.cents for point in points]), factor * sigma**2 / count


def _recent(table: Table, points: Sequence[TakePoint]) -> tuple[TakePoint, ...]:
    """The points of the last weeks, or the last takes if those are more."""
    since = float(table.when.max()) - RECENT_DAYS
    late = [point for point in points if point.when_days >= since]
    return tuple(late if len(late) > RECENT_TAKES else points[-RECENT_TAKES:])


def _lately(table: Table, at: Ints, recent: Sequence[TakePoint]) -> Floats:
    """The cents of the group's notes in the recent takes."""
    takes = {point.take for point in recent}
    cents = table.cents[at[[take in takes for take in table.take[at].tolist()]]]
    tuned: Floats = cents[~np.isnan(cents)]
    return tuned


def _mm_per_cent(table: Table, at: Ints) -> float | None:
    """What a cent is on the slide, from the rows that have both; None at the closed slide."""
    found = [
        abs(row.slide_mm / row.cents)
        for row in (table.rows[n] for n in at.tolist() if not table.closed[n])
        if row.slide_mm is not None and row.cents is not None and abs(row.cents) >= 2.0
    ]
    return median(np.array(found)) if found else None


def _scored(table: Table, at: Ints) -> list[tuple[int, int, int]]:
    """(take, notes of the part, right ones) for each take."""
    turns = table.turn[at]
    tried = np.bincount(turns, table.scored[at]).astype(int).tolist()
    right = np.bincount(turns, table.right[at]).astype(int).tolist()
    return [row for row in zip(table.order, tried, right) if row[1]]


def _shares(scored: Sequence[tuple[int, int, int]]) -> tuple[Floats, Floats]:
    count = np.array([row[1] for row in scored], float)
    right = np.array([row[2] for row in scored], float)
    # Half a note of each kind is added: "never wrong in ten" isn't "can't be wrong".
    p = (float(right.sum()) + 0.5) / (float(count.sum()) + 1.0)
    return right / count, p * (1.0 - p) / count


def _recent_scored(
    table: Table, scored: Sequence[tuple[int, int, int]]
) -> Sequence[tuple[int, int, int]]:
    since = float(table.when.max()) - RECENT_DAYS
    late = [row for row in scored if table.first_day[row[0]] >= since]
    return late if len(late) > RECENT_TAKES else scored[-RECENT_TAKES:]


# Changes.


def _tuned_changes(points: Sequence[TakePoint], sigma: float, kind: str) -> list[Change]:
    found = []
    # The bias of all notes is the tuning of the horn, which is off already.
    if kind != "all" and _long_enough([point.when_days for point in points]):
        when = np.array([point.when_days for point in points])
        trend = trend_over(when, *_values(points, sigma), thirds(when))
        early, late, by = trend.early.value, trend.late.value, trend.nearer
        found.append(Change("bias", early, late, trend.late, by, trend.nearer_p, 1.0, ""))
    # Notes of several places differ by their places' biases: that isn't an unsteady hand.
    several = [point for point in points if point.spread is not None and kind not in WIDE]
    if _long_enough([point.when_days for point in several]):
        when = np.array([point.when_days for point in several])
        y = np.array([point.spread for point in several], float)
        variance = np.array([spread_variance(sigma, point.notes) for point in several])
        trend = trend_over(when, y, variance, thirds(when))
        early, late = max(trend.early.value, 0.0), max(trend.late.value, 0.0)
        found.append(
            Change("spread", early, late, trend.late, trend.change, trend.change.p, 1.0, "")
        )
    return found


def _right_changes(table: Table, scored: Sequence[tuple[int, int, int]]) -> list[Change]:
    when = np.array([table.first_day[row[0]] for row in scored])
    if not _long_enough(when.tolist()):
        return []
    trend = trend_over(when, *_shares(scored), thirds(when), counted=True)
    early, late = (min(max(one.value, 0.0), 1.0) for one in (trend.early, trend.late))
    return [Change("right", early, late, trend.late, trend.change, trend.change.p, 1.0, "")]


def _long_enough(when: Sequence[float]) -> bool:
    return len(when) >= LEAST_TAKES and max(when) - min(when) >= LEAST_DAYS


def _with_verdicts(groups: Sequence[GroupProgress]) -> tuple[list[GroupProgress], int]:
    """The groups with their verdicts, and how many changes were tested together.

    Groups of the same notes (a place with one note) are one test.
    """
    asked: dict[tuple[frozenset[int], str], float] = {}
    for group in groups:
        for change in group.changes:
            asked[group.rows, change.measure] = change.p
    judged = dict(zip(asked, adjusted(list(asked.values())))) if asked else {}
    done = [
        replace(group, changes=tuple(_verdict(group, change, judged) for change in group.changes))
        for group in groups
    ]
    moved = [group.rows for group in done if _moved(group)]
    return [_as_it_ends(group, moved) for group in done], len(asked)


def _moved(group: GroupProgress) -> bool:
    change = group.change("bias")
    return change is not None and change.verdict in ("improved", "worse")


def _as_it_ends(group: GroupProgress, moved: Sequence[frozenset[int]]) -> GroupProgress:
    """Of a bias that surely changed, the end of the line says more than the mean of its way.

    A place that changed has taken its notes along, sure of each alone or not.
    """
    change = group.change("bias")
    if change is None or not any(group.rows <= rows for rows in moved):
        return group
    known = change.now.half_width <= IN_TUNE_CENTS
    return replace(group, bias=change.now, more=0 if known else group.more)


def _verdict(
    group: GroupProgress, change: Change, judged: Mapping[tuple[frozenset[int], str], float]
) -> Change:
    p = judged[group.rows, change.measure]
    by, least, steady = change.by, LEAST_CHANGE[change.measure], STEADY[change.measure]
    verdict = "unclear"
    if p <= FALSE_ALARMS and abs(by.value) >= least:
        good = by.value > 0 if change.measure == "right" else by.value < 0
        verdict = "improved" if good else "worse"
    elif -steady < by.low and by.high < steady:
        verdict = "steady"
    return replace(change, p_adjusted=p, verdict=verdict)
