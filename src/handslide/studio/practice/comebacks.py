"""What a student's takes showed as surely weak, and when it comes back."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median, pstdev

from handslide.drills.troublespots import TroubleSpot
from handslide.edges.store.takes import select_judged_takes
from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.instrument.practice import FAULTS
from handslide.instrument.progress.advice import (
    UNSTEADY_CENTS,
    Next,
    next_to_practise,
    say_the_same,
)
from handslide.instrument.progress.comeback import Comeback, Outcome, come_back
from handslide.instrument.progress.judge import GroupProgress, find_progress
from handslide.instrument.progress.rows import TakenNote
from handslide.studio.cache import CacheKind
from handslide.studio.days import local_day
from handslide.studio.practice.sheets import spot_of
from handslide.studio.progress.progress import StudentProgress, progress_of
from handslide.studio.studio import Studio

# Days with takes that are looked through, the last ones, each with the last takes until then: what
# was weak before them and still is shows again on one of them.
_LAST_DAYS, _LAST_TAKES = 10, 12
_SAME_POSITION = 0.25
_LEAST_NOTES = 2
_MOST_FAULTS = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Back:
    """Something that was surely weak. ``spot`` is how it is practised."""

    found: Next
    comeback: Comeback

    @property
    def key(self) -> str:
        """What names it, however many takes there are: half positions, for medians move."""
        group = self.found.group
        valves = None if group.valves is None else "+".join(group.valves)
        position = None if group.position is None else round(2.0 * group.position) / 2.0
        parts = (group.kind, valves, position, group.midi)
        return "_".join("" if part is None else str(part) for part in parts)

    @property
    def spot(self) -> TroubleSpot:
        """The note that shows it best."""
        return spot_of(self.found)


_BACKS: CacheKind[tuple[object, ...], tuple[Back, ...]] = CacheKind(8)


def comebacks(studio: Studio, student_id: int) -> tuple[Back, ...]:
    """All that was found surely weak in the last takes and isn't settled, what is due first.

    A pure function of the takes: the same takes give the same days. Raises NotFound.
    """
    report = progress_of(studio, student_id)
    return studio.caches.of(_BACKS).get(
        (student_id, report.rows), lambda: _comebacks(report, _days(studio, report))
    )


def _days(studio: Studio, report: StudentProgress) -> dict[int, date]:
    """The day of each take."""
    with studio.store.read() as db:
        takes = select_judged_takes(
            db, report.student.id, horn_id=None, score_id=None, since=None, until=None
        )
    moments = {take.id: take.recorded_at for take in takes}
    return {take: local_day(moments[take]) for take in {row.take for row in report.rows}}


def _comebacks(report: StudentProgress, days: dict[int, date]) -> tuple[Back, ...]:
    rows = report.rows
    last = sorted(set(days.values()))[-_LAST_DAYS:]
    found: dict[str, tuple[date, Next]] = {}
    for day in last:
        # What was known on the evening of that day.
        until = [take for take in days if days[take] <= day]
        some = frozenset(sorted(until, key=lambda take: (days[take], take))[-_LAST_TAKES:])
        known = [row for row in rows if row.take in some]
        for thing in next_to_practise(find_progress(known), known, {}):
            if thing.sure and thing.group.key not in found:
                found[thing.group.key] = day, thing
    backs: list[tuple[frozenset[int], Back]] = []
    # A place says more than its notes.
    for _, (day, thing) in sorted(
        found.items(), key=lambda row: (row[1][1].group.kind == "note", row[1][0], row[0])
    ):
        group = _now(report, thing.group)
        if group is None or any(say_the_same(group.rows, rows) for rows, _ in backs):
            continue
        outcomes = [Outcome(day.toordinal(), False)]
        for when, well in _outcomes(report, group, thing, days):
            if when > day:
                outcomes.append(Outcome(when.toordinal(), well))
        comeback = come_back(outcomes)
        assert comeback is not None
        backs.append((group.rows, Back(thing, comeback)))
    open_ones = [back for _, back in backs if not back.comeback.settled]
    return tuple(sorted(open_ones, key=lambda one: (one.comeback.next_due or 0, one.key)))


def _now(report: StudentProgress, group: GroupProgress) -> GroupProgress | None:
    """The group among all takes; its position is named anew with each of them."""
    what = group.kind, group.valves, group.midi, group.partial if group.kind == "partial" else None
    for one in report.progress.groups:
        partial = one.partial if one.kind == "partial" else None
        if (one.kind, one.valves, one.midi, partial) != what:
            continue
        if group.position is None or one.position is None:
            return one
        if abs(one.position - group.position) <= _SAME_POSITION:
            return one
    return None


def _outcomes(
    report: StudentProgress, group: GroupProgress, thing: Next, days: dict[int, date]
) -> list[tuple[date, bool]]:
    """How a group of notes went on each day that has two of them or more."""
    tuning = {one.take: one.cents for one in report.progress.tuning}
    by_day: dict[date, list[TakenNote]] = defaultdict(list)
    for n in sorted(group.rows):
        by_day[days[report.rows[n].take]].append(report.rows[n])
    return [
        (day, went_well(thing.why, rows, tuning))
        for day, rows in sorted(by_day.items())
        if len(rows) >= _LEAST_NOTES
    ]


def went_well(why: str, rows: Sequence[TakenNote], tuning: dict[int, float]) -> bool:
    """Whether what was weak (``why`` as in `Next`) wasn't in these notes.

    ``tuning`` are cents by which the horn was off in each take.
    """
    faults = sum(row.played in FAULTS for row in rows)
    if why == "faults":
        return faults <= _MOST_FAULTS * len(rows)
    cents = [row.cents - tuning.get(row.take, 0.0) for row in rows if row.cents is not None]
    if len(cents) < _LEAST_NOTES:
        return False
    if why == "unsteady":
        return pstdev(cents) < UNSTEADY_CENTS
    return abs(median(cents)) < IN_TUNE_CENTS
