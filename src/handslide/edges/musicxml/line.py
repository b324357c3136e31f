"""One walk through a part: its measures' elements to the notes of one voice, in quarter notes.

Conventions
-----------
- ``<pitch>`` is the written pitch. It already contains an octave clef and an 8va line; only
  ``<transpose>`` leads from it to the sounding pitch. ``<double>`` adds an octave for a second
  player and doesn't move this one.
- A *segment* is one printed note head of the line; tied segments belong to one note.
- Of a chord the player takes the top note.
- Cue notes and hidden notes are rests.

The tree is walked flat, in the order of the file, and only over the elements in `_TAGS`: the
library leaves out the others (stems, beams, layout) before they become Python objects, which
saves a third of the time.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from handslide.edges.musicxml.clock import Clock
from handslide.edges.musicxml.curves import Curves
from handslide.edges.musicxml.roadsigns import RoadSigns
from handslide.edges.musicxml.scorepart import ScoreNote, ScoreWarning
from handslide.edges.musicxml.signs import MeasureSigns, Modulation, silence
from handslide.edges.musicxml.ties import Sign, Ties
from handslide.edges.musicxml.values import Fields, Pitches, Sounding
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import MEASURE_LETTERS

_EPS_Q = 0.02
_FIELDS = frozenset(
    {
        "step", "alter", "octave", "duration", "voice", "type", "chord", "grace", "cue",
        "rest", "staff", "dot", "actual-notes", "normal-notes",
    }
)  # fmt: skip
_SIGNS = frozenset({"tie", "tied", "slur", "glissando", "slide"})
_SKIPPED = {"cue": "scores.cue_notes", "hidden": "scores.hidden_notes"}


@dataclass(slots=True)
class WrittenLine:
    """The columns of a line as written; times in quarter notes from the start of the part."""

    notes: list[ScoreNote] = field(default_factory=list)
    start_q: list[float] = field(default_factory=list)
    length_q: list[float] = field(default_factory=list)
    head: list[int] = field(default_factory=list)
    """For each segment the index of its note."""
    joined: set[int] = field(default_factory=set)
    """Segments tied to the one before."""
    graces: set[int] = field(default_factory=set)
    slurred: set[int] = field(default_factory=set)
    """Segments slurred to the next one."""
    gliding: set[int] = field(default_factory=set)
    first_segment: list[int] = field(default_factory=list)
    """For each measure the number of segments before it."""
    measure_q: list[float] = field(default_factory=list)
    measure_length_q: list[float] = field(default_factory=list)
    meters: list[tuple[float, float]] = field(default_factory=list)
    """For each measure the quarters that its meter has, and those of a beat."""
    upbeats: set[int] = field(default_factory=set)
    """Measures that may be short: the first, and those marked as implicit."""
    numbers: list[str] = field(default_factory=list)
    signs: dict[int, MeasureSigns] = field(default_factory=dict)
    tempos: list[tuple[float, float | Modulation]] = field(default_factory=list)
    """(quarters from the start, quarter notes a minute or what becomes of them)"""
    warnings: list[ScoreWarning] = field(default_factory=list)
    staff: str | None = None


def read_line(
    roots: Iterable[Any],
    voice: str,
    *,
    small_notes: bool = False,
    shift: tuple[int, int] = (0, 0),
) -> WrittenLine:
    """The line of ``voice`` in a part.

    ``roots`` is the part's element, or in a timewise score its element in each measure. ``shift``
    leads from written to sounding notes, in letters and semitones, where the file doesn't say.
    """
    reader = _Reader(voice, small_notes, shift)
    for root in roots:
        reader.walk(root)
    reader.finish()
    return reader.line


@dataclass(slots=True)
class _Measure:
    """The measure that is being read: as printed, from 0, and what has been found in it."""

    number: str = ""
    index: int = -1
    implicit: bool = False
    notes: int = 0
    line_end_q: float = -1.0
    """Where the line's last note in it ends; negative while there is none."""
    other_voices: set[str] = field(default_factory=set)


class _Reader:
    """The walk: gives each element to the piece that keeps account of it, and gathers the line."""

    def __init__(self, voice: str, small_notes: bool, shift: tuple[int, int]) -> None:
        self.voice = voice
        self.small_notes = small_notes
        self.line = WrittenLine()
        self.clock = Clock(self._warn)
        self.pitches = Pitches(self._warn, shift)
        self.ties = Ties(self._warn, self._lost_tie)
        self.curves = Curves(self._open_slur)
        self.road = RoadSigns(self.clock)
        self.measure = _Measure()
        self.ordinal = -1
        self.held: tuple[int, Fields, list[Sign], Sounding, float, float] | None = None
        self.held_chord: list[list[Sign]] = []
        self.skipped: dict[str, tuple[int, int]] = {}

    def walk(self, root: Any) -> None:
        note: Any = None
        fields: dict[Any, Any] = {}
        signs: list[Sign] = []
        for element in root.iter(*_TAGS):
            tag = element.tag
            if tag in _FIELDS:
                fields[tag] = element
            elif tag in _SIGNS:
                signs.append((tag, element.get("type"), element))
            else:
                if note is not None:
                    self._note(note, fields, signs)
                if tag == "note":
                    note, fields, signs = element, {}, []
                else:
                    note = None
                    _HANDLERS[tag](self, element)
        if note is not None:
            self._note(note, fields, signs)

    def finish(self) -> None:
        self._close_measure()
        self.ties.drop()
        self.curves.finish()
        for why, (measure, count) in self.skipped.items():
            self._warn(why, fact(_SKIPPED[why], count=count), measure)
        line, road = self.line, self.road
        line.slurred, line.gliding = self.curves.slurred, self.curves.gliding
        line.signs, line.tempos = road.by_measure, road.tempos

    # What the pieces have to say

    def _warn(self, kind: str, what: Fact, measure: int | None = None) -> None:
        """Warn of a measure, by its index; None: the one that is being read."""
        index = self.measure.index if measure is None else measure
        where = self.line.numbers[index] if index >= 0 else ""
        warning = ScoreWarning(where, kind, what, named=True, measure_index=index)
        self.line.warnings.append(warning)

    def _lost_tie(self, note: int) -> None:
        one = self.line.notes[note]
        self._warn("tie", fact("scores.tie_to_nowhere", note=one.written), one.measure_index)

    def _open_slur(self, segment: int) -> None:
        one = self.line.notes[self.line.head[segment]]
        self._warn("slur", fact("scores.open_slur", note=one.written), one.measure_index)

    # Measures

    def _part(self, element: Any) -> None:
        measure = element.getparent()
        if measure.tag == "measure":
            self._open_measure(measure)

    def _open_measure(self, element: Any) -> None:
        self._close_measure()
        line, before = self.line, self.measure
        implicit = element.get("implicit") == "yes"
        self.measure = _Measure(
            element.get("number", "")[:MEASURE_LETTERS], before.index + 1, implicit
        )
        line.numbers.append(self.measure.number)
        line.measure_q.append(self.clock.measure_start)
        line.first_segment.append(len(line.start_q))

    def _close_measure(self) -> None:
        here, clock = self.measure, self.clock
        if here.index < 0:
            return
        if self.held is not None:
            self._add_held()
        length, meter = clock.close_measure(implicit=here.implicit), clock.meter
        self.line.measure_length_q.append(length)
        self.line.meters.append((length if meter is None else meter, clock.beat_q))
        if here.implicit or here.index == 0:
            self.line.upbeats.add(here.index)
        if here.other_voices and here.line_end_q < 0.0:
            others = sorted(here.other_voices)
            self._warn("voice", fact("scores.other_voices", voice=self.voice, others=others))

    # Notes

    def _note(self, element: Any, fields: Fields, signs: list[Sign]) -> None:
        self.ordinal += 1
        length = self.clock.strike(fields)
        voice = fields["voice"].text if "voice" in fields else "1"
        if voice != self.voice:
            others = self.measure.other_voices
            if voice not in others and "step" in fields and silence(element, fields) is None:
                others.add(voice or "1")
            return
        if self.held is not None and "chord" not in fields:
            self._add_held()
        if "step" not in fields and "octave" not in fields:
            return
        small = "type" in fields and fields["type"].get("size") is not None
        if small or "cue" in fields or element.get("print-object") is not None:
            why = silence(element, fields)
            own = why == "cue" and self.small_notes and "cue" not in fields
            if why is not None and not own:
                self._count_skipped(why)
                return
        pitch = self.pitches.of(fields, element, self.measure.number)
        if self.held is None:
            self.held = (self.ordinal, fields, signs, pitch, self.clock.onset, length)
        else:
            self._add_to_chord(fields, signs, pitch)

    def _count_skipped(self, why: str) -> None:
        first, count = self.skipped.get(why, (self.measure.index, 0))
        self.skipped[why] = (first, count + 1)

    def _add_to_chord(self, fields: Fields, signs: list[Sign], pitch: Sounding) -> None:
        assert self.held is not None
        _, _, lower, held_pitch, onset, length = self.held
        if pitch[2] > held_pitch[2]:
            self.held = (self.ordinal, fields, signs, pitch, onset, length)
        else:
            lower = signs
        self.held_chord.append(lower)

    def _add_held(self) -> None:
        """Add the note that was held back until it was clear whether a chord follows."""
        assert self.held is not None
        ordinal, fields, signs, pitch, onset, length = self.held
        self.held = None
        line, here = self.line, self.measure
        if onset < here.line_end_q - _EPS_Q:
            self.held_chord = []
            self._warn("voice", fact("scores.busy_voice", note=pitch[0], voice=self.voice))
            return
        here.line_end_q = onset + length
        grace = "grace" in fields
        segment, head = len(line.start_q), len(line.notes)
        if signs or self.ties.open:
            head = self.ties.note_of(signs, pitch, head, grace=grace)
        if head == len(line.notes):
            here.notes += 1
            line.notes.append(
                ScoreNote(
                    head, here.number, here.index, here.notes, pitch[0], pitch[1], length, grace,
                    ordinal,
                )
            )  # fmt: skip
        else:
            line.joined.add(segment)
            line.notes[head] = line.notes[head]._replace(beats=line.notes[head].beats + length)
        line.start_q.append(self.clock.measure_start + onset)
        line.length_q.append(length)
        line.head.append(head)
        if grace:
            line.graces.add(segment)
        if signs:
            self.curves.add(signs, segment)
        if self.held_chord:
            self._close_chord(pitch, segment)

    def _close_chord(self, taken: Sounding, segment: int) -> None:
        for signs in self.held_chord:
            self.curves.add(signs, segment)
        count = len(self.held_chord) + 1
        self.held_chord = []
        if segment not in self.line.joined:
            self._warn("chord", fact("scores.chord", notes=count, taken=taken[0]))

    # Everything that isn't a note

    def _move(self, element: Any) -> None:
        self.clock.move(element)

    def _attributes(self, element: Any) -> None:
        for child in element:
            if child.tag == "divisions":
                self.clock.set_divisions(child.text)
            elif child.tag == "time":
                self.clock.set_time(child)
            elif child.tag == "transpose":
                self.pitches.set_transpose(child)
            elif child.tag == "measure-style":
                self._measure_style(child)

    def _measure_style(self, element: Any) -> None:
        if any(one.get("type") == "start" for one in element.iter("measure-repeat")):
            self._warn("repeat", fact("scores.measure_repeat"))

    def _direction(self, element: Any) -> None:
        self.road.add_direction(element, self.measure.index)

    def _sound(self, element: Any) -> None:
        if element.getparent().tag != "direction":
            self.road.add_sound(element, self.measure.index)

    def _barline(self, element: Any) -> None:
        if self.road.add_barline(element, self.measure.index):
            self.ties.open_ending(again=self.road.follows_ending(self.measure.index))


_HANDLERS: Mapping[Any, Any] = {
    "part": _Reader._part,
    "measure": _Reader._open_measure,
    "backup": _Reader._move,
    "forward": _Reader._move,
    "attributes": _Reader._attributes,
    "direction": _Reader._direction,
    "sound": _Reader._sound,
    "barline": _Reader._barline,
    # These have a duration or a sound of their own that isn't the note's before them.
    "figured-bass": lambda reader, element: None,
    "harmony": lambda reader, element: None,
    "listening": lambda reader, element: None,
}
_TAGS = ("note", *_HANDLERS, *sorted(_FIELDS), *sorted(_SIGNS))
