"""Names of things of charts and marks."""

from collections.abc import Mapping

from handslide.words.choices import (
    CLEF_NAMES,
    NOTE_NAMINGS,
    ORIENTATIONS,
    PAPER_NAMES,
    SHEET_ABOUT,
    SHEET_NAMES,
)
from handslide.words.messages import N_, Message

NAMES: Mapping[str, Mapping[str, Message]] = {
    "sheet": SHEET_NAMES,
    "sheet_about": SHEET_ABOUT,
    "clef": CLEF_NAMES,
    "paper": PAPER_NAMES,
    "note_names": NOTE_NAMINGS,
    "orientation": ORIENTATIONS,
    "marks": {
        "auto": N_("usual: T, or letters"),
        "thumb": N_("T (thumb)"),
        "letter": N_("letter of the loop: F, G♭"),
        "number": N_("number: V1, V2"),
        "open": N_("as on the open horn (3½)"),
        "valve": N_("along the valve's own semitones"),
        "arabic": N_("6"),
        "roman": N_("VI"),
    },
}
