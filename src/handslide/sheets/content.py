"""What a chart shows of a note: plain rows, worked out by the job and drawn by the sheets."""

from dataclasses import dataclass

from handslide.ground.pitch import Pitch
from handslide.instrument.places import Place


@dataclass(frozen=True, slots=True)
class ChartPlace:
    """A place of a note with its mark. One of a note's is ``usual``, one is the ``shortest``."""

    place: Place
    mark: str
    usual: bool
    shortest: bool


@dataclass(frozen=True, slots=True)
class ChartNote:
    """A note as it sounds, its name for the reader, and its places, best first."""

    pitch: Pitch
    name: str
    places: tuple[ChartPlace, ...]
