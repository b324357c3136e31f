"""Trill signs over the notes of a part, and the upper note that each means."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.musicxml.signs import number
from handslide.edges.musicxml.staves import key_alters, measures_of
from handslide.ground.pitch import Pitch

_SIGNS = ("trill-mark", "shake")
_MARKS = {
    "flat": -1, "sharp": 1, "natural": 0, "flat-flat": -2, "double-sharp": 2, "sharp-sharp": 2,
    "natural-flat": -1, "natural-sharp": 1,
}  # fmt: skip


class Trill(NamedTuple):
    """A trill over a written note: its ``index`` in the part, and the ``upper`` sounding note."""

    note: int
    upper: Pitch


def read_trills(score: Score, part: ScorePart) -> tuple[Trill, ...]:
    """The trills of a part.

    The upper note is the next letter above: altered as an accidental over the trill says, else as
    a note of that letter before it in its measure was, else as the key has it.
    """
    heads = {note.ordinal: note for note in part.notes}
    found = []
    ordinal = -1
    alters: Mapping[str, float] = key_alters(0)
    for measure in measures_of(score.part_roots(part.part_id)):
        here: dict[tuple[str, int], float] = {}
        has_trills = next(measure.iter(*_SIGNS), None) is not None
        for element in measure.iterchildren("attributes", "note"):
            if element.tag == "attributes":
                fifths = number(element.findtext("key/fifths"))
                alters = alters if fifths is None else key_alters(int(fifths))
                continue
            ordinal += 1
            if not has_trills:
                continue
            note = heads.get(ordinal)
            if note is not None and _has_trill(element):
                upper = _upper(note.written, element, here, alters)
                steps = _letters(note.sounding) - _letters(note.written)
                shift = note.sounding.midi - note.written.midi
                found.append(Trill(note.index, upper.transposed(steps, shift)))
            _remember(element, here)
    return tuple(found)


def _has_trill(note: Any) -> bool:
    return any(note.find(f"notations/ornaments/{sign}") is not None for sign in _SIGNS)


def _upper(
    written: Pitch, note: Any, here: Mapping[tuple[str, int], float], alters: Mapping[str, float]
) -> Pitch:
    plain = Pitch(written.step, 0, written.octave)
    above = plain.transposed(1, 0)
    step, octave = above.step, above.octave
    alter = here.get((step, octave), alters[step])
    for mark in note.iterfind("notations/ornaments/accidental-mark"):
        if mark.get("placement") != "below":
            alter = _MARKS.get((mark.text or "").strip(), alter)
    return Pitch(step, round(alter), octave)


def _remember(note: Any, here: dict[tuple[str, int], float]) -> None:
    step, octave = note.findtext("pitch/step"), number(note.findtext("pitch/octave"))
    if step and octave is not None:
        here[step.strip(), int(octave)] = number(note.findtext("pitch/alter") or "0") or 0.0


def _letters(pitch: Pitch) -> int:
    return 7 * pitch.octave + "CDEFGAB".index(pitch.step)
