"""A part engraved in one long line, with the place of each note along it."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from lxml import etree

from handslide.edges.engraving.engrave import Notated, engrave_part
from handslide.edges.engraving.marks import head_centre, ordinal_of, staff_lines
from handslide.edges.engraving.pages import measure_system
from handslide.edges.engraving.shapes import SVG, Glyphs, is_kind
from handslide.edges.engraving.values import OVERHANG_MM, Paper
from handslide.ground.facts import Fact

_WIDE_MM = 9000.0  # no measure is so wide that it would be split
_ENDS_MM = 3.0


@dataclass(frozen=True, slots=True)
class Strip:
    """One line of music, ``width_mm`` by ``height_mm``, as SVG.

    ``heads_mm`` are the middles of the note heads from the left edge, by ordinal; ``staff_mm`` are
    the top and the bottom line of the staff from the top edge.
    """

    svg: str
    width_mm: float
    height_mm: float
    heads_mm: Mapping[int, float]
    staff_mm: tuple[float, float]
    warnings: tuple[Fact, ...] = ()


def engrave_strip(
    score: Notated,
    part_id: str,
    marks: Mapping[int, str],
    *,
    staff: str | None = None,
    hidden: Collection[tuple[int, str]] = (),
    mark_pt: float = 12.0,
    below: tuple[str, Mapping[int, str]] | None = None,
) -> Strip:
    """The part in one line; arguments and errors as those of `engrave_part`."""
    paper = Paper(
        "strip", _WIDE_MM, 1.0,
        side_mm=0.0, top_mm=0.0, foot_mm=0.0, title_mm=0.0, hang_mm=0.0, one_line=True,
    )  # fmt: skip
    engraving = engrave_part(
        score, part_id, marks, paper, staff=staff, hidden=hidden, mark_pt=mark_pt, below=below
    )
    (page,) = engraving.pages
    root = etree.fromstring(page.encode())
    glyphs = Glyphs(root)
    group = next(one for one in root.iter(f"{SVG}g") if is_kind(one, "system"))
    system = measure_system(group, glyphs)
    assert system is not None  # a page without ink is none
    group.set("data-ink", f"{system.box.top:.0f} {system.box.bottom:.0f}")
    down = float((group.getparent().get("transform") or "0, 0").split(", ")[1].rstrip(")"))
    box, lines = system.box.moved(down), staff_lines(group)
    left, top = box.left - 100 * _ENDS_MM, box.top - 100 * OVERHANG_MM
    width, height = box.right + 100 * _ENDS_MM - left, box.bottom + 100 * OVERHANG_MM - top
    heads = {
        ordinal_of(note.get("id", "")): (centre - left) / 100
        for note in root.iter(f"{SVG}g")
        if is_kind(note, "note") and (centre := head_centre(note, glyphs)) is not None
    }
    root.set("viewBox", f"{left:.0f} {top:.0f} {width:.0f} {height:.0f}")
    root.set("width", f"{width / 100:.2f}mm")
    root.set("height", f"{height / 100:.2f}mm")
    return Strip(
        etree.tostring(root, encoding="unicode"),
        width / 100,
        height / 100,
        heads,
        ((lines[0] + down - top) / 100, (lines[-1] + down - top) / 100),
        engraving.warnings,
    )
