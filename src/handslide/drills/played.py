"""Whether an exercise is in what was played."""

from collections.abc import Sequence

# So much of an exercise may be wrong, missing or too much, and it still was that exercise.
MOST_WRONG = 0.25
_LEAST_NOTES = 4


def is_played(wanted: Sequence[int], heard: Sequence[int]) -> bool:
    """Whether MIDI notes stand in those that were heard, one after the other, with few mistakes.

    The least number of notes to change, leave out or put in so that ``wanted`` becomes some stretch
    of ``heard`` (Sellers, Journal of Algorithms 1, 1980), against a quarter of its notes. Fewer
    than four notes say nothing.
    """
    if len(wanted) < _LEAST_NOTES:
        return False
    most = int(MOST_WRONG * len(wanted))
    before = list(range(len(wanted) + 1))
    for note in heard:
        now = [0]
        for k, want in enumerate(wanted):
            now.append(min(before[k] + (note != want), before[k + 1] + 1, now[k] + 1))
        if now[-1] <= most:
            return True
        before = now
    return False
