"""What is found on a staff, while it is put together: heads, stems, rests, chords, bars.

A *place* counts half spaces upwards from the lowest line; a *step* counts letters above C0.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from handslide.edges.pdfparts.forms import Arc, Line, Shape, Slab, Slant, Upright
from handslide.edges.pdfparts.items import Item, Unknown
from handslide.edges.pdfparts.staves import Staff
from handslide.ground.facts import Fact

_MOST_BEAMS = 6
"""Those of a 256th: no printed note has more."""
_BASES = {"head.whole": Fraction(4), "head.half": Fraction(2), "head.double": Fraction(8)}


@dataclass(slots=True, eq=False)
class Stem:
    """An upright with heads at it. ``beams`` are beams or flags; ``slabs`` its beams as drawn."""

    x: float
    y0: float
    y1: float
    up: bool
    heads: list["Head"]
    beams: int = 0
    slabs: list[Slab] = field(default_factory=list)

    @property
    def tip(self) -> float:
        """The height of its free end."""
        return self.y1 if self.up else self.y0


@dataclass(slots=True, eq=False)
class Head:
    """A note head. ``sign`` is the alteration of the accidental before it, None without one."""

    kind: str
    x: float
    right: float
    y: float
    place: int
    small: bool
    doubts: list[Fact] = field(default_factory=list)
    stem: Stem | None = None
    dots: int = 0
    sign: int | None = None
    octaves: int = 0
    step: int = 0
    alter: int = 0
    tie_to: "Head | None" = None
    tie_from: "Head | None" = None
    corrected: bool = False

    @property
    def middle(self) -> float:
        """The x of its middle."""
        return (self.x + self.right) / 2


@dataclass(slots=True, eq=False)
class Rest:
    """A rest of ``value``: 1 whole, 2 half, 4 quarter…; 0 a double whole."""

    x: float
    right: float
    y: float
    value: int
    dots: int = 0
    sure: bool = True
    small: bool = False


@dataclass(slots=True, eq=False)
class Event:
    """A chord or rest in time. ``actual`` in the time of ``normal``: its tuplet."""

    x: float
    right: float
    heads: list[Head] = field(default_factory=list)
    rest: Rest | None = None
    actual: int = 1
    normal: int = 1
    grace: bool = False
    cue: bool = False
    voice: int = 1
    onset: Fraction = Fraction(0)
    length: Fraction = Fraction(0)
    whole_bar: bool = False
    slur_starts: int = 0
    slur_stops: int = 0
    gliss: bool = False

    @property
    def stem(self) -> Stem | None:
        """That of its heads."""
        return next((head.stem for head in self.heads if head.stem is not None), None)

    @property
    def up(self) -> bool | None:
        """Whether the stem points upwards; None without one."""
        return None if self.stem is None else self.stem.up

    @property
    def y(self) -> float:
        """Its middle height."""
        if self.rest is not None:
            return self.rest.y
        return sum(head.y for head in self.heads) / len(self.heads)

    @property
    def small(self) -> bool:
        """Of grace or cue size."""
        return self.rest.small if self.rest is not None else all(h.small for h in self.heads)

    @property
    def dots(self) -> int:
        """Augmentation dots."""
        return self.rest.dots if self.rest is not None else max(h.dots for h in self.heads)

    @property
    def value(self) -> int:
        """The denominator of its note value; 0 for a double whole."""
        if self.rest is not None:
            return self.rest.value
        base = max(_BASES.get(head.kind, Fraction(1)) for head in self.heads)
        if base > 1:
            return 0 if base == 8 else int(4 / base)
        return 4 << (min(self.stem.beams, _MOST_BEAMS) if self.stem is not None else 0)

    @property
    def nominal(self) -> Fraction:
        """Quarters of its value and dots, tuplets not counted."""
        base = Fraction(8) if self.value == 0 else Fraction(4, self.value)
        return base * (2 - Fraction(1, 2**self.dots))


@dataclass(frozen=True, slots=True, eq=False)
class TupletGroup:
    """What a number over notes may mean: the events that it joins, and how unlikely that is."""

    events: tuple[Event, ...]
    actual: int
    normal: int
    cost: float

    @property
    def shortens(self) -> Fraction:
        """Quarters by which it is shorter than its values."""
        total = sum((event.nominal for event in self.events), Fraction(0))
        return total * (self.actual - self.normal) / self.actual


@dataclass(slots=True)
class Bar:
    """What stands between two barlines of a staff."""

    x0: float
    x1: float
    events: list[Event] = field(default_factory=list)
    tuplets: list[TupletGroup] = field(default_factory=list)
    rests: int = 1
    repeat_start: bool = False
    repeat_end: bool = False
    double: bool = False
    final: bool = False
    ending: str = ""
    open: bool = False
    """No barline ends it: it goes on in the next system."""
    jumps: list[str] = field(default_factory=list)


@dataclass(slots=True, eq=False)
class Accidental:
    """An accidental; its place is that of the note or letter that it alters."""

    alter: int
    x: float
    right: float
    place: int
    sure: bool
    small: bool


@dataclass(slots=True, eq=False)
class StaffInk:
    """All that belongs to one staff of a page."""

    staff: Staff
    page: int
    system: int
    lowest: float
    highest: float
    """The lowest and highest line of its system."""
    items: list[Item] = field(default_factory=list)
    unknown: list[Unknown] = field(default_factory=list)
    asked: list[Unknown] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    uprights: list[Upright] = field(default_factory=list)
    slabs: list[Slab] = field(default_factory=list)
    slants: list[Slant] = field(default_factory=list)
    arcs: list[Arc] = field(default_factory=list)
    hooks: list[Shape] = field(default_factory=list)
    """Slender curved shapes, too short for bows."""

    def of(self, *families: str) -> Iterable[Item]:
        """The items whose kind begins with one of these words."""
        return (item for item in self.items if item.family in families)
