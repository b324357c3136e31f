"""Where the slide is at any time of a line: minimum-jerk moves in the time that the notes leave.

A move is over when its note begins, and begins no sooner than the note before it; what the route
gives it (`handslide.instrument.effort.timing`) is short under a slur, whose tones leave no gap. A
glissando takes the last `GLIDE` of its note instead, for it is meant to be heard. A note that can't
be played moves nothing. The page's ``motion.js`` has the same rules; a test compares both.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.ground.minimumjerk import minimum_jerk

Floats = NDArray[np.float64]

GLIDE = 0.7
"""Share of its length in which a glissando moves."""
USUAL_MOVE_S = 0.25
"""For a move that the route says nothing of: to the first note after one that can't be played."""
TOUCHING_S = 0.03
"""Notes with less than this between them are not parted by a rest."""


@dataclass(frozen=True, slots=True, eq=False)
class SlideMotion:
    """The moves of a line as columns, one for each note but the first; ``first_m`` is before them.

    Each goes from ``from_m`` at ``begin_s`` to ``to_m`` at ``end_s``.
    """

    first_m: float
    begin_s: Floats
    end_s: Floats
    from_m: Floats
    to_m: Floats

    def at(self, time_s: Sequence[float] | Floats) -> Floats:
        """How far the slide is out at these times, in m, shape (n,)."""
        time = np.asarray(time_s, np.float64)
        if not len(self.begin_s):
            return np.full(len(time), self.first_m)
        move = np.searchsorted(self.begin_s, time, side="right") - 1
        begin, end = self.begin_s[move], self.end_s[move]
        share = np.clip((time - begin) / np.maximum(end - begin, 1e-9), 0.0, 1.0)
        way: Floats = minimum_jerk(share) * (self.to_m[move] - self.from_m[move])
        return np.where(move < 0, self.first_m, self.from_m[move] + way)


def slide_motion(
    onset_s: Sequence[float],
    length_s: Sequence[float],
    extension_m: Sequence[float],
    move_s: Sequence[float],
    gliss: Sequence[bool],
) -> SlideMotion:
    """The motion of a line of notes in playing order, one value of each column for each note.

    ``extension_m`` is NaN for a note that can't be played; ``move_s`` is the time that the slide
    has to come to a note, NaN where it isn't known. ``gliss``: it glides to the next note.
    """
    onset, length, place, move = (
        np.asarray(column, np.float64) for column in (onset_s, length_s, extension_m, move_s)
    )
    known = np.flatnonzero(~np.isnan(place))
    if not len(known):
        place, known = np.zeros(len(place)), np.arange(len(place))
    # Where the slide is at each note: the last place there was, at the start the first to come.
    last = np.searchsorted(known, np.arange(len(place)), side="right") - 1
    here = place[known[np.maximum(last, 0)]] if len(known) else np.zeros(1)
    most = np.diff(onset)
    own = np.where(np.isnan(move[1:]), USUAL_MOVE_S, move[1:])
    touches = onset[1:] - (onset + length)[:-1] < TOUCHING_S
    glides = np.asarray(gliss, np.bool_)[:-1] & touches
    takes = np.where(glides, GLIDE * most, np.minimum(most, own))
    return SlideMotion(float(here[0]), onset[1:] - takes, onset[1:], here[:-1], here[1:])
