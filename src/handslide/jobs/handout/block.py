"""What every kind of block of a hand-out is made of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from handslide.edges.htmlfile.page import HtmlBlock
from handslide.ground.facts import Fact
from handslide.jobs.setup import Setup


@dataclass(frozen=True, slots=True)
class HandoutBlock:
    """A block, whose horn it is for, and the glyphs that its drawings use.

    ``count`` notes and ``length_s`` seconds are in it, of a part the ``measures`` from one to
    another, from 0; ``told`` is what should be known of it.
    """

    html: HtmlBlock
    setup: Setup
    glyphs: Mapping[str, str] = field(default_factory=dict)
    count: int = 0
    length_s: float = 0.0
    told: Sequence[Fact] = ()
    measures: tuple[int, int] = (0, 0)
