"""What a PDF's pages draw, beside PDFium (BSD-3-Clause): drawn again from areas and lines alone,
the same ink stands at the same places."""

import numpy as np
import pypdfium2
import pytest
from musicxml_build import OWN_SCORES
from pdf_build import redrawn
from scipy.ndimage import binary_dilation

from handslide.edges.pdfparts.content import draw

PDFS = sorted((OWN_SCORES / "pdf").glob("*.pdf"))


def dark(data, page):
    """Where a page is dark, at 144 pixels an inch."""
    drawn = pypdfium2.PdfDocument(data)[page]
    return np.asarray(drawn.render(scale=2, grayscale=True).to_pil()) < 128


@pytest.mark.parametrize("path", PDFS, ids=lambda path: path.stem)
def test_all_ink_is_drawn_and_no_other(path):
    data = path.read_bytes()
    drawing = draw(data)
    theirs, ours = dark(data, 0), dark(redrawn(drawing), 0)
    assert theirs.shape == ours.shape and theirs.sum() > 10_000
    # PDFium sets letters at whole pixels. Letters of fonts that aren't in the file have no outline.
    missing = theirs & ~binary_dilation(ours, iterations=2)
    more = ours & ~binary_dilation(theirs, iterations=2)
    without = sum(
        glyph.em * glyph.advance for glyph in drawing.pages[0].glyphs
        if glyph.text.strip() and not drawing.outlines[glyph.font, glyph.code]
    )  # fmt: skip
    assert missing.sum() <= 0.003 * theirs.sum() + 4 * without
    assert more.sum() <= 0.003 * theirs.sum()
    assert (without > 0) == ("abcm2ps" in path.stem)
