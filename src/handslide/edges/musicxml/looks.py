"""A part at a glance: what it is called, its clefs and its range, without reading it as music."""

from dataclasses import dataclass
from typing import Any

from handslide.edges.musicxml.parts import Part
from handslide.edges.musicxml.signs import silence_of
from handslide.ground.pitch import STEPS
from handslide.ground.wholenumber import whole_number


@dataclass(frozen=True, slots=True)
class PartLook:
    """What can be seen of a part.

    ``likeness`` is how much it is called a trombone's (0: not at all), ``clefs`` such as ``F4``,
    ``low`` and ``high`` the sounding MIDI notes that bound it (None without notes), ``chords`` how
    many notes stand over another.
    """

    part_id: str
    name: str
    names: tuple[str, ...]
    likeness: int
    notes: int
    chords: int
    staves: int
    clefs: tuple[str, ...]
    low: int | None
    high: int | None


def look_at(part: Part) -> PartLook:
    """Look at all of a part; cues don't count."""
    clefs: dict[str, None] = {}
    low: int | None = None
    high: int | None = None
    notes = chords = move = 0
    staves = 1
    for measure in part.measures():
        for element in measure.iterchildren("attributes", "note"):
            if element.tag == "attributes":
                staves = max(staves, _number(element.findtext("staves"), 1))
                clefs |= dict.fromkeys(map(_clef, element.iterchildren("clef")))
                for transpose in element.iterchildren("transpose"):
                    octaves = _number(transpose.findtext("octave-change"), 0)
                    move = _number(transpose.findtext("chromatic"), 0) + 12 * octaves
                continue
            pitch = element.find("pitch")
            if pitch is None or silence_of(element) is not None:
                continue
            notes += 1
            chords += element.find("chord") is not None
            midi = _midi(pitch)
            if midi is not None:
                midi += move
                low = midi if low is None or midi < low else low
                high = midi if high is None or midi > high else high
    return PartLook(
        part.part_id, part.name, part.names, part.likeness(),
        notes, chords, staves, tuple(clefs), low, high,
    )  # fmt: skip


def _clef(element: Any) -> str:
    sign = (element.findtext("sign") or "?").strip()[:12]
    return sign + (element.findtext("line") or "").strip()[:2]


def _midi(pitch: Any) -> int | None:
    step = (pitch.findtext("step") or "").strip()
    octave = whole_number((pitch.findtext("octave") or "").strip())
    if step not in STEPS or octave is None:
        return None
    return 12 * (octave + 1) + STEPS[step] + _number(pitch.findtext("alter"), 0)


def _number(text: str | None, default: int) -> int:
    try:
        return int(float(text)) if text else default
    except (ValueError, OverflowError):
        return default
