"""How long a player rests where one line of music ends and the next begins."""

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

# So many quarter notes are time enough; more are no better.
ENOUGH_Q = 6.0


class MeasureRests(NamedTuple):
    """Quarter notes of rest with which a measure begins and ends; ``all_q`` where it is empty."""

    begin_q: float
    end_q: float
    all_q: float | None


def rest_at_turn(
    before: Sequence[str],
    after: Sequence[str],
    rests: Mapping[str, MeasureRests],
    movements: Collection[str],
) -> float:
    """Quarter notes of rest where one line ends and the next begins; enough between movements."""
    if after and after[0] in movements:
        return ENOUGH_Q
    total = 0.0
    for names, side in ((reversed(before), "end_q"), (after, "begin_q")):
        for name in names:
            here = rests.get(name)
            total += 0.0 if here is None else getattr(here, side)
            if here is None or here.all_q is None:
                break
    return total
