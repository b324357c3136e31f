"""Take against take: the smallest change that isn't chance.

The minimal detectable change of test and retest: 1.96·√2·SEM for two takes of equal standard error
(J. P. Weir, J. Strength Cond. Res. 19, 231, 2005, from memory; the formula seen in primers on it),
1.96·√(se1² + se2²) for two that differ. The standard error is that of the notes of one take: what
differs between days comes on top, and only weeks of takes show it.
"""

import math
from dataclasses import dataclass

_NORMAL_95 = 1.959964


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of a take, with its standard error and from how many notes."""

    name: str
    value: float
    se: float
    notes: int

    @property
    def smallest_change(self) -> float:
        """What another take as sure as this must differ by."""
        return smallest_change(self.se, self.se)


def smallest_change(se: float, other_se: float) -> float:
    """The smallest difference of two figures that can be told from chance (95 %)."""
    return _NORMAL_95 * math.hypot(se, other_se)


def is_change(now: Figure, before: Figure) -> bool:
    """Whether a figure of two takes differs by more than chance."""
    return abs(now.value - before.value) > smallest_change(now.se, before.se)


def mean_figure(name: str, values: list[float]) -> Figure | None:
    """The mean of values with its standard error; None for fewer than three."""
    count = len(values)
    if count < 3:
        return None
    mean = math.fsum(values) / count
    variance = math.fsum((value - mean) ** 2 for value in values) / (count - 1)
    return Figure(name, mean, math.sqrt(variance / count), count)
