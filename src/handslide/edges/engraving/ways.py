"""A few measures engraved once and shown twice: two ways to play them, in marks alone different.

Each line of music is a picture of its own, with the places of its notes, so that something can be
drawn along it.
"""

import copy
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from lxml import etree

from handslide.edges.engraving.engrave import Notated, engrave_part
from handslide.edges.engraving.marks import ROW_EM, head_centre, ordinal_of
from handslide.edges.engraving.pages import measure_system
from handslide.edges.engraving.shapes import HREF, SVG, Box, Glyphs, is_kind
from handslide.edges.engraving.values import OVERHANG_MM, Paper

HANG_MM = 3.0
_LOWER, _UPPER = "mark", "mark second"
# Marks of notes that both ways have alike are paler.
_PALE = "0.55"


@dataclass(frozen=True, slots=True)
class WayLine:
    """One line of music, ``width_mm`` by ``height_mm``, as an SVG for each way.

    ``heads_mm`` are the middles of the note heads from the left edge, by ordinal.
    """

    svgs: tuple[str, str]
    width_mm: float
    height_mm: float
    heads_mm: Mapping[int, float]


def engrave_ways(
    score: Notated,
    part_id: str,
    first: Mapping[int, str],
    second: Mapping[int, str],
    width_mm: float,
    *,
    alike: Collection[int] = (),
    staff: str | None = None,
    hidden: Collection[tuple[int, str]] = (),
) -> tuple[WayLine, ...]:
    """The lines of ``score``, with the marks ``first`` and, beside that, with those of ``second``.

    Both ways have the same layout. ``alike`` are the notes whose marks are to be paler; ordinals,
    ``staff`` and ``hidden`` are as for `engrave_part`. Raises ScoreError.
    """
    # On pages that hold nothing each line has a page of its own.
    paper = Paper(
        "ways", width_mm - 2 * HANG_MM, 1.0,
        side_mm=0.0, top_mm=0.0, foot_mm=0.0, title_mm=0.0, hang_mm=HANG_MM, fill_from=0.6,
    )  # fmt: skip
    engraving = engrave_part(
        score, part_id, first, paper, staff=staff, second=second, hidden=hidden
    )
    return tuple(_line(page, frozenset(alike), width_mm) for page in engraving.pages)


def _line(page: str, alike: frozenset[int], width_mm: float) -> WayLine:
    root = etree.fromstring(page.encode())
    glyphs = Glyphs(root)
    heads = {}
    for group in root.iter(f"{SVG}g"):
        ordinal = ordinal_of(group.get("id", ""))
        centre = head_centre(group, glyphs) if is_kind(group, "note") else None
        if centre is not None:
            heads[ordinal] = centre / 100 + HANG_MM
    both = [_way(root, kind, alike) for kind in (_LOWER, _UPPER)]
    # Where there was room for two rows there is one now, and a short line ends with its music.
    boxes = [_ink(way, glyphs) for way in both]
    left, over = HANG_MM * 100, OVERHANG_MM * 100
    top, bottom = min(box.top for box in boxes) - over, max(box.bottom for box in boxes) + over
    width = min(width_mm * 100, max(box.right for box in boxes) + 2 * left)
    for way, name in zip(both, "ab"):
        way.set("viewBox", f"{-left:.0f} {top:.0f} {width:.0f} {bottom - top:.0f}")
        way.set("width", f"{width / 100:.2f}mm")
        way.set("height", f"{(bottom - top) / 100:.2f}mm")
        _rename(way, name)
    svgs = [etree.tostring(way, encoding="unicode") for way in both]
    return WayLine((svgs[0], svgs[1]), width / 100, (bottom - top) / 100, heads)


def _way(root: etree._Element, kind: str, alike: frozenset[int]) -> etree._Element:
    """The line with one row of marks only, in the place of the lower row."""
    way = copy.deepcopy(root)
    for text in list(way.iter(f"{SVG}text")):
        if text.get("class") not in (_LOWER, _UPPER):
            continue
        if text.get("class") != kind:
            text.getparent().remove(text)
            continue
        if kind == _UPPER:
            size = float(text.get("font-size", "").removesuffix("px"))
            text.set("y", f"{float(text.get('y', '0')) + ROW_EM * size:.0f}")
            text.set("class", _LOWER)
        if ordinal_of(text.get("data-note", "")) in alike:
            text.set("fill-opacity", _PALE)
    return way


def _ink(way: etree._Element, glyphs: Glyphs) -> Box:
    """The box of all that is drawn."""
    group = next(one for one in way.iter(f"{SVG}g") if is_kind(one, "system"))
    down = float((group.getparent().get("transform") or "0, 0").split(", ")[1].rstrip(")"))
    system = measure_system(group, glyphs)
    assert system is not None  # a page without ink is none
    return system.box.moved(down)


def _rename(way: etree._Element, name: str) -> None:
    """Give what is defined a name of this way's own, and notes none: both stand on one page."""
    defined = {symbol for defs in way.iter(f"{SVG}defs") for symbol in defs}
    for element in way.iter(f"{SVG}*"):
        if element in defined:
            element.set("id", f"{name}-{element.get('id')}")
        elif element.get(HREF):
            element.set(HREF, f"#{name}-{element.get(HREF, '')[1:]}")
        elif element.get("id"):
            if is_kind(element, "note"):
                element.set("data-note", element.get("id", ""))
            del element.attrib["id"]
