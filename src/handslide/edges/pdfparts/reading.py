"""What was read from a part's pages."""

import hashlib
from dataclasses import dataclass, field
from fractions import Fraction

from handslide.ground.facts import Fact


@dataclass(frozen=True, slots=True)
class Spot:
    """Where something stands: 1-based page, system on the page, bar in the system, and item in the
    bar. Bar and item are 0 where the whole system is meant. Corrections are kept by it."""

    page: int
    system: int
    bar: int = 0
    item: int = 0


@dataclass(frozen=True, slots=True)
class ReadNote:
    """A head, or a rest (``step`` is None), in reading order.

    ``step`` 0 is C; ``octave`` as in scientific pitch notation; both as written, octave lines and
    clefs counted. ``x``, ``y`` are the middle of the head in seen points, ``left`` and ``right``
    its edges. ``onset`` and ``length`` are in quarters from the bar's beginning; a grace note's
    length is 0. ``actual`` in the time of ``normal`` is its tuplet. ``kind`` is the denominator of
    its note value (4: a quarter; 0: double whole).
    """

    spot: Spot
    measure: int
    """0-based place of its bar in the part."""
    x: float
    y: float
    left: float
    right: float
    step: int | None
    octave: int
    alter: int
    shown: bool
    """An accidental stands before it."""
    kind: int
    dots: int
    actual: int
    normal: int
    onset: Fraction
    length: Fraction
    voice: int
    chord: bool
    grace: bool
    cue: bool
    tie_to: bool
    """Tied to the next of its pitch."""
    tie_from: bool
    slur_start: int
    slur_stop: int
    gliss_to: bool
    beams: int
    stem_up: bool | None
    doubts: tuple[Fact, ...] = ()
    corrected: bool = False


@dataclass(frozen=True, slots=True)
class Change:
    """A clef, key, meter or tempo from a bar's onset on.

    ``kind``: clef (value such as ``F4``, ``C4``, ``C3``, ``G2``, with ``8b`` or ``8a`` after it),
    key (``-3``), meter (``4/4``), tempo (``96`` quarters a minute), words, dynamic, rehearsal,
    octave.
    """

    measure: int
    onset: Fraction
    kind: str
    value: str
    spot: Spot
    doubts: tuple[Fact, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadMeasure:
    """A bar: where it stands, what should fill it and what does."""

    spot: Spot
    x0: float
    x1: float
    number: str
    meter: Fraction
    """Quarters that the time signature asks."""
    filled: Fraction
    repeat_start: bool = False
    repeat_end: bool = False
    ending: str = ""
    final: bool = False
    double: bool = False
    rests: int = 1
    """Bars that it stands for."""
    jumps: tuple[str, ...] = ()
    """``segno``, ``coda``, ``fine``, ``dacapo``, ``dalsegno``, ``tocoda``, ``dacapo-fine`` …"""


@dataclass(frozen=True, slots=True)
class ReadStaff:
    """A staff of the part: its box in seen points and what is in force at its beginning."""

    page: int
    system: int
    x0: float
    x1: float
    bottom: float
    space: float
    clef: str
    key: int
    sure_clef: bool


def sign_name(mark: str) -> str:
    """What a shape is called, by its mark."""
    return hashlib.sha256(mark.encode()).hexdigest()[:6]


@dataclass(frozen=True, slots=True)
class UnknownSign:
    """A shape that nobody knows: asked once, known by its ``mark`` (of the outline, not of the
    file)."""

    mark: str
    count: int
    spot: Spot
    width_spaces: float
    height_spaces: float
    guess: str
    polygons: tuple[tuple[tuple[float, float], ...], ...] = field(repr=False)
    """In staff spaces, to show it."""

    @property
    def name(self) -> str:
        """Six signs to call it by, since nobody types a mark."""
        return sign_name(self.mark)


@dataclass(frozen=True, slots=True)
class PdfReading:
    """A part as read: measures in order, notes and changes in reading order, and every doubt."""

    title: str
    composer: str
    part_name: str
    measures: tuple[ReadMeasure, ...]
    notes: tuple[ReadNote, ...]
    changes: tuple[Change, ...]
    staves: tuple[ReadStaff, ...]
    unknown: tuple[UnknownSign, ...]
    warnings: tuple[tuple[Spot, Fact], ...]
    """About no single note: odd keys, bar sums, stems without heads."""
    staves_in_system: int = 1
    staff_names: tuple[str, ...] = ()
    tagged: bool = False
    pdfa: str = ""


@dataclass(frozen=True, slots=True)
class Corrections:
    """What a person says instead. By spot: a clef, a key, or a note's pitch (``""``: no note).
    ``signs``: the kind of a shape by its mark. ``staff``: which one of a full score's, from 1."""

    clefs: tuple[tuple[Spot, str], ...] = ()
    keys: tuple[tuple[Spot, int], ...] = ()
    notes: tuple[tuple[Spot, str], ...] = ()
    signs: tuple[tuple[str, str], ...] = ()
    staff: int | None = None
