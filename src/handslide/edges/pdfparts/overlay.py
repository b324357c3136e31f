"""Marks laid over the pages of a part: the pages stay whole, and what is new is drawn over them.

Three steps: `plan_pages` finds the room (in a child: it draws a foreign file), `typeset_overlay`
sets marks and legend on pages of the same sizes, `laid_over` joins both (in a child again). Nothing
that the file drew is touched: a page's content is followed by ours, and other pages come behind.
"""

import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from handslide.edges.engraving.marks import mark_width_em
from handslide.edges.pdfparts.placing import FRAME_LINE, NoteMark, PlacedMark, head_tint, place_page
from handslide.edges.pdfparts.reading import ReadStaff
from handslide.edges.pdfparts.room import Box, Room, paints_ground, room_of
from handslide.edges.typesetting.part import one_line
from handslide.edges.typesetting.run import run_typst
from handslide.sheets.metrics import MM_PER_PT, text_extent_mm

TINT = (1.0, 0.82, 0.52)  # light enough to read through, and a clear grey where colours are lost
_LEGEND_PT = 8.5
_LEGEND_LINE_PT = 9.6
_LEGEND_GAP_EM = 1.3
_LEGEND_RULE_PT = 6.0
_FOOT_PT = 20.0  # from the lower edge, which printers leave white
_DEEPEST_TREE = 100  # of pages
_CLEAR_PT = 5.0  # around the legend


@dataclass(frozen=True, slots=True)
class PagePlan:
    """What comes over a page of ``width`` by ``height`` seen points: marks, tints behind doubtful
    heads, and where the legend stands (None: not there).

    ``ground``: the page paints its own, so that tints can't come under it.
    """

    page: int
    width: float
    height: float
    marks: tuple[PlacedMark, ...]
    tints: tuple[Box, ...]
    legend: Box | None
    ground: bool


@dataclass(frozen=True, slots=True)
class Legend:
    """The signs and their meanings, and the lines that stand over them."""

    rows: tuple[tuple[str, str], ...]
    about: tuple[str, ...]

    def height_pt(self, width_pt: float) -> float:
        """How high it is when set ``width_pt`` wide; estimated on the safe side."""
        lines, used = 1, 0.0
        for sign, meaning in self.rows:
            wide = (mark_width_em(sign) + 0.45 + _LEGEND_GAP_EM) * _LEGEND_PT + _wide_pt(meaning)
            # An entry isn't broken; one that is too long for a line takes several.
            lines += max(0, int(wide // width_pt))
            used += wide
            if used > width_pt:
                lines, used = lines + 1, wide
        return _LEGEND_RULE_PT + (len(self.about) + lines) * _LEGEND_LINE_PT


def _wide_pt(text: str) -> float:
    width_mm, _, _ = text_extent_mm(text, _LEGEND_PT, "Libertinus Serif", 400, italic=False)
    return 1.03 * width_mm / MM_PER_PT


def plan_pages(
    data: bytes,
    marks: Mapping[int, Sequence[NoteMark]],
    staves: Sequence[ReadStaff],
    legend: Legend,
) -> tuple[PagePlan, ...]:
    """Where marks and legend find room on the pages, by the page's number from 1.

    ``marks`` are those of each page, their ``staff`` a place in ``staves``. Marks that find none
    are missing in the plan. To be run on a leash.
    """
    import pypdfium2

    document = pypdfium2.PdfDocument(data)
    try:
        plans = []
        for number in sorted({staff.page for staff in staves}):
            page = document[number - 1]
            room = room_of(page)
            own = marks.get(number, ())
            ground = any(mark.doubtful for mark in own) and paints_ground(page)
            page.close()
            placed = place_page(own, staves, room)
            tints = tuple(head_tint(mark, staves[mark.staff]) for mark in own if mark.doubtful)
            here = [staff for staff in staves if staff.page == number]
            foot = _foot(room, here, legend)
            plans.append(PagePlan(number, room.width, room.height, placed, tints, foot, ground))
        return tuple(plans)
    finally:
        document.close()


def _foot(room: Room, staves: Sequence[ReadStaff], legend: Legend) -> Box | None:
    """The lowest free room under the last staff that takes the legend, as wide as the staves."""
    x0, x1 = min(staff.x0 for staff in staves), max(staff.x1 for staff in staves)
    lowest = min(staff.bottom - 3 * staff.space for staff in staves)
    height = legend.height_pt(x1 - x0)
    y = _FOOT_PT
    while y + height < lowest:
        box = Box(x0, y, x1, y + height)
        if room.is_free(x0 - _CLEAR_PT, y - _CLEAR_PT, x1 + _CLEAR_PT, y + height + _CLEAR_PT):
            return box
        y += 2.0
    return None


def typeset_overlay(plans: Sequence[PagePlan], legend: Legend, title: str, language: str) -> bytes:
    """A PDF with a page for each plan: marks and legend, nothing else.

    Raises
    ------
    OutputError
        When the typesetter can't set it.
    """
    values = {
        "title": one_line(title),
        "language": language,
        "legend": [[one_line(text) for text in row] for row in legend.rows],
        "about": [one_line(line) for line in legend.about],
        "frame_line": FRAME_LINE,
        "pages": [_page_json(plan) for plan in plans],
    }
    return run_typst("overlay.typ", {"overlay.json": json.dumps(values)}, title, tagged=False)[0]


def _page_json(plan: PagePlan) -> dict[str, Any]:
    def box(found: Box | None) -> dict[str, float] | None:
        if found is None:
            return None
        return {
            "x": found.x0,
            "y": plan.height - found.y1,
            "width": found.x1 - found.x0,
            "height": found.y1 - found.y0,
        }

    marks = [
        {
            "x": mark.x,
            "y": plan.height - mark.y,
            "size": mark.size_pt,
            "text": mark.text,
            "frame": box(mark.frame),
        }
        for mark in plan.marks
    ]
    return {
        "width": plan.width,
        "height": plan.height,
        "marks": marks,
        "legend": box(plan.legend),
    }


def laid_over(
    data: bytes, plans: Sequence[PagePlan], overlay: bytes, behind: bytes | None
) -> bytes:
    """The file with the pages of ``overlay`` over its own, and those of ``behind`` after them.

    The same input gives the same bytes. A claim to be PDF/A goes, for nobody checks it here. To be
    run on a leash.
    """
    import pikepdf

    with (
        pikepdf.open(io.BytesIO(data)) as pdf,
        pikepdf.open(io.BytesIO(overlay)) as over,
    ):
        tagged = pikepdf.Name.StructTreeRoot in pdf.Root
        for plan, drawn in zip(plans, over.pages):
            if plan.marks or plan.tints or plan.legend:
                form = pdf.copy_foreign(drawn.as_form_xobject())
                _lay_over(pdf, pdf.pages[plan.page - 1], form, plan, tagged=tagged)
        if behind is not None:
            with pikepdf.open(io.BytesIO(behind)) as report:
                pdf.pages.extend(report.pages)
        _drop_pdfa(pdf)
        result = io.BytesIO()
        pdf.save(
            result,
            min_version="1.4",
            deterministic_id=True,
            stream_decode_level=pikepdf.StreamDecodeLevel.none,
        )
        return result.getvalue()


def _lay_over(pdf: Any, page: Any, form: Any, plan: PagePlan, *, tagged: bool) -> None:
    from handslide.edges.pdfparts.content import to_page

    resources = _own_resources(pdf, page)
    name = _free_name(resources.XObject, "HandslideMarks")
    resources.XObject[name] = form
    place = _numbers(to_page(page)) + " cm"
    over, tints = ["q", place, f"{name} Do", "Q"], []
    if plan.tints:
        tints = ["q", place, _numbers(TINT) + " rg"]
        for box in plan.tints:
            tints.append(_numbers((box.x0, box.y0, box.x1 - box.x0, box.y1 - box.y0)) + " re")
        tints += ["f", "Q"]
    if tints and plan.ground:
        tints.insert(1, _multiplied(resources))
        over, tints = tints + over, []
    # Whatever state the page's own content leaves behind must not reach ours.
    ends = ["Q"] * (1 + _states_open(page))
    page.contents_add(_content([*_apart(tints, tagged=tagged), "q"]), prepend=True)
    page.contents_add(_content([*ends, *_apart(over, tagged=tagged)]))


def _apart(lines: list[str], *, tagged: bool) -> list[str]:
    """Content of ours within a tagged page: it belongs to nothing that is read aloud."""
    return ["/Artifact BMC", *lines, "EMC"] if tagged and lines else lines


def _content(lines: list[str]) -> bytes:
    return ("\n".join(lines) + "\n").encode()


def _multiplied(resources: Any) -> str:
    """The operation that lets what is under a tint show through."""
    from pikepdf import Dictionary, Name

    state = _free_name(resources.ExtGState, "HandslideTint")
    resources.ExtGState[state] = Dictionary(Type=Name.ExtGState, BM=Name.Multiply)
    return f"{state} gs"


def _own_resources(pdf: Any, page: Any) -> Any:
    """The page's resources as a copy of its own: others may share, or hand down, the original."""
    from pikepdf import Dictionary, Name

    holder = page.obj
    for _ in range(_DEEPEST_TREE):
        if Name.Resources in holder or Name.Parent not in holder:
            break
        holder = holder.Parent
    found = holder.get(Name.Resources, Dictionary())
    own = Dictionary(dict(found.items()))
    for kind in (Name.XObject, Name.ExtGState):
        own[kind] = Dictionary(dict(found.get(kind, Dictionary()).items()))
    page.obj[Name.Resources] = own
    return own


def _free_name(table: Any, wish: str) -> Any:
    from pikepdf import Name

    name, number = f"/{wish}", 1
    while name in table:
        number += 1
        name = f"/{wish}{number}"
    return Name(name)


def _states_open(page: Any) -> int:
    """How many graphics states the page's content saves and doesn't restore."""
    import pikepdf

    depth = 0
    for instruction in pikepdf.parse_content_stream(page, "q Q"):
        depth = depth + 1 if str(instruction.operator) == "q" else max(0, depth - 1)
    return depth


def _numbers(values: Sequence[float]) -> str:
    return " ".join(f"{value:.4f}".rstrip("0").rstrip(".") for value in values)


def _drop_pdfa(pdf: Any) -> None:
    if "/Metadata" not in pdf.Root or b"pdfaid" not in pdf.Root.Metadata.read_bytes():
        return
    with pdf.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False) as metadata:
        for key in [key for key in metadata if "pdfaid" in key or "/pdfa/ns/id/" in key]:
            del metadata[key]
