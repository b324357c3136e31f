"""What a PDF really has on its pages: boxes of its texts, in millimetres from the top left."""

from dataclasses import dataclass

import pypdfium2 as pdfium
import pypdfium2.raw as raw

MM = 25.4 / 72.0


@dataclass(frozen=True)
class PdfText:
    text: str
    size_pt: float
    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class PdfPage:
    width: float
    height: float
    texts: tuple[PdfText, ...]


def read_pages(data: bytes) -> list[PdfPage]:
    document = pdfium.PdfDocument(data)
    pages = []
    try:
        for page in document:
            width, height = page.get_size()
            reader = page.get_textpage()
            texts = []
            for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], textpage=reader):
                left, bottom, right, top = item.get_bounds()
                texts.append(
                    PdfText(
                        item.extract(),
                        item.get_font_size(),
                        left * MM,
                        (height - top) * MM,
                        right * MM,
                        (height - bottom) * MM,
                    )
                )
            reader.close()
            pages.append(PdfPage(width * MM, height * MM, tuple(texts)))
            page.close()
    finally:
        document.close()
    return pages


def overlaps(page: PdfPage, slack_mm: float = 0.1) -> list[tuple[PdfText, PdfText]]:
    """Pairs of texts whose ink boxes overlap by more than ``slack_mm`` both ways."""
    boxes = sorted((t for t in page.texts if t.text.strip()), key=lambda t: t.left)
    found = []
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            if other.left >= one.right - slack_mm:
                break
            if other.top < one.bottom - slack_mm and one.top < other.bottom - slack_mm:
                found.append((one, other))
    return found


def outside(page: PdfPage, margin_mm: float) -> list[PdfText]:
    return [
        t
        for t in page.texts
        if t.left < margin_mm
        or t.top < margin_mm
        or t.right > page.width - margin_mm
        or t.bottom > page.height - margin_mm
    ]
