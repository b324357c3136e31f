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

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from handslide.edges.musicxml.scorepart import ScoreNote, ScoreWarning, warning
from handslide.edges.musicxml.signs import (
    Jump,
    MeasureSigns,
    add_barline,
    beat_q,
    direction_tempo,
    jumps_of,
    meter_q,
    number,
    silence,
    tempo_of,
)
from handslide.edges.musicxml.values import Fields, Lengths, Pitches, Sounding
from handslide.ground.facts import Fact, fact

_EPS_Q = 0.02
_SLACK_Q = 0.1
"""A measure this near to its meter is taken as full: rounded divisions add up to less."""
_FIELDS = frozenset(
    {
        "step", "alter", "octave", "duration", "voice", "type", "chord", "grace", "cue",
        "rest", "staff", "dot", "actual-notes", "normal-notes",
    }
)  # fmt: skip
_SIGNS = frozenset({"tie", "tied", "slur", "glissando", "slide"})
_GLIDES = frozenset({"glissando", "slide"})
Sign = tuple[str, str | None, Any]
"""Tag, ``type`` and element of a tie, slur or glide."""


@dataclass(slots=True)
class WrittenLine:
    """The columns of a line as written; times in quarter notes from the start of the part."""

    notes: list[ScoreNote] = field(default_factory=list)
    elements: list[Any] = field(default_factory=list)
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
    tempos: list[tuple[float, float]] = field(default_factory=list)
    """(quarters from the start, quarter notes a minute)"""
    warnings: list[ScoreWarning] = field(default_factory=list)
    staff: str | None = None


def read_line(roots: Iterable[Any], voice: str, *, small_notes: bool = False) -> WrittenLine:
    """The line of ``voice`` in a part.

    ``roots`` is the part's element, or in a timewise score its element in each measure.
    """
    reader = _Reader(voice, small_notes)
    for root in roots:
        reader.walk(root)
    reader.finish()
    return reader.line


class _Reader:
    def __init__(self, voice: str, small_notes: bool) -> None:
        self.voice = voice
        self.small_notes = small_notes
        self.line = WrittenLine()
        self.lengths = Lengths(self._warn)
        self.pitches = Pitches(self._warn)
        self.meter: float | None = None
        self.beat_q = 1.0
        self.measure, self.measure_index, self.measure_start = "", -1, 0.0
        self.is_open = self.implicit = False
        self.position = self.furthest = self.onset = 0.0
        self.count = 0
        self.held: tuple[Any, Fields, list[Sign], Sounding, float, float] | None = None
        self.held_chord: list[list[Sign]] = []
        self.line_end = -1.0
        self.ties: dict[int, int] = {}
        self.ties_before_ending: dict[int, int] = {}
        self.slurs: dict[str, int] = {}
        self.skipped: dict[str, tuple[str, int]] = {}
        self.other_voices: set[str] = set()

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

    # Measures

    def _part(self, element: Any) -> None:
        measure = element.getparent()
        if measure.tag == "measure":
            self._open_measure(measure)

    def _open_measure(self, element: Any) -> None:
        self._close_measure()
        line = self.line
        self.is_open, self.implicit = True, element.get("implicit") == "yes"
        self.measure = element.get("number", "")
        self.measure_index += 1
        line.numbers.append(self.measure)
        line.measure_q.append(self.measure_start)
        line.first_segment.append(len(line.start_q))
        self.position = self.furthest = self.onset = 0.0
        self.line_end = -1.0
        self.count = 0
        self.other_voices = set()

    def _close_measure(self) -> None:
        if not self.is_open:
            return
        if self.held is not None:
            self._add_held()
        length, meter = self.furthest, self.meter
        if meter is not None and (length == 0.0 or abs(length - meter) < _SLACK_Q):
            length = meter
        elif length == 0.0:
            length = 4.0
        elif meter is not None and length > meter and not self.implicit:
            self._warn("duration", fact("scores.long_measure", length=length, meter=meter))
        self.line.measure_length_q.append(length)
        self.line.meters.append((length if meter is None else meter, self.beat_q))
        if self.implicit or self.measure_index == 0:
            self.line.upbeats.add(self.measure_index)
        self.measure_start += length
        if self.other_voices and self.line_end < 0.0:
            others = sorted(self.other_voices)
            self._warn("voice", fact("scores.other_voices", voice=self.voice, others=others))

    def _signs(self) -> MeasureSigns:
        return self.line.signs.setdefault(self.measure_index, MeasureSigns())

    def _warn(self, kind: str, what: Fact, measure: str | None = None) -> None:
        where = self.measure if measure is None else measure
        self.line.warnings.append(warning(where, kind, what))

    # Notes

    def _note(self, element: Any, fields: Fields, signs: list[Sign]) -> None:
        length = self.lengths.of(fields, self.meter)
        chord = "chord" in fields
        if not chord:
            self.onset = self.position
            self.position += length
            if self.position > self.furthest:
                self.furthest = self.position
        voice = fields["voice"].text if "voice" in fields else "1"
        if voice != self.voice:
            if "step" in fields and silence(element, fields) is None:
                self.other_voices.add(voice or "1")
            return
        if not chord and self.held is not None:
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
        pitch = self.pitches.of(fields, element, self.measure)
        if self.held is None:
            self.held = (element, fields, signs, pitch, self.onset, length)
        else:
            self._add_to_chord(element, fields, signs, pitch)

    def _count_skipped(self, why: str) -> None:
        first, count = self.skipped.get(why, (self.measure, 0))
        self.skipped[why] = (first, count + 1)

    def _add_to_chord(
        self, element: Any, fields: Fields, signs: list[Sign], pitch: Sounding
    ) -> None:
        assert self.held is not None
        _, _, lower, held_pitch, onset, length = self.held
        if pitch[2] > held_pitch[2]:
            self.held = (element, fields, signs, pitch, onset, length)
        else:
            lower = signs
        self.held_chord.append(lower)

    def _add_held(self) -> None:
        """Add the note that was held back until it was clear whether a chord follows."""
        assert self.held is not None
        element, fields, signs, pitch, onset, length = self.held
        self.held = None
        line = self.line
        segment = len(line.start_q)
        if onset < self.line_end - _EPS_Q:
            self._leave_out(pitch)
            return
        self.line_end = onset + length
        head = self._tied_to(signs, pitch, segment, fields) if signs or self.ties else -1
        if head < 0:
            head = len(line.notes)
            self.count += 1
            note = ScoreNote(
                head, self.measure, self.measure_index, self.count,
                pitch[0], pitch[1], length, "grace" in fields,
            )  # fmt: skip
            line.notes.append(note)
            line.elements.append(element)
        else:
            line.joined.add(segment)
            line.notes[head] = line.notes[head]._replace(beats=line.notes[head].beats + length)
        line.start_q.append(self.measure_start + onset)
        line.length_q.append(length)
        line.head.append(head)
        if "grace" in fields:
            line.graces.add(segment)
        if signs:
            self._curves(signs, segment)
        if self.held_chord:
            self._close_chord(pitch, segment)

    def _leave_out(self, pitch: Sounding) -> None:
        self.held_chord = []
        self._warn("voice", fact("scores.busy_voice", note=pitch[0], voice=self.voice))

    def _close_chord(self, taken: Sounding, segment: int) -> None:
        for signs in self.held_chord:
            self._curves(signs, segment)
        count = len(self.held_chord) + 1
        self.held_chord = []
        if segment not in self.line.joined:
            self._warn("chord", fact("scores.chord", notes=count, taken=taken[0]))

    # Ties, slurs, glides

    def _tied_to(self, signs: list[Sign], pitch: Sounding, segment: int, fields: Fields) -> int:
        """Index of the note that this segment is tied to, or -1; keeps account of open ties."""
        kinds = [kind for tag, kind, _ in signs if tag == "tie"]
        if not kinds:
            kinds = [kind for tag, kind, _ in signs if tag == "tied"]
        if not kinds and not self.ties:
            return -1
        midi, head = pitch[2], -1
        if "stop" in kinds:
            before = self.ties.pop(midi, None)
            if before is not None:
                head = self.line.head[before]
            elif "start" not in kinds:
                self._warn("tie", fact("scores.tie_from_nowhere", note=pitch[0]))
        if self.ties and "grace" not in fields:
            self._drop_ties()
        if "start" in kinds:
            self.ties[midi] = segment
        return head

    def _drop_ties(self) -> None:
        for segment in self.ties.values():
            note = self.line.notes[self.line.head[segment]]
            self._warn("tie", fact("scores.tie_to_nowhere", note=note.written), note.measure)
        self.ties = {}

    def _curves(self, signs: list[Sign], segment: int) -> None:
        """Slurs and glides that end or start on this note; ends first."""
        for tag, kind, sign in signs:
            if kind == "stop" and tag == "slur":
                self._stop_slur(sign.get("number", "1"), segment)
        for tag, kind, sign in signs:
            if kind == "start":
                if tag == "slur":
                    self._start_slur(sign.get("number", "1"), segment)
                elif tag in _GLIDES:
                    self.line.gliding.add(segment)

    def _start_slur(self, label: str, segment: int) -> None:
        if self.slurs.get(label, segment) != segment:
            self._unclosed_slur(self.slurs[label])
        self.slurs[label] = segment

    def _stop_slur(self, label: str, segment: int) -> None:
        start = self.slurs.pop(label, None)
        if start is not None:
            self.line.slurred.update(range(start, segment))
        elif segment > 0:
            self.line.slurred.add(segment - 1)

    def _unclosed_slur(self, segment: int) -> None:
        self.line.slurred.add(segment)
        note = self.line.notes[self.line.head[segment]]
        self._warn("slur", fact("scores.open_slur", note=note.written), note.measure)

    # Everything that isn't a note

    def _backup(self, element: Any) -> None:
        self._move(element, -1.0)

    def _forward(self, element: Any) -> None:
        self._move(element, 1.0)

    def _move(self, element: Any, sign: float) -> None:
        duration = number(element.findtext("duration"))
        if duration is None or duration < 0.0:
            self._warn("duration", fact("scores.move_without_duration", tag=element.tag))
            return
        self.position += sign * duration / self.lengths.divisions
        if self.position < 0.0:
            if self.position < -_EPS_Q:
                self._warn("duration", fact("scores.backup_too_far"))
            self.position = 0.0
        self.furthest = max(self.furthest, self.position)

    def _attributes(self, element: Any) -> None:
        for child in element:
            if child.tag == "divisions":
                self.lengths.set_divisions(child.text)
            elif child.tag == "time":
                self.meter = meter_q(child)
                self.beat_q = beat_q(child)
            elif child.tag == "transpose":
                self.pitches.set_transpose(child)
            elif child.tag == "measure-style":
                self._measure_style(child)

    def _measure_style(self, element: Any) -> None:
        if any(one.get("type") == "start" for one in element.iter("measure-repeat")):
            self._warn("repeat", fact("scores.measure_repeat"))

    def _direction(self, element: Any) -> None:
        at_q = self.position
        offset = number(element.findtext("sound/offset") or element.findtext("offset"))
        if offset is not None:
            at_q = max(0.0, at_q + offset / self.lengths.divisions)
        tempo = direction_tempo(element)
        if tempo is not None:
            self.line.tempos.append((self.measure_start + at_q, tempo))
        self._add_jumps(list(jumps_of(element, at_q)))

    def _sound(self, element: Any) -> None:
        if element.getparent().tag == "direction":
            return
        tempo = tempo_of(element)
        if tempo is not None:
            self.line.tempos.append((self.measure_start + self.position, tempo))
        self._add_jumps(list(jumps_of(element, self.position)))

    def _add_jumps(self, jumps: list[Jump]) -> None:
        if jumps:
            self._signs().jumps.extend(jumps)

    def _barline(self, element: Any) -> None:
        signs = self._signs()
        had_ending = signs.ending is not None
        add_barline(signs, element)
        if element.get("segno") is not None or element.find("segno") is not None:
            signs.jumps.append(Jump("segno", element.get("segno") or "", self.position))
        if element.get("coda") is not None or element.find("coda") is not None:
            signs.jumps.append(Jump("coda", element.get("coda") or "", self.position))
        if signs.ending is not None and not had_ending:
            self._open_ending()

    def _open_ending(self) -> None:
        """A later ending continues the ties that were open before the first one."""
        before = self.line.signs.get(self.measure_index - 1)
        if before is not None and before.ending_stops:
            self.ties = dict(self.ties_before_ending)
        else:
            self.ties_before_ending = dict(self.ties)

    # The end

    def finish(self) -> None:
        self._close_measure()
        self._drop_ties()
        for segment in self.slurs.values():
            self._unclosed_slur(segment)
        kinds = {"cue": "scores.cue_notes", "hidden": "scores.hidden_notes"}
        for why, (measure, count) in self.skipped.items():
            self._warn(why, fact(kinds[why], count=count), measure)


_HANDLERS: dict[Any, Any] = {
    "part": _Reader._part,
    "measure": _Reader._open_measure,
    "backup": _Reader._backup,
    "forward": _Reader._forward,
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
