"""What was weak comes back: after 1, 3 and 7 days, as long as it goes well.

Growing gaps are common practice of teachers; that practice spread over days is kept longer than
the same practice on one day is an old finding (a review: Cepeda et al., Psychological Bulletin 132,
2006; from memory). The three gaps are our own choice. All days are whole numbers that count from
any day.
"""

from collections.abc import Iterable
from dataclasses import dataclass

GAPS_DAYS = (1, 3, 7)


@dataclass(frozen=True, slots=True)
class Outcome:
    """How something went on a day."""

    day: int
    well: bool


@dataclass(frozen=True, slots=True)
class Step:
    """A day on which something comes back, and the day on which it then went well (None: not
    yet)."""

    due: int
    done: int | None = None


@dataclass(frozen=True, slots=True)
class Comeback:
    """Something weak: the day on which it was found or last failed, and when it comes back."""

    failed: int
    steps: tuple[Step, ...]

    @property
    def settled(self) -> bool:
        """Whether it went well each time."""
        return all(step.done is not None for step in self.steps)

    @property
    def next_due(self) -> int | None:
        """The day on which it comes back next, or should have; None when it is settled."""
        return next((step.due for step in self.steps if step.done is None), None)

    def waits(self, day: int) -> bool:
        """Whether it is to be played on a day, as far as is known then: due, and not yet gone well
        before that day."""
        return any(
            step.due <= day and (step.done is None or step.done >= day) for step in self.steps
        )


def come_back(outcomes: Iterable[Outcome]) -> Comeback | None:
    """When something comes back by its outcomes; None where it never failed.

    It begins anew on each day on which it fails; a day with both is one on which it failed. What
    goes well on a day does all steps that were due by then: who plays it well after a week's pause
    has shown what the earlier steps ask.
    """
    rows = tuple(outcomes)
    failures = [row.day for row in rows if not row.well]
    if not failures:
        return None
    failed = max(failures)
    wells = sorted({row.day for row in rows if row.well and row.day > failed})
    steps = []
    for gap in GAPS_DAYS:
        due = failed + gap
        steps.append(Step(due, next((day for day in wells if day >= due), None)))
    return Comeback(failed, tuple(steps))
