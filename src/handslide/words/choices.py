"""Names of what can be chosen: chart sheets, clefs, papers, ways to name notes, how a page lies.

Each table has the same keys as the registry that it names, and is used on the command line, on the
pages and on paper.
"""

from collections.abc import Mapping

from handslide.words.messages import N_, NP_, Message

SHEET_NAMES: Mapping[str, Message] = {
    "all": NP_("chart sheet", "All notes"),
    "valve": NP_("chart sheet", "Notes for the valve"),
    "open": NP_("chart sheet", "Notes without the valve"),
    "alternates": NP_("chart sheet", "Notes with several places"),
    "grid": NP_("chart sheet", "Harmonic grid"),
    "strip": NP_("chart sheet", "Slide strip"),
    "compare": NP_("chart sheet", "Two horns compared"),
}
SHEET_ABOUT: Mapping[str, Message] = {
    "all": N_("Every note with its places and the slide drawn to scale."),
    "valve": N_("The notes that are best taken with a valve."),
    "open": N_("The horn as if it had no valve."),
    "alternates": N_("The notes that lie in more than one place."),
    "grid": N_("Every partial against the slide: all that the horn can play."),
    "strip": N_("A paper ruler at true size, to lay along the slide."),
    "compare": N_("Both horns beside each other, note by note."),
}
CLEF_NAMES: Mapping[str, Message] = {
    "bass": N_("bass clef"),
    "tenor": N_("tenor clef"),
    "alto": N_("alto clef"),
    "treble": N_("treble clef, as it sounds"),
    # Translators: the brass band's clef: a written C4 sounds B flat 2.
    "treble-bb": N_("treble clef in B♭, as in brass bands"),
}
PAPER_NAMES: Mapping[str, Message] = {
    "a4": NP_("paper", "A4"),
    "letter": NP_("paper", "US Letter"),
}
NOTE_NAMINGS: Mapping[str, Message] = {
    # Translators: ways to name notes. In German names H is the English B, and B the English B flat.
    "english": NP_("note names", "English (B, B♭)"),
    "german": NP_("note names", "German (H, B)"),
    "do": NP_("note names", "do, re, mi"),
}
ORIENTATIONS: Mapping[str, Message] = {
    "auto": NP_("how a page lies", "as it fits"),
    "portrait": NP_("how a page lies", "portrait"),
    "landscape": NP_("how a page lies", "landscape"),
}
