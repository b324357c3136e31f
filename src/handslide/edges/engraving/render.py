"""The engraver's run (Verovio): an engraving copy with marks, as SVG pages.

Here is all that happens to one part in a child process: the engraver is foreign code, and dies on
some files. Only this module and what it imports is loaded there.
"""

import itertools
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from lxml import etree

from handslide.edges.engraving.breaks import (
    better_starts,
    break_at,
    cut_within,
    lines_of,
    movement_starts,
    widths_of,
)
from handslide.edges.engraving.marks import add_room, place_marks
from handslide.edges.engraving.pages import System, distribute, measure_system
from handslide.edges.engraving.shapes import HREF, SVG, Glyphs, is_kind
from handslide.edges.engraving.turns import rest_at_turn
from handslide.edges.engraving.values import OVERHANG_MM, Engraving, EngravingCopy, Paper
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact, fact

_PT_PER_MM = 72 / 25.4
STAFF_MM = 6.9
_LEAST_TEXT = 300.0  # 8.5 pt: measure numbers and the like
TEXT_FAMILY = "Libertinus Serif"
MUSIC_FONT = "Bravura"  # as the engraver calls it
MUSIC_FAMILY = "Handslide Music"  # the same outlines as a font file, for symbols in texts
_OPTIONS = {
    "pageHeight": 60000,  # one endless column, in 0.1 mm
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageMarginTop": 0,
    "pageMarginBottom": 0,
    "font": MUSIC_FONT,
    "smuflTextFont": "none",
    "header": "none",
    "footer": "none",
    "breaks": "auto",
    "justifyVertically": False,
    "mmOutput": True,
    "svgViewBox": True,
    "xmlIdChecksum": True,
    "lyricWordSpace": 2.4,  # the text face is wider than the engraver thinks
    "lyricTopMinMargin": 3.0,  # nor does an ascender touch a beam
}


def render(
    prepared: EngravingCopy,
    part_id: str,
    marks: Mapping[int, str],
    widest: Mapping[int, str],
    paper: Paper,
    mark_pt: float,
    second: Mapping[int, str] | None,
) -> Engraving:
    """Engrave a copy. ``widest``: of both marks of a note the one that needs more room.

    Raises ScoreError when nothing can be engraved.
    """
    svgs = _run_engraver(prepared, widest, paper, mark_pt)
    systems: list[System] = []
    definitions: dict[str, etree._Element] = {}
    heads = placed = 0
    for svg in svgs:
        root = etree.fromstring(svg.encode())
        glyphs = Glyphs(root)
        definitions |= _definitions(root)
        for group in _systems(root):
            heads += sum(1 for inner in group.iter(f"{SVG}g") if is_kind(inner, "note"))
            placed += place_marks(group, marks, prepared.graces, glyphs, mark_pt, second)
            system = measure_system(group, glyphs)
            _clean(group)
            if system is not None:
                systems.append(system)
    if not systems:
        raise ScoreError("scores.no_music", part=part_id)
    return Engraving(
        tuple(_pages(systems, definitions, paper, prepared)),
        tuple(_warnings(len(prepared.drawn), heads, len(marks), placed)),
    )


def _run_engraver(
    prepared: EngravingCopy, marks: Mapping[int, str], paper: Paper, mark_pt: float
) -> list[str]:
    """Return Verovio's SVG of one endless column of systems (several when it is too long)."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    # The engraver knows where its fonts are only in the thread that imported it.
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    toolkit = verovio.toolkit()
    unit = STAFF_MM / 8 * 10
    toolkit.setOptions(
        {
            **_OPTIONS,
            "pageWidth": round(paper.music_width_mm * 10),
            "unit": unit,
            "minLastJustification": paper.fill_from,
            "lyricSize": mark_pt / _PT_PER_MM * 10 / unit,
        }
    )
    if not toolkit.loadData(prepared.document.decode("utf-8")):
        raise ScoreError("scores.not_engraved")
    if marks:
        mei = add_room(toolkit.getMEI().encode(), marks, prepared.graces)
        if not toolkit.loadData(mei):
            raise ScoreError("scores.no_room_for_marks")
    svgs = _drawn(toolkit)
    starts = _line_starts(toolkit, svgs, prepared, paper)
    if starts:
        mei = break_at(toolkit.getMEI().encode(), starts)
        toolkit.setOptions({"breaks": "encoded"})
        if toolkit.loadData(mei):
            svgs = _drawn(toolkit)
    return svgs


def _drawn(toolkit: Any) -> list[str]:
    return [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]


def _line_starts(
    toolkit: Any, svgs: Sequence[str], prepared: EngravingCopy, paper: Paper
) -> list[str]:
    """The measures that should start lines; empty where the engraver's own lines are good."""
    lines = lines_of(svgs)
    if paper.even_lines or not cut_within(lines, prepared.movements):
        return better_starts(lines, even=paper.even_lines)
    # All in one line, to see how wide each measure is by itself.
    toolkit.setOptions({"breaks": "none", "adjustPageWidth": True})
    toolkit.redoLayout()
    widths = widths_of(_drawn(toolkit))
    toolkit.setOptions({"breaks": "auto", "adjustPageWidth": False})
    return movement_starts(lines, prepared.movements, widths, paper.music_width_mm)


def _definitions(root: etree._Element) -> dict[str, etree._Element]:
    """Return the glyphs of a page by their code; the engraver's names change with each run."""
    symbols = {}
    for defs in root.iter(f"{SVG}defs"):
        for symbol in defs:
            name = symbol.get("id", "").split("-")[0]
            symbol.set("id", name)
            symbols[name] = symbol
    return symbols


def _systems(root: etree._Element) -> list[etree._Element]:
    return [group for group in root.iter(f"{SVG}g") if is_kind(group, "system")]


def _size(element: etree._Element) -> float:
    text = (element.get("font-size") or "").removesuffix("px")
    return float(text) if text.replace(".", "", 1).isdigit() else _LEAST_TEXT


def _clean(group: etree._Element) -> None:
    """Make a system's SVG plain enough for every renderer, and free of random names."""
    for element in group.iter():
        if not isinstance(element.tag, str):
            continue
        if not element.get("id", "hs-").startswith("hs-"):
            del element.attrib["id"]
        kinds = [kind for kind in (element.get("class") or "").split() if kind[:3] != "id-"]
        if kinds:
            element.set("class", " ".join(kinds))
        if element.get(HREF) is not None:
            element.set(HREF, element.get(HREF).split("-")[0])
        if element.get("font-size") == "0px":
            del element.attrib["font-size"]
        elif _size(element) < _LEAST_TEXT:
            element.set("font-size", f"{_LEAST_TEXT}px")
        family = element.get("font-family")
        if family is not None and family.startswith("Times"):
            element.set("font-family", TEXT_FAMILY)
        elif family == MUSIC_FONT:
            element.set("font-family", MUSIC_FAMILY)
        for name in ("stroke", "fill"):
            if element.get(name) == "currentColor":
                element.set(name, "black")


def _pages(
    systems: Sequence[System],
    definitions: Mapping[str, etree._Element],
    paper: Paper,
    prepared: EngravingCopy,
) -> Iterator[str]:
    pages = distribute(
        systems,
        paper.first_height_mm * 100,
        paper.music_height_mm * 100,
        paper.loose_mm * 100,
        [
            rest_at_turn(a.measures, b.measures, prepared.rests, prepared.movements)
            for a, b in itertools.pairwise(systems)
        ],
    )
    for page in pages:
        height_mm = max(system.box.bottom + down for system, down in page) / 100
        height_mm += 2 * OVERHANG_MM
        width_mm = paper.music_width_mm + 2 * paper.hang_mm
        root = etree.Element(f"{SVG}svg", nsmap={None: SVG[1:-1], "xlink": HREF[1:-5]})
        root.set("width", f"{width_mm:.2f}mm")
        root.set("height", f"{height_mm:.2f}mm")
        left = -paper.hang_mm * 100
        top = -OVERHANG_MM * 100
        root.set("viewBox", f"{left:.0f} {top:.0f} {width_mm * 100:.0f} {height_mm * 100:.0f}")
        root.set("font-family", TEXT_FAMILY)
        defs = etree.SubElement(root, f"{SVG}defs")
        used: dict[str, None] = {}
        for system, down in page:
            moved = etree.SubElement(root, f"{SVG}g", transform=f"translate(0, {down:.0f})")
            moved.append(system.group)
            used |= dict.fromkeys(use.get(HREF, "")[1:] for use in moved.iter(f"{SVG}use"))
        for name in used:
            if name in definitions:
                defs.append(definitions[name])
        yield etree.tostring(root, encoding="unicode")


def _warnings(notes: int, heads: int, marks: int, placed: int) -> Iterator[Fact]:
    if heads < notes:
        yield fact("scores.notes_left_out", count=notes - heads, notes=notes)
    if placed < marks:
        yield fact("scores.marks_missing", count=marks - placed, marks=marks)
