"""What a chart shows of a note: plain rows, worked out by the job and drawn by the sheets."""

from dataclasses import dataclass

from handslide.ground.pitch import Pitch
from handslide.instrument.places import Place

# Half a centimetre is what a player can place the slide to; larger intervals are drawn.
SHOWN_MM = 5.0


@dataclass(frozen=True, slots=True)
class ChartPlace:
    """A place of a note with its mark. One of a note's is ``usual``, one is the ``shortest``.

    ``half_width_mm`` is that of the place's 95 % interval on a fitted horn, None on another.
    """

    place: Place
    mark: str
    usual: bool
    shortest: bool
    half_width_mm: float | None = None

    @property
    def uncertain_mm(self) -> float | None:
        """The half-width where it is large enough to show."""
        wide = self.half_width_mm is not None and self.half_width_mm > SHOWN_MM
        return self.half_width_mm if wide else None


def region_key(midi: int, place: Place | None = None) -> str:
    """What a region of a chart is called: that of a note, or of one of its places."""
    if place is None:
        return str(midi)
    return f"{midi}:{'+'.join(place.valves)}:{place.partial}"


@dataclass(frozen=True, slots=True)
class ChartNote:
    """A note as it sounds, its name for the reader, and its places, best first.

    ``other`` is its other name, a sharp for a flat, empty for notes without a sign.
    """

    pitch: Pitch
    name: str
    places: tuple[ChartPlace, ...]
    other: str = ""

    @property
    def both(self) -> str:
        """Both names: ``E♭3/D♯3``."""
        return both_names(self.name, self.other)


def both_names(name: str, other: str) -> str:
    """Two names of one note: ``E♭3/D♯3``; the first where there is no other."""
    return f"{name}/{other}" if other else name
