"""Names of things of charts and marks."""

from collections.abc import Mapping

from handslide.words.charts import SHEETS
from handslide.words.messages import N_, NP_, Message

NAMES: Mapping[str, Mapping[str, Message]] = {
    "sheet": {name: words.name for name, words in SHEETS.items()},
    "sheet_about": {name: words.about for name, words in SHEETS.items()},
    "clef": {
        "bass": N_("bass clef"),
        "tenor": N_("tenor clef"),
        "alto": N_("alto clef"),
        "treble": N_("treble clef, concert pitch"),
        # Translators: the brass band's clef: a written C4 sounds B flat 2.
        "treble-bb": N_("treble clef in B♭, sounding a major ninth lower"),
    },
    "paper": {
        "a4": NP_("paper", "A4"),
        "letter": NP_("paper", "US Letter"),
        "a3": NP_("paper", "A3, for a wall"),
        "a2": NP_("paper", "A2, for a wall"),
        "tabloid": NP_("paper", "Tabloid (11 × 17 in), for a wall"),
    },
    "note_names": {
        # Translators: ways to name notes. In German names H is the English B, and B is B flat.
        "english": NP_("note names", "English (B, B♭)"),
        "german": NP_("note names", "German (H, B)"),
        "do": NP_("note names", "do, re, mi"),
    },
    "orientation": {
        "auto": NP_("how a page lies", "as it fits"),
        "portrait": NP_("how a page lies", "portrait"),
        "landscape": NP_("how a page lies", "landscape"),
    },
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
