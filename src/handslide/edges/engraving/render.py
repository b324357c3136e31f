"""The engraver's run (Verovio): an engraving copy with marks, as SVG pages.

Here is all that happens to one part in a child process: the engraver is foreign code, and dies on
some files. Only this module and what it imports is loaded there.
"""

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from lxml import etree

from handslide.edges.engraving.begin import beginning, lines_begun, lines_started
from handslide.edges.engraving.breaks import (
    better_starts,
    break_at,
    cut_within,
    lines_of,
    movement_starts,
    widths_of,
)
from handslide.edges.engraving.marks import add_room, place_marks, without_room
from handslide.edges.engraving.pages import Column, System, distribute, measure_system
from handslide.edges.engraving.shapes import HREF, SVG, Glyphs, of_kind
from handslide.edges.engraving.turns import rest_at_turn
from handslide.edges.engraving.values import OVERHANG_MM, Engraving, EngravingCopy, Paper, Piece
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact, fact

_PT_PER_MM = 72 / 25.4
STAFF_MM = 6.9
OVERHANG = round(OVERHANG_MM * 100)
_STAVES_APART, _PLAYERS_APART = 12, 17  # in half spaces of a staff; the first is the engraver's
_LEAST_TEXT = 300.0  # 8.5 pt: measure numbers and the like
TEXT_FAMILY = "Libertinus Serif"
MUSIC_FONT = "Bravura"  # as the engraver calls it
MUSIC_FAMILY = "Handslide Music"  # the same outlines as a font file, for symbols in texts
_OPTIONS = {
    "pageHeight": 1500,  # a piece of the endless column, in 0.1 mm: each is drawn by itself
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


_LINE = re.compile(r'<g [^>]*class="system"')
_MEASURE = 'class="measure"'


@dataclass(frozen=True, slots=True)
class Marking:
    """The marks over the notes of a copy, by ordinal.

    ``widest``: of both marks of a note the one that needs more room; ``second``: those of another
    row above the first.
    """

    marks: Mapping[int, str]
    widest: Mapping[int, str]
    mark_pt: float
    second: Mapping[int, str] | None = None


@dataclass(frozen=True, slots=True)
class _Drawn:
    """Some systems in a row with their marks, and the glyphs that they use.

    ``heads`` are the notes drawn, ``placed`` the marks set; it is piece ``number`` ``of`` so many,
    and has ``lines``, with those that were left out.
    """

    systems: list[System]
    definitions: dict[str, etree._Element]
    heads: int
    placed: int
    lines: int
    number: int
    of: int


@dataclass(frozen=True, slots=True)
class _Begun:
    """The first lines, drawn by themselves, and the measure that starts the next."""

    drawn: _Drawn
    following: str

    @property
    def lines(self) -> list[tuple[str, ...]]:
        """Their measures."""
        return [system.measures for system in self.drawn.systems]


def render(
    prepared: EngravingCopy, part_id: str, marking: Marking, paper: Paper
) -> Iterator[tuple[int, int] | Engraving]:
    """Engrave a copy: how many of its pieces are drawn, again and again, and at last the pages.

    Raises ScoreError when nothing can be engraved.
    """
    systems: list[System] = []
    definitions: dict[str, etree._Element] = {}
    heads = placed = 0
    for drawn in _drawn(prepared, marking, paper):
        systems += drawn.systems
        definitions |= drawn.definitions
        heads += drawn.heads
        placed += drawn.placed
        yield drawn.number, drawn.of
    if not systems:
        raise ScoreError("scores.no_music", part=part_id)
    yield Engraving(
        tuple(_pages(systems, definitions, paper, prepared)),
        tuple(_warnings(len(prepared.drawn), heads, len(marking.marks), placed)),
    )


def render_column(
    prepared: EngravingCopy, part_id: str, marking: Marking, paper: Paper
) -> Iterator[Piece]:
    """The pieces of one endless page, each as soon as it is engraved.

    They stand below each other without a gap, and have the systems of the page that `render`
    makes where the paper has no end. Raises ScoreError when nothing can be engraved.
    """
    column = Column(paper.loose_mm * 100)
    top = -OVERHANG
    for drawn in _drawn_early(prepared, marking, paper):
        if drawn.systems:
            placed = [(system, column.place(system)) for system in drawn.systems]
            # Who draws something below a system has to know where its ink ends.
            for system in drawn.systems:
                system.group.set("data-ink", f"{system.box.top:.0f} {system.box.bottom:.0f}")
            bottom = round(column.bottom + OVERHANG)
            yield Piece(
                _page(placed, drawn.definitions, paper, top, bottom), drawn.number < drawn.of
            )
            top = bottom
    if not column.begun:
        raise ScoreError("scores.no_music", part=part_id)


def _drawn_early(prepared: EngravingCopy, marking: Marking, paper: Paper) -> Iterator[_Drawn]:
    """As `_drawn`; of a long part the first piece is there long before the others."""
    begun = _begun(prepared, marking, paper)
    if begun is not None:
        yield begun.drawn
    yield from _drawn(prepared, marking, paper, begun)


def _begun(prepared: EngravingCopy, marking: Marking, paper: Paper) -> _Begun | None:
    begins = beginning(prepared, paper)
    if begins is None:
        return None
    toolkit = _engraver(replace(prepared, document=begins.document), marking, paper)
    _break_lines(toolkit, prepared, paper)
    lines = lines_of(toolkit.getMEI({"scoreBased": False}).encode())
    drawn = _piece(toolkit.renderToSVG(1), 1, toolkit.getPageCount(), prepared, marking)
    shown = [name for system in drawn.systems for name in system.measures]
    full = [name for line in lines[:-2] for name in line]
    if not shown or shown != full[: len(shown)] or not begins.holds(shown):
        return None
    return _Begun(replace(drawn, of=2), lines[len(drawn.systems)][0])


def _drawn(
    prepared: EngravingCopy, marking: Marking, paper: Paper, begun: _Begun | None = None
) -> Iterator[_Drawn]:
    """The engraver's pieces of an endless column, with marks; those after what is ``begun``."""
    toolkit = _engraver(prepared, marking, paper)
    count, last = toolkit.getPageCount(), None
    if not paper.one_line:
        simple = begun is None and not paper.even_lines and not prepared.movements
        last = toolkit.renderToSVG(count) if simple else None
        if last is None or not _ends_well(last):
            _break_lines(toolkit, prepared, paper, begun)
            count, last = toolkit.getPageCount(), None
    there = 0 if begun is None else len(begun.lines)
    for number in range(1, count + 1):
        svg = last if last is not None and number == count else toolkit.renderToSVG(number)
        drawn = _piece(svg, number, count, prepared, marking, there)
        there = max(0, there - drawn.lines)
        yield drawn


def _piece(
    svg: str, number: int, count: int, prepared: EngravingCopy, marking: Marking, there: int = 0
) -> _Drawn:
    """One of the engraver's pieces, without its first lines that are ``there`` already."""
    root = _read(svg)
    definitions = _definitions(root)
    glyphs = Glyphs(root)
    systems: list[System] = []
    heads = placed = 0
    groups = _systems(root)
    for group in groups[there:]:
        heads += len(of_kind(group, "note"))
        placed += place_marks(
            group, marking.marks, prepared.graces, glyphs, marking.mark_pt, marking.second
        )
        system = measure_system(group, glyphs)
        _clean(group)
        if system is not None:
            systems.append(system)
    return _Drawn(systems, definitions, heads, placed, len(groups), number, count)


def _engraver(prepared: EngravingCopy, marking: Marking, paper: Paper) -> Any:
    """The engraver's toolkit with the copy laid out in lines of its own choice."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    # The engraver knows where its fonts are only in the thread that imported it.
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    toolkit = verovio.toolkit()
    unit = STAFF_MM / 8 * 10
    breaks = "none" if paper.one_line else "auto"
    toolkit.setOptions(
        {
            **_OPTIONS,
            "pageWidth": round(paper.music_width_mm * 10),
            "unit": unit,
            "minLastJustification": paper.fill_from,
            # Between two players' staves there are dynamics of one and marks of the other.
            "spacingStaff": _PLAYERS_APART if prepared.players > 1 else _STAVES_APART,
            "lyricSize": marking.mark_pt / _PT_PER_MM * 10 / unit,
            # Without room for the marks there are no lines yet.
            "breaks": "none" if marking.widest else breaks,
            "adjustPageWidth": paper.one_line,
        }
    )
    if not toolkit.loadData(prepared.document.decode("utf-8")):
        raise ScoreError("scores.not_engraved")
    if marking.widest:
        toolkit.setOptions({"breaks": breaks})
        mei = add_room(toolkit.getMEI(), marking.widest, prepared.graces)
        if not toolkit.loadData(mei):
            raise ScoreError("scores.no_room_for_marks")
    return toolkit


def _ends_well(svg: str) -> bool:
    """Whether the last line of the last piece has more measures than one, or less.

    Where there are no movements nothing else is asked of lines; to see it here takes a tenth of
    what it takes to have all of them told.
    """
    return _LINE.split(svg)[-1].count(_MEASURE) != 1


def _break_lines(
    toolkit: Any, prepared: EngravingCopy, paper: Paper, begun: _Begun | None = None
) -> None:
    """Let better measures start lines, where the engraver's own lines aren't good, or aren't those
    that have ``begun``.

    The beginning can't know whether the engraver's lines cut a movement later on; it keeps its own.
    """
    lines = lines_of(toolkit.getMEI({"scoreBased": False}).encode())
    lines_a_page = max(1, len(lines) // toolkit.getPageCount())
    if paper.even_lines or not cut_within(lines, prepared.movements):
        starts = better_starts(lines, even=paper.even_lines)
        if not starts and paper.even_lines and len(lines) > 1 and len(lines[-1]) == 1:
            # Two full measures and a short one: the second may share a line with the third.
            equal = movement_starts(lines, (), _widths(toolkit), paper.music_width_mm)
            starts = equal if len(equal) == len(lines) - 1 else []
    else:
        starts = movement_starts(lines, prepared.movements, _widths(toolkit), paper.music_width_mm)
    if begun is not None:
        started = lines_started(lines, starts) if starts else lines
        starts = lines_begun(started, begun.lines, begun.following) or starts
    if starts:
        mei = toolkit.getMEI()
        toolkit.setOptions({"breaks": "encoded"})
        if not toolkit.loadData(break_at(mei.encode(), starts, lines_a_page)):
            toolkit.setOptions({"breaks": "auto"})
            toolkit.loadData(mei)


def _widths(toolkit: Any) -> dict[str, float]:
    """How wide each measure is by itself: all in one line."""
    toolkit.setOptions({"breaks": "none", "adjustPageWidth": True})
    toolkit.redoLayout()
    widths = widths_of([toolkit.renderToSVG(n + 1) for n in range(toolkit.getPageCount())])
    toolkit.setOptions({"breaks": "auto", "adjustPageWidth": False})
    return widths


def _definitions(root: etree._Element) -> dict[str, etree._Element]:
    """Return the glyphs of a page by their code; the engraver's names change with each run."""
    symbols = {}
    for defs in root.iter(f"{SVG}defs"):
        for symbol in defs:
            name = symbol.get("id", "").split("-")[0]
            symbol.set("id", name)
            symbol.tail = None
            symbols[name] = symbol
    return symbols


def _systems(root: etree._Element) -> list[etree._Element]:
    return of_kind(root, "system")


def _size(element: etree._Element) -> float:
    text = (element.get("font-size") or "").removesuffix("px")
    return float(text) if text.replace(".", "", 1).isdigit() else _LEAST_TEXT


_IN_TAG = "(?=[^<>]*>)"
# What is written otherwise in the tags of what is drawn. Each begins with letters that are sought
# quickly. A measure's random name is asked for still.
_PLAINER = tuple(
    (re.compile(pattern + _IN_TAG), plain)
    for pattern, plain in (
        (r' id="(?!hs-)[^"]*"(?! class="measure")', ""),
        (r' xlink:href="#([^"-]*)-[^"]*"', r' xlink:href="#\1"'),
        (' stroke="currentColor"', ' stroke="black"'),
        (' fill="currentColor"', ' fill="black"'),
    )
)
# Blanks between what is drawn; those within a text are its own.
_BLANKS = re.compile(r">\s+<(?!/?tspan|/text)")


def _read(svg: str) -> etree._Element:
    """A piece without the room for marks, its ink black, and free of random names."""
    defined, end, drawn = svg.rpartition("</defs>")
    drawn = without_room(drawn)
    for pattern, plain in _PLAINER:
        drawn = pattern.sub(plain, drawn)
    return etree.fromstring(_BLANKS.sub("><", f"{defined}{end}{drawn}").encode())


def _clean(group: etree._Element) -> None:
    """Make a system's SVG plain enough for every renderer."""
    for element in group.iter(f"{SVG}g"):
        name, kind = element.get("id"), element.get("class", "")
        if name is not None and not name.startswith("hs-"):
            del element.attrib["id"]
        if " " in kind:
            kinds = [one for one in kind.split() if one[:3] != "id-"]
            if kinds:
                element.set("class", " ".join(kinds))
    for element in group.iter(f"{SVG}text", f"{SVG}tspan"):
        size, family = element.get("font-size"), element.get("font-family", "")
        if size == "0px":
            del element.attrib["font-size"]
        elif size and _size(element) < _LEAST_TEXT:
            element.set("font-size", f"{_LEAST_TEXT}px")
        if family.startswith("Times"):
            element.set("font-family", TEXT_FAMILY)
        elif family == MUSIC_FONT:
            element.set("font-family", MUSIC_FAMILY)


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
        bottom = max(system.box.bottom + down for system, down in page)
        yield _page(page, definitions, paper, -OVERHANG, round(bottom + OVERHANG))


def _page(
    systems: Sequence[tuple[System, float]],
    definitions: Mapping[str, etree._Element],
    paper: Paper,
    top: int,
    bottom: int,
) -> str:
    """Systems, each moved down so far, as the picture of a page from ``top`` to ``bottom``."""
    width_mm = paper.music_width_mm + 2 * paper.hang_mm
    root = etree.Element(f"{SVG}svg", nsmap={None: SVG[1:-1], "xlink": HREF[1:-5]})
    root.set("width", f"{width_mm:.2f}mm")
    root.set("height", f"{(bottom - top) / 100:.2f}mm")
    left = -paper.hang_mm * 100
    root.set("viewBox", f"{left:.0f} {top} {width_mm * 100:.0f} {bottom - top}")
    root.set("font-family", TEXT_FAMILY)
    defs = etree.SubElement(root, f"{SVG}defs")
    used: dict[str, None] = {}
    for system, down in systems:
        moved = etree.SubElement(root, f"{SVG}g", transform=f"translate(0, {down:.0f})")
        moved.append(system.group)
        used |= dict.fromkeys(use.get(HREF, "")[1:] for use in moved.iter(f"{SVG}use"))
    for name in used:
        if name in definitions:
            defs.append(definitions[name])
    text: str = etree.tostring(root, encoding="unicode")
    return text


def _warnings(notes: int, heads: int, marks: int, placed: int) -> Iterator[Fact]:
    if heads < notes:
        yield fact("scores.notes_left_out", count=notes - heads, notes=notes)
    if placed < marks:
        yield fact("scores.marks_missing", count=marks - placed, marks=marks)
