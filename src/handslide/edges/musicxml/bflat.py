"""Brass-band parts: written in treble clef a major ninth above their sound."""

import re
from typing import Any

from handslide.edges.musicxml.parts import Part
from handslide.edges.musicxml.signs import number
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage
from handslide.instrument.markstyle import SOUNDS

_IN_B_FLAT = re.compile(
    r"\bb(?:b|\s?flat|-flat|\s?bemol)?\b(?=.*\b(?:tromb|posaun|bariton|euphon|tuba|horn))|"
    r"\b(?:in|en|i)\s+(?:b(?:b|\s?flat|-flat)?|sib|si\s?b(?:emol)?)(?:\b|$)|"
    r"(?:\(|\s)b(?:b|\s?flat|-flat)\)?(?:$|\s)"
)


def shift_of(sounds: str | None) -> tuple[int, int]:
    """Letters and semitones from written to sounding notes. Raises BadUsage."""
    if sounds is None or sounds == "as-written":
        return (0, 0)
    if sounds not in SOUNDS:
        raise BadUsage("usage.sounds", name=sounds, known=", ".join(SOUNDS))
    clef = CLEFS["treble-bb"]
    return (-clef.letters_up, -clef.semitones_up)


def seems_bflat(part: Part) -> bool:
    """Whether a part is called one in B flat and begins in treble clef, but isn't transposed."""
    if not any(_IN_B_FLAT.search(_plain(name)) for name in part.names):
        return False
    clef = None
    for measure in part.measures():
        for attributes in measure.iterchildren("attributes"):
            if any(_transposes(one) for one in attributes.iterchildren("transpose")):
                return False
            clef = attributes.find("clef") if clef is None else clef
    if clef is None:
        return False
    octaves = number(clef.findtext("clef-octave-change")) or 0.0
    return (clef.findtext("sign") or "").strip() == "G" and octaves == 0.0


def _transposes(element: Any) -> bool:
    tags = ("chromatic", "octave-change")
    return any((number(element.findtext(tag)) or 0.0) != 0.0 for tag in tags)


def _plain(name: str) -> str:
    name = name.replace("\u266d", "b").replace("♭", "b").casefold()
    return name.replace("é", "e")
