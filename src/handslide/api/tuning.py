"""Which tuning slide to move, which way and how far."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handslide.api.arrays import column, finite
from handslide.api.horns import Horn, engaged_on
from handslide.api.notes import read_notes
from handslide.api.telling import tell
from handslide.ground.errors import BadData, BadUsage
from handslide.ground.facts import Fact
from handslide.instrument.tuning import DEFAULT_SE_CENTS
from handslide.jobs.tune.takes import Heard
from handslide.jobs.tune.tune import NoteHeard, TuneResult, tune_by_notes, tune_pair


@dataclass(frozen=True, slots=True)
class Tuning:
    """What to do with one tuning slide.

    ``slide`` is ``main`` or the valve whose loop it is. ``difference_cents`` is how far the notes
    sound above their target. The slide is to go ``pull_mm`` in the ``direction`` ``out``, ``in`` or
    ``none``: out makes flatter. ``se_cents`` and ``pull_se_mm`` are standard errors. ``matters``:
    listeners can hear it. ``facts`` say all that there is to say.
    """

    slide: str
    difference_cents: float
    se_cents: float
    pull_mm: float
    pull_se_mm: float
    direction: str
    matters: bool
    facts: tuple[Fact, ...]

    @property
    def text(self) -> str:
        """The advice in the user's language, a line a fact."""
        return "\n".join(map(tell, self.facts))


def tune(
    frequency_hz: ArrayLike,
    horn: Horn,
    *,
    note: str | Sequence[str] | None = None,
    open_hz: float | None = None,
    valves: str = "",
    se_cents: float = DEFAULT_SE_CENTS,
    play_temp_c: float | None = None,
) -> Tuning:
    """Tuning advice from notes of the closed slide.

    The tube must grow by ΔL = L·(2^(Δ/1200) − 1), and a tuning slide has two legs: pull = ΔL/2.

    Parameters
    ----------
    frequency_hz
        What sounded: one, or (R,) with as many notes.
    horn
        From :func:`handslide.horn`; its air counts.
    note
        What was meant, against A4: without valves for the main slide, with them for their loop.
    open_hz
        Instead: the same note without the valves, for the loop. Tune the main slide first.
    valves
        What was engaged, such as ``"F"`` or ``"F+Gb"``.
    se_cents
        Standard error of each frequency, cents.
    play_temp_c
        For the main slide: the air inside the horn later; it will rise by itself till then.

    Raises
    ------
    HandslideError
        Frequencies that aren't those notes, or no notes of the closed slide; what doesn't go
        together.

    Examples
    --------
    >>> import handslide as hs
    >>> advice = hs.tune(235.0, hs.horn("tenor-f"), note="Bb3")
    >>> advice.slide, round(advice.difference_cents, 1), round(advice.pull_mm, 1), advice.direction
    ('main', 14.2, 12.2, 'out')
    >>> hs.tune(174.9, hs.horn("tenor-f"), open_hz=174.2, valves="F").slide
    'F'
    """
    engaged = engaged_on(horn, valves)
    if (note is None) == (open_hz is None):
        raise BadUsage("api.either", names=("note", "open_hz"))
    if play_temp_c is not None and engaged:
        raise BadUsage("api.main_only", name="play_temp_c")
    heard = np.atleast_1d(np.asarray(frequency_hz, np.float64))
    finite("frequency_hz", heard)
    tuned = horn._setup.horn
    if note is not None:
        pitches = read_notes([note] if isinstance(note, str) else note, "midi", horn.a4_hz)
        if heard.shape != (len(pitches),):
            wanted = f"({len(pitches)},)"
            raise BadData("api.shape", name="frequency_hz", shape=str(heard.shape), wanted=wanted)
        errors = column("se_cents", se_cents, len(pitches)).tolist()
        rows = [
            NoteHeard(pitch, Heard(hz, se))
            for pitch, hz, se in zip(pitches, heard.tolist(), errors)
        ]
        return _given(tune_by_notes(tuned, rows, engaged, play_temp_c=play_temp_c))
    if not engaged:
        raise BadUsage("api.valves_wanted")
    if heard.shape != (1,):
        raise BadData("api.shape", name="frequency_hz", shape=str(heard.shape), wanted="()")
    assert open_hz is not None
    pair = tune_pair(tuned, float(open_hz), float(heard[0]), engaged, (se_cents, se_cents))
    return _given(pair)


def _given(result: TuneResult) -> Tuning:
    return Tuning(
        result.slide,
        result.difference_cents,
        result.se_cents,
        result.pull_mm,
        result.pull_se_mm,
        result.direction,
        result.matters,
        result.facts,
    )
