"""What is said of each kind of fact whose topic is ``pdfparts``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # A PDF that can't be opened, or is no part.
    "pdfparts.not_pdf": N_("this isn't a PDF; export the part again"),
    "pdfparts.too_large": N_("the PDF is too large: a part may have up to {most_mb} MB"),
    "pdfparts.password": N_(
        "the PDF asks for a password; save it without one, or ask whoever made it"
    ),
    "pdfparts.broken": N_("the PDF is damaged beyond repair; export the part again"),
    "pdfparts.no_pages": N_("the PDF has no pages; export the part again"),
    "pdfparts.many_pages": N_(
        "the PDF has {count} pages, and a part may have up to {most}; save the pages of the part "
        "as a PDF of their own"
    ),
    "pdfparts.unpacks_large": N_(
        "something in the PDF unpacks to more than {most_mb} MB, far more than a part needs; it "
        "was not read"
    ),
    "pdfparts.crowded": N_(
        "a page of the PDF draws far more than a page of music does; it was not read"
    ),
    "pdfparts.many_fonts": N_(
        "the PDF has more than {most} fonts, far more than a part needs; it was not read"
    ),
}
