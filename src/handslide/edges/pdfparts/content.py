"""A PDF file: its pages, as a reader sees them, and what they draw."""

import io
import logging
import re
from typing import Any

import pikepdf

from handslide.edges.pdfparts.canvas import Canvas, State
from handslide.edges.pdfparts.drawn import Drawing, Matrix, PageDrawing
from handslide.edges.pdfparts.fonts import number, numbers
from handslide.edges.pdfparts.geometry import Box, common, inverse
from handslide.edges.pdfparts.interpret import Shared, run
from handslide.edges.pdfparts.optional import Layers
from handslide.ground import limits
from handslide.ground.errors import ScoreError

logging.getLogger("pikepdf").setLevel(logging.CRITICAL)  # what it mends isn't told
_LETTER: Box = (0.0, 0.0, 612.0, 792.0)
_PDFA_PART = re.compile(rb"pdfaid:part(?:>|\s*=\s*[\"'])\s*(\d)")
_PDFA_LEVEL = re.compile(rb"pdfaid:conformance(?:>|\s*=\s*[\"'])\s*([A-Za-z])")


def draw(data: bytes, pages_most: int = limits.PDF_PAGES) -> Drawing:
    """What the pages of a PDF draw.

    Raises ScoreError where it isn't a PDF, asks for a password, is broken beyond repair or beyond
    the limits.
    """
    with open_pdf(data) as pdf:
        try:
            return _drawing(pdf, pages_most)
        except (pikepdf.PdfError, RecursionError) as error:
            raise ScoreError("pdfparts.broken") from error


def open_pdf(data: bytes) -> pikepdf.Pdf:
    """A PDF, opened with the empty password if it is encrypted. Raises ScoreError."""
    if len(data) > limits.PDF_BYTES:
        raise ScoreError("pdfparts.too_large", most_mb=limits.PDF_BYTES // limits.MB)
    if b"%PDF-" not in data[: limits.PDF_JUNK_BYTES]:
        raise ScoreError("pdfparts.not_pdf")
    try:
        return pikepdf.open(io.BytesIO(data), suppress_warnings=True)
    except pikepdf.PasswordError as error:
        raise ScoreError("pdfparts.password") from error
    except (pikepdf.PdfError, ValueError, RuntimeError, RecursionError) as error:
        raise ScoreError("pdfparts.broken") from error


def _drawing(pdf: pikepdf.Pdf, pages_most: int) -> Drawing:
    count = len(pdf.pages)
    if count == 0:
        raise ScoreError("pdfparts.no_pages")
    if count > pages_most:
        raise ScoreError("pdfparts.many_pages", count=count, most=pages_most)
    root = pdf.Root
    shared = Shared(Layers(root))
    pages = tuple(_page(page, shared) for page in pdf.pages)
    marked = root.get("/MarkInfo")
    tagged = isinstance(marked, pikepdf.Dictionary) and bool(marked.get("/Marked", False))
    return Drawing(pages=pages, outlines=shared.outlines, tagged=tagged, pdfa=_pdfa(root, shared))


def _pdfa(root: Any, shared: Shared) -> str:
    described = root.get("/Metadata")
    if not isinstance(described, pikepdf.Stream):
        return ""
    data = shared.unpacker.bytes_of(described)
    part, level = _PDFA_PART.search(data), _PDFA_LEVEL.search(data)
    if part is None:
        return ""
    return part[1].decode() + (level[1].decode().lower() if level else "")


def to_page(page: Any) -> Matrix:
    """From a page (of pikepdf) as it is seen, cropped and turned, to its own user space."""
    return inverse(_to_seen(*_seen_box(page.obj)))


def _seen_box(spec: Any) -> tuple[Box, int]:
    """The box of a page that is seen, in its own space, and its turn in degrees clockwise.

    As PDFium, which draws the pages here, has them: what is odd counts as usual, and user units as
    points.
    """
    media = _sorted_box(numbers(_inherited(spec, "/MediaBox"), 4, _LETTER))
    crop = _sorted_box(numbers(_inherited(spec, "/CropBox"), 4, media))
    box = common(media, crop)
    if box[2] - box[0] < 1 or box[3] - box[1] < 1:
        box = media if media[2] - media[0] >= 1 and media[3] - media[1] >= 1 else _LETTER
    return box, int(number(_inherited(spec, "/Rotate")) / 90) * 90 % 360


def _to_seen(box: Box, turn: int) -> Matrix:
    x0, y0, x1, y1 = box
    turns: dict[int, Matrix] = {
        0: (1.0, 0.0, 0.0, 1.0, -x0, -y0),
        90: (0.0, -1.0, 1.0, 0.0, -y0, x1),
        180: (-1.0, 0.0, 0.0, -1.0, x1, y1),
        270: (0.0, 1.0, -1.0, 0.0, y1, -x0),
    }
    return turns[turn]


def _page(page: Any, shared: Shared) -> PageDrawing:
    spec = page.obj
    box, turn = _seen_box(spec)
    matrix = _to_seen(box, turn)
    width, height = box[2] - box[0], box[3] - box[1]
    if turn in (90, 270):
        width, height = height, width
    seen: Box = (0.0, 0.0, width, height)
    canvas = Canvas(shared.counts)
    contents, resources = _contents(spec, shared), _inherited(spec, "/Resources")
    run(canvas, shared, contents, resources, State(matrix, seen))
    return PageDrawing(
        width=width, height=height, to_page=inverse(matrix), glyphs=tuple(canvas.glyphs),
        paths=tuple(canvas.paths), pictures=tuple(canvas.pictures),
    )  # fmt: skip


def _contents(spec: Any, shared: Shared) -> bytes:
    said = spec.get("/Contents")
    streams = list(said) if isinstance(said, pikepdf.Array) else [said]
    return b"\n".join(
        shared.stream(stream)
        for stream in streams[: limits.PDF_ARRAY]
        if isinstance(stream, pikepdf.Stream)
    )


def _inherited(spec: Any, key: str) -> Any:
    """What a page says, or the nodes above it."""
    for _ in range(limits.PDF_DEPTH):
        if not isinstance(spec, pikepdf.Dictionary):
            return None
        if key in spec:
            return spec.get(key)
        spec = spec.get("/Parent")
    return None


def _sorted_box(box: tuple[float, ...]) -> Box:
    x0, y0, x1, y1 = box
    return (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
