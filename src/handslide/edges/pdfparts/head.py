"""Whether a file is a PDF: asked of every score, so nothing else of the room is loaded for it."""

from handslide.ground.limits import PDF_JUNK_BYTES


def is_pdf(data: bytes) -> bool:
    """Whether it is a PDF: some have other bytes before their head (ISO 32000-1, annex H.3.4.1)."""
    return b"%PDF-" in data[: PDF_JUNK_BYTES + 5]
