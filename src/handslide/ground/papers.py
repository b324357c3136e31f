"""The papers that sheets are printed on."""

from collections.abc import Mapping
from dataclasses import dataclass

from handslide.ground.errors import BadUsage


@dataclass(frozen=True, slots=True)
class PaperSize:
    """A paper as it lies in the printer: width and height in mm, upright."""

    name: str
    width_mm: float
    height_mm: float


PAPERS: Mapping[str, PaperSize] = {
    paper.name: paper
    for paper in (
        PaperSize("a4", 210.0, 297.0),  # ISO 216
        PaperSize("letter", 215.9, 279.4),  # ANSI Y14.1: 8.5 by 11 inches
    )
}
DEFAULT_PAPER = "a4"


def paper_size(name: str) -> PaperSize:
    """The paper of a name. Raises BadUsage."""
    if name not in PAPERS:
        raise BadUsage("usage.paper", name=name, known=tuple(PAPERS))
    return PAPERS[name]
