"""What goes to the engraver and what comes from it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from handslide.edges.engraving.turns import MeasureRests
from handslide.ground.facts import Fact

NOTE_ID = "hs-n"
LOOSE_DISTANCE = 2700.0  # between staves on a last page that isn't full, in hundredths of a mm
OVERHANG_MM = 1.0  # of each page picture above and below its music: texts are measured roughly


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper and the column that the music takes on it, in mm."""

    name: str
    width_mm: float
    height_mm: float

    side_mm: float = 14.0
    top_mm: float = 17.0
    foot_mm: float = 19.0
    title_mm: float = 25.0
    hang_mm: float = 4.0  # of each page picture beyond the column, for numbers and late marks
    fill_from: float = 0.7  # a last line at least so full is stretched to the column
    even_lines: bool = False  # a short last line takes measures from those before
    loose_mm: float = LOOSE_DISTANCE / 100  # between staves on a last page that isn't full
    one_line: bool = False  # the music has one line, as wide as it is

    @property
    def music_width_mm(self) -> float:
        """Width of the music column."""
        return self.width_mm - 2 * self.side_mm

    @property
    def music_height_mm(self) -> float:
        """Height of the music column on a page with a running head."""
        return self.height_mm - self.top_mm - self.foot_mm

    @property
    def first_height_mm(self) -> float:
        """Height of the music column on the first page, under the title."""
        return self.music_height_mm - self.title_mm


@dataclass(frozen=True, slots=True)
class Engraving:
    """SVG pages of a part, and what went wrong."""

    pages: tuple[str, ...]
    warnings: tuple[Fact, ...] = ()


class Piece(NamedTuple):
    """An SVG of some lines of an endless page; ``more``: others follow below."""

    svg: str
    more: bool


@dataclass(frozen=True, slots=True)
class EngravingCopy:
    """UTF-8 MusicXML for the engraver, and the ordinals of the notes that it should draw.

    Each ``<note>`` has the id ``hs-n<ordinal>``. ``movements`` are the ids of the measures with
    which movements begin, ``rests`` the rests of each measure. ``players``: how many parts.
    """

    document: bytes
    drawn: frozenset[int]
    graces: frozenset[int]
    movements: frozenset[str] = frozenset()
    rests: Mapping[str, MeasureRests] = field(default_factory=dict)
    players: int = 1
