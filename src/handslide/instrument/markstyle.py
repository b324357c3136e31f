"""How marks may be written, which notes may get one, and the like: the one list of each."""

from dataclasses import dataclass

from handslide.ground.errors import BadUsage

VALVE_SIGNS = ("thumb", "letter", "number")
COUNTINGS = ("open", "valve")
NUMERALS = ("arabic", "roman")
# Which notes get a mark: all; those away from their usual place; the first of a pitch and changes.
SHOWN = ("all", "unusual", "new")
SHOWN_ON_SHEETS = (*SHOWN, "none")
# What becomes of fingerings that are in a part: those that are places of their notes stay, all go,
# the route is locked to them, or they are only compared with the best route.
EXISTING = ("keep", "replace", "lock", "check")
# How a part without a transposition in its file sounds: as written, or a major ninth lower, as
# brass-band parts in treble clef.
SOUNDS = ("as-written", "Bb-treble")
# Where the report goes: behind the part, in a file of its own, nowhere.
REPORTS = ("page", "file", "none")


@dataclass(frozen=True, slots=True)
class MarkStyle:
    """How marks are written.

    ``signs``: ``thumb`` (T for one valve; M for a second), ``letter`` (the note that the closed
    horn gives), ``number`` (V1, V2, V12), or None for thumb on one valve and letter on more.
    ``counting``: positions on the ``open`` horn's scale, or along the ``valve``'s own semitones.
    """

    signs: str | None = None
    counting: str = "open"
    numerals: str = "arabic"


def parse_style(text: str) -> MarkStyle:
    """Read a mark style: words such as ``letter`` or ``number,valve,roman``.

    Raises
    ------
    BadUsage
        When a word is unknown.
    """
    chosen: dict[str, str] = {}
    for word in text.replace(",", " ").split():
        for key, words in (("signs", VALVE_SIGNS), ("counting", COUNTINGS), ("numerals", NUMERALS)):
            if word in words:
                chosen[key] = word
                break
        else:
            known = VALVE_SIGNS + COUNTINGS + NUMERALS
            raise BadUsage("marks.style", word=word, known=", ".join(known))
    return MarkStyle(**chosen)
