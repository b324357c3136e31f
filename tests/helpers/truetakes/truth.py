"""What is known of a take that was made.

Conventions: seconds from the start of the take; Hz; cents; levels in dB re full scale (RMS). An
onset is where the note's own envelope has risen to half its amplitude, an offset where it has
fallen to half; between slurred notes both are where the pitch is half-way; of a note that is
tongued anew without a gap the onset is the middle of the rise out of the dip.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TrueNote:
    """A note that sounds in a take.

    ``how`` it begins: ``tongued``, ``slurred``, ``retongued`` (a dip, no gap) or ``smeared`` (the
    slide is heard). ``exact``: the pitch is known exactly (else as outside trackers agree on the
    recording, or as a recorded tone wanders). ``optional``: it may be heard or left out, and
    ``also_hz`` are other pitches that it may be heard as. ``transit_s`` is the time from 10 to 90 %
    of the way of a slur, ``dip_db`` how far the level sinks between the two notes; ``beat_s`` where
    the note is written and ``late_s`` how much later it was played. ``scoop_cents`` is where the
    attack begins beside the pitch, ``cracked`` whether another partial speaks first; ``sag_cents``
    and ``sag_db`` are how far pitch and level sink from begin to end.
    """

    onset_s: float
    offset_s: float
    hz: float
    how: str = "tongued"
    exact: bool = True
    optional: bool = False
    also_hz: tuple[float, ...] = ()
    level_db: float = -20.0
    vibrato_hz: float | None = None
    vibrato_cents: float | None = None
    transit_s: float | None = None
    dip_db: float | None = None
    beat_s: float | None = None
    late_s: float = 0.0
    dynamic: str | None = None
    scoop_cents: float = 0.0
    cracked: bool = False
    sag_cents: float = 0.0
    sag_db: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class TrueTake:
    """A take: ``samples`` (n,) mono or (n, 2) stereo; ``kept`` takes are not to be tuned on.

    ``made_of`` is ``tones`` or ``recordings``; ``facts`` is what else is known of the whole.
    """

    kind: str
    number: int
    kept: bool
    made_of: str
    samples: Floats
    rate_hz: float
    notes: tuple[TrueNote, ...]
    facts: dict[str, float]

    @property
    def name(self) -> str:
        return f"{self.kind}-{'kept' if self.kept else 'open'}-{self.number}"

    @property
    def length_s(self) -> float:
        return len(self.samples) / self.rate_hz
