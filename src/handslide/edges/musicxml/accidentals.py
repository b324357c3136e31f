"""Printed accidentals after notes have got other pitches.

An accidental holds for its letter and octave on its staff to the end of the measure; a tied note
needs none. One that the file showed without need is a courtesy and stays.
"""

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from lxml import etree

from handslide.edges.musicxml.marks import remove_element
from handslide.edges.musicxml.staves import StaffNote
from handslide.ground.pitch import Pitch

NAMES = {
    0.0: "natural", 1.0: "sharp", -1.0: "flat", 2.0: "double-sharp", -2.0: "flat-flat",
    0.5: "quarter-sharp", -0.5: "quarter-flat",
    1.5: "three-quarters-sharp", -1.5: "three-quarters-flat",
}  # fmt: skip
ALTERS = {name: alter for alter, name in NAMES.items()} | {
    "sharp-sharp": 2.0, "natural-sharp": 1.0, "natural-flat": -1.0, "double-flat": -2.0,
}  # fmt: skip
_AFTER = frozenset(
    {
        "time-modification", "stem", "notehead", "notehead-text", "staff", "beam", "notations",
        "lyric", "play", "listen",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Moved:
    """A note with the pitch that it gets, and the alterations of the key that it gets."""

    note: StaffNote
    pitch: Pitch
    alters: Mapping[str, float]

    @property
    def alter(self) -> float:
        """The new alteration in semitones, quarter tones and all."""
        return self.pitch.alter + self.note.fraction


@dataclass(slots=True)
class _Bar:
    """What holds in a measure, by letter and octave, until the key changes."""

    key: Any = None
    held: dict[tuple[str, int], float] = field(default_factory=dict)

    def needs(
        self, key: Any, pitch: Pitch, alter: float, alters: Mapping[str, float], *, tied: bool
    ) -> bool:
        """Whether this note must show its accidental."""
        if key is not self.key:
            self.key, self.held = key, {}
        if tied:
            return False
        return self.held.get((pitch.step, pitch.octave), alters[pitch.step]) != alter

    def show(self, pitch: Pitch, alter: float) -> None:
        self.held[pitch.step, pitch.octave] = alter


def rewrite_accidentals(moved: Sequence[Moved]) -> None:
    """Show the accidentals that the new pitches need, and the courtesies that were there.

    ``moved`` are all pitched notes of a part in the order of time.
    """

    def place(one: Moved) -> tuple[int, str]:
        return one.note.measure, one.note.staff

    for _, notes in itertools.groupby(sorted(moved, key=place), key=place):
        _rewrite_bar(notes)


def _rewrite_bar(notes: Iterable[Moved]) -> None:
    old, new = _Bar(), _Bar()
    for one in notes:
        note = one.note
        assert note.pitch is not None
        shown = note.element.find("accidental")
        needed = old.needs(note.key, note.pitch, note.alter, note.key.alters, tied=note.tied_to)
        if needed or shown is not None:
            old.show(note.pitch, note.alter)
        courtesy = shown is not None and not needed
        needed = new.needs(note.key, one.pitch, one.alter, one.alters, tied=note.tied_to)
        if needed or courtesy:
            new.show(one.pitch, one.alter)
        hidden = note.element.get("print-object") == "no"
        _print(note.element, shown, one.alter, wanted=(needed or courtesy) and not hidden)


def _print(note: Any, shown: Any, alter: float, *, wanted: bool) -> None:
    name = NAMES.get(alter)
    if not wanted:
        if shown is not None:
            remove_element(shown)
        return
    if name is None:  # an alteration without a usual sign keeps what it had
        return
    if shown is None:
        shown = etree.Element("accidental")
        _insert(note, shown)
    if ALTERS.get((shown.text or "").strip()) != alter:
        shown.text = name
        shown.attrib.pop("smufl", None)


def _insert(note: Any, accidental: Any) -> None:
    before = None
    for child in note:
        if child.tag in _AFTER:
            break
        before = child
    if before is None:  # a note without a pitch before its other children isn't MusicXML
        accidental.tail = note.text
        note.insert(0, accidental)
        return
    accidental.tail, before.tail = before.tail, note.text
    before.addnext(accidental)


def rewrite_accidental_marks(one: Moved) -> None:
    """The small accidentals of trills and turns, which belong to the note above or below."""
    note = one.note
    assert note.pitch is not None
    for mark in list(note.element.iter("accidental-mark")):
        alter = ALTERS.get((mark.text or "").strip())
        if alter is None or alter != round(alter):
            continue
        way = -1 if mark.get("placement") == "below" else 1
        beside = note.pitch.transposed(way, 0)
        beside = Pitch(beside.step, int(alter), beside.octave)
        letters = _letters(one.pitch) - _letters(note.pitch)
        new = beside.transposed(letters, one.pitch.midi - note.pitch.midi)
        name = NAMES.get(float(new.alter))
        if name is not None and float(new.alter) != alter:
            mark.text = name


def _letters(pitch: Pitch) -> int:
    return 7 * pitch.octave + "CDEFGAB".index(pitch.step)
