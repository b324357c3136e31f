"""What is told of a sheet while it is made, and how much of it is done by then."""

from handslide.words.messages import N_
from handslide.words.speech import Speech

ENGRAVING = N_("The music is being engraved …")
TYPESETTING = N_("The pages are being set …")
DRAWING = N_("Sheet {done} of {total} is being drawn …")
READY = N_("The PDF is ready.")
OPEN = N_("Open the PDF")
FILE_READY = N_("The file is ready.")
FILE_OPEN = N_("Open the file")

_WORDS = {"engraving": ENGRAVING, "typesetting": TYPESETTING, "drawing": DRAWING}
# Where each stage begins and ends, of the whole.
_SHARES = {"engraving": (0.0, 0.8), "drawing": (0.0, 0.5), "typesetting": (0.8, 1.0)}


def stage_words(say: Speech, stage: str, done: int, total: int) -> str:
    """What is being done now."""
    return say(_WORDS[stage], done=done, total=total)


def stage_share(stage: str, done: int, total: int) -> float:
    """How much of the whole is done, from 0 to 1."""
    begin, end = _SHARES[stage]
    return begin + (end - begin) * (done / total if total else 1.0)
