"""The PDF of a part, against what the engraver and the typesetter take for the same pages alone."""

from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any

from handslide.edges.engraving import engrave, render
from handslide.edges.engraving.copy import engraving_copy
from handslide.edges.engraving.engrave import paper_named
from handslide.edges.engraving.engraver import ENGRAVER
from handslide.edges.engraving.values import Paper
from handslide.edges.musicxml.read import read_score
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, choose_for
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

_COLUMN_MM = 180.0
_STAFF_UNIT = 8.6  # of the engraver's, for staves as high as ours


def bench_printing(
    study: Path, best_of: Callable[[int, Callable[[], object]], float], runs: int
) -> list[tuple[str, float, str, bool]]:
    """One study to PDF, the engraver warm; Verovio and Typst with nothing of ours between them."""
    setup, say = make_setup("tenor-f"), speech("en")
    score = read_score(study.read_bytes())

    def marked() -> MarkedPart:
        return choose_for(score, setup, MarkOptions())

    notes = len(marked().part.notes)
    _, pages = marked()._engraved(say)
    document = engraving_copy(score.partwise(), marked().part.part_id, None, {}, _COLUMN_MM)
    verovio_pages = _engrave(document.document.decode())
    work, paper = _with_room(marked())
    ours_s = engraver_s = roomy_s = typesetter_s = float("inf")
    for _ in range(runs):
        fresh = marked()
        ours_s = min(ours_s, best_of(1, lambda one=fresh: one.pdf(say)))
        engraver_s = min(engraver_s, best_of(1, lambda: _engrave(document.document.decode())))
        roomy_s = min(roomy_s, best_of(1, lambda: _engrave_with_room(work, paper)))
        typesetter_s = min(typesetter_s, best_of(1, lambda: _typeset(pages)))
    ENGRAVER.close()
    alone_s = engraver_s + typesetter_s
    print(f"printing {notes} notes, {len(pages)} pages as PDF/A (by themselves {verovio_pages})")
    print(f"  handslide, all with its report {1e3 * ours_s:8.1f} ms")
    print(f"  Verovio alone                  {1e3 * engraver_s:8.1f} ms")
    print(f"  Verovio, room for marks kept   {1e3 * roomy_s:8.1f} ms")
    print(f"  Typst alone                    {1e3 * typesetter_s:8.1f} ms")
    return [
        ("a part's PDF / its engines", ours_s / alone_s, "at most 1.3", ours_s <= 1.3 * alone_s)
    ]


def _engrave(document: str) -> int:
    """Verovio's own pages of a document, drawn; how many."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({
        "pageWidth": round(10 * _COLUMN_MM), "pageHeight": 2600, "unit": _STAFF_UNIT,
        "font": "Bravura", "header": "none", "footer": "none", "mmOutput": True,
        "svgViewBox": True,
    })  # fmt: skip
    assert toolkit.loadData(document)
    count: int = toolkit.getPageCount()
    for number in range(1, count + 1):
        toolkit.renderToSVG(number)
    return count


def _with_room(marked: MarkedPart) -> tuple[Any, Paper]:
    """The same part made ready for the engraver with its marks, as the print has it."""
    paper, ordinals = paper_named("a4"), marked.part.ordinals
    marks = {ordinals[number]: text for number, text in marked.printed.items()}
    part = marked.part
    work = engrave._prepared(
        marked.score, part.part_id, marks, paper, part.staff, 10.0, None, marked.hidden
    )
    return work, paper


def _engrave_with_room(work: Any, paper: Paper) -> None:
    """What of Verovio the print can't do without: two loads, and pages that are wider set."""
    prepared, _, marking = work.arguments
    toolkit = render._engraver(prepared, marking, paper)
    for number in range(1, toolkit.getPageCount() + 1):
        toolkit.renderToSVG(number)


def _typeset(pages: tuple[str, ...]) -> bytes:
    """Typst's PDF of the pages, and of nothing else."""
    import typst

    files: dict[str, Any] = {f"m{k}.svg": page.encode() for k, page in enumerate(pages)}
    body = "".join(f'#image("m{k}.svg", alt: "music")\n' for k in range(len(pages)))
    files["main.typ"] = f'#set document(title: "Music")\n{body}'.encode()
    with resources.as_file(resources.files("handslide") / "data" / "fonts") as fonts:
        compiler = typst.Compiler(
            files, root=str(fonts), font_paths=[str(fonts)], ignore_system_fonts=True
        )
        return compiler.compile(format="pdf", pdf_standards=["a-2b"])  # type: ignore[return-value]
