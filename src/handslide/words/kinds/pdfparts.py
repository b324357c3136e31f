"""What is said of each kind of fact whose topic is ``pdfparts``."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message
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
    # A PDF of something else, or of a part whose signs nobody knows.
    "pdfparts.scan": N_(
        "the PDF holds pictures, as a scanner makes them, and no staves are drawn in it; ask for "
        "the part as the notation program exported it"
    ),
    "pdfparts.no_staves": N_("no staves are drawn in this PDF: is it a part?"),
    "pdfparts.no_heads": N_("there are staves in this PDF, but no note heads that are known"),
    "pdfparts.no_clefs": N_(
        "only {sure} of the {staves} staves in this PDF begin with a clef that is known, and "
        "without one no note can be read"
    ),
    "pdfparts.bare_stems": N_(
        "{bare} of the {stems} stems in this PDF have no note head that is known, so the notes "
        "can't be read"
    ),
    # What a person asked for.
    "pdfparts.no_such_clef": N_(
        "there is no clef {name!q}; a clef is a sign and its line, such as F4, C4, C3 or G2, with "
        "8a or 8b after it for an octave up or down"
    ),
    "pdfparts.no_such_staff": N_("there is no staff {wish}; a system of this score has {count}"),
    "pdfparts.no_meter": N_(
        "no time signature was read, so the lengths of the notes could not be checked against it"
    ),
    "pdfparts.chosen_staff": N_("staff {staff} of {count} was read"),
    # Why a note that was read from a PDF is doubted, or what is odd in a system.
    "pdfparts.doubt_ledger": N_("of {needed} ledger lines {drawn} are drawn"),
    "pdfparts.doubt_between": N_("the head stands between a line and a space"),
    "pdfparts.doubt_head": N_("the shape of the head is unsure"),
    "pdfparts.doubt_rest": N_("the shape of the rest is unsure"),
    "pdfparts.doubt_accidental": N_("the accidental is unsure"),
    "pdfparts.doubt_clef": N_("the clef is unsure"),
    "pdfparts.doubt_key": N_("the key signature is unsure"),
    "pdfparts.doubt_octave": N_("an octave sign near it is unsure"),
    "pdfparts.doubt_unknown": N_("an unknown sign stands on the staff before it"),
    "pdfparts.doubt_range": N_("it lies beyond a trombone's range in this clef"),
    "pdfparts.doubt_no_stem": N_("the head has no stem"),
    # Translators: {filled} and {asked} are whole numbers or fractions, such as 7/2.
    "pdfparts.doubt_bar_sum": N_(
        "the bar lasts {filled} quarter notes, but its time signature asks for {asked}"
    ),
    "pdfparts.headless_stems": NN_(
        "an upright line on the staff has no note head",
        "{count} upright lines on the staff have no note head",
    ),
    "pdfparts.odd_key": NN_(
        "the sign of the key signature is not that of a usual key",
        "the {count} signs of the key signature are not those of a usual key",
    ),
    "pdfparts.key_differs": N_(
        "the key signature is another than in the system before, and nothing announced a change"
    ),
}
