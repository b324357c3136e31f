"""The papers that sheets are printed on."""

from collections.abc import Mapping
from dataclasses import dataclass

from handslide.ground.errors import BadUsage


@dataclass(frozen=True, slots=True)
class PaperSize:
    """A paper as it lies in the printer: width and height in mm, upright.

    ``enlarged``: how much larger what is drawn on it is than on the paper of its kind for a stand.
    """

    name: str
    width_mm: float
    height_mm: float
    enlarged: float = 1.0


PAPERS: Mapping[str, PaperSize] = {
    paper.name: paper
    for paper in (
        PaperSize("a4", 210.0, 297.0),  # ISO 216
        PaperSize("letter", 215.9, 279.4),  # ANSI Y14.1: 8.5 by 11 inches
    )
}
WALL_PAPERS: Mapping[str, PaperSize] = {
    paper.name: paper
    for paper in (
        PaperSize("a3", 297.0, 420.0, 297.0 / 210.0),  # ISO 216
        PaperSize("a2", 420.0, 594.0, 2.0),  # ISO 216
        PaperSize("tabloid", 279.4, 431.8, 279.4 / 215.9),  # ANSI Y14.1, size B: 11 by 17 inches
    )
}
"""Papers for a wall: charts are drawn on them, music isn't."""
CHART_PAPERS: Mapping[str, PaperSize] = {**PAPERS, **WALL_PAPERS}
DEFAULT_PAPER = "a4"


def paper_size(name: str) -> PaperSize:
    """The paper of a name that music is printed on. Raises BadUsage."""
    return _named(PAPERS, name)


def chart_paper(name: str) -> PaperSize:
    """The paper of a name that a chart is drawn on. Raises BadUsage."""
    return _named(CHART_PAPERS, name)


def _named(papers: Mapping[str, PaperSize], name: str) -> PaperSize:
    if name not in papers:
        raise BadUsage("usage.paper", name=name, known=tuple(papers))
    return papers[name]
