"""A metronome's clicks as the beat: how late notes are against what was heard.

The clicks lie on a straight line. Beside a part the tempo of the notes says how long a click is in
it, the notes that stand on beats say where in the beat the clicks fall: a player is less than half
a beat off. Without a part a note belongs to the nearest of the clicks' even parts, the coarsest
that the notes keep to. What keeps to no click has none. Own method.

Conventions: times in seconds; the asynchronies of `handslide.sound.rhythm`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.sound.metronome import Beep

Floats = NDArray[np.float64]

LEAST_CLICKS = 3
_BEATS = (1 / 3, 1 / 2, 1.0, 3 / 2, 2.0, 3.0, 4.0)  # a click in beats of the part
_TEMPO_REACH = 0.12
_HEARD_SHARE = 0.6  # of the clicks, and of the notes that have some: not of a count-in alone
_PARTS = (1, 2, 3, 4)
_KEEPS_TO, _MOST_PERCENT = 0.2, 80.0  # of the time between places


@dataclass(frozen=True, slots=True)
class Clicks:
    """The line of a metronome's clicks: one at ``first_s``, ``every_s`` apart, to ``last_s``."""

    first_s: float
    every_s: float
    last_s: float


def clicks_of(beeps: Sequence[Beep]) -> Clicks | None:
    """The line through a metronome's beeps, some of which weren't heard; None for too few.

    It ends with the last beep up to which most of them were.
    """
    moments = {beep.beat: beep.at_s for beep in beeps}
    beats = np.array(sorted(moments))
    if len(beats) < LEAST_CLICKS:
        return None
    at_s = np.array([moments[beat] for beat in beats.tolist()])
    every_s, _ = np.polyfit(beats, at_s, 1)
    share = np.arange(1, len(beats) + 1) / (beats - beats[0] + 1)
    last = int(np.flatnonzero(share >= _HEARD_SHARE)[-1])
    return Clicks(float(at_s[0]), float(every_s), float(at_s[last]))


def late_beside(
    part_s: Floats, take_s: Floats, on_beat: NDArray[np.bool_], beat_s: float, clicks: Clicks
) -> Floats | None:
    """How late notes are in seconds, shape (n,); None where they don't keep to the clicks.

    ``part_s`` and ``take_s`` (n,) are when they stand in the part and when they were played,
    ``beat_s`` is how long a beat of the part is.
    """
    if on_beat.sum() < 2 or not _heard(take_s, clicks):
        return None
    steps = np.diff(part_s[on_beat])
    slopes = np.diff(take_s[on_beat])[steps > 0] / steps[steps > 0]
    if not len(slopes):
        return None
    wanted = clicks.every_s / (np.median(slopes) * beat_s)
    beats = min(_BEATS, key=lambda one: abs(np.log(wanted / one)))
    if abs(np.log(wanted / beats)) > _TEMPO_REACH:
        return None
    tempo = clicks.every_s / (beats * beat_s)
    cell_s = min(clicks.every_s, tempo * beat_s)
    late = take_s - clicks.first_s - tempo * (part_s - _middle(part_s[on_beat], beat_s))
    # To which click a player keeps, only the nearest says: by whole ones all are off alike.
    nearest = _middle(late[on_beat], cell_s)
    late -= np.rint((np.median(late[on_beat]) - nearest) / cell_s) * cell_s
    return late if _keeps(late - nearest, cell_s) else None


def late_alone(take_s: Floats, clicks: Clicks) -> tuple[Floats, NDArray[np.bool_]] | None:
    """How late notes (n,) are in seconds, and which are on a click; None where they keep to none.

    The few that are far from all places, as notes shorter than the others, are NaN.
    """
    if not _heard(take_s, clicks):
        return None
    for parts in _PARTS:
        cell_s = clicks.every_s / parts
        place = (take_s - clicks.first_s) / cell_s
        late = (place - np.rint(place)) * cell_s
        if _keeps(late, cell_s):
            late[np.abs(late) > _KEEPS_TO * cell_s] = np.nan
            return late, np.rint(place) % parts == 0
    return None


def _keeps(late: Floats, cell_s: float) -> bool:
    """Whether most notes lie so near that it is no chance; that has 0.4 of the time between."""
    return bool(np.percentile(np.abs(late), _MOST_PERCENT) < _KEEPS_TO * cell_s)


def _heard(take_s: Floats, clicks: Clicks) -> bool:
    """Whether the clicks go on for most of the notes."""
    return bool(np.mean(take_s < clicks.last_s + 1.5 * clicks.every_s) >= _HEARD_SHARE)


def _middle(values: Floats, turn: float) -> float:
    """The middle of values that repeat after ``turn``: the mean on its circle."""
    return float(np.angle(np.mean(np.exp(2j * np.pi * values / turn))) / (2.0 * np.pi) * turn)
