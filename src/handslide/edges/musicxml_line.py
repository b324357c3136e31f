"""One walk through a part: its measures' elements to the notes of one voice, in quarter notes.

Conventions
-----------
- ``<pitch>`` is the written pitch. It already contains an octave clef and an 8va line; only
  ``<transpose>`` leads from it to the sounding pitch. ``<double>`` adds an octave for a second
  player and doesn't move this one.
- A *segment* is one printed note head of the line; tied segments belong to one note.
- Of a chord the player takes the top note.
- Cue notes and hidden notes are rests.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from handslide.edges.musicxml_signs import (
    Jump,
    MeasureSigns,
    add_barline,
    direction_tempo,
    jumps_of,
    meter_q,
    nominal_q,
    number,
    silence,
    tempo_of,
)
from handslide.edges.scorepart import ScoreNote, ScoreWarning
from handslide.ground.errors import ScoreError
from handslide.ground.pitch import STEPS, Pitch, from_midi

_EPS_Q = 0.02
_SLACK_Q = 0.1
"""A measure this near to its meter is taken as full: rounded divisions add up to less."""
_NO_MEASURE = ""


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
    numbers: list[str] = field(default_factory=list)
    signs: dict[int, MeasureSigns] = field(default_factory=dict)
    tempos: list[tuple[float, float]] = field(default_factory=list)
    """(quarters from the start, quarter notes a minute)"""
    warnings: list[ScoreWarning] = field(default_factory=list)
    staff: str | None = None


def read_line(measures: Iterable[tuple[str, Any]], voice: str) -> WrittenLine:
    """The line of ``voice`` in a part given as (printed number, element with the notes)."""
    reader = _Reader(voice)
    for text, element in measures:
        reader.read_measure(text, element)
    reader.finish()
    return reader.line


class _Reader:
    def __init__(self, voice: str) -> None:
        self.voice = voice
        self.line = WrittenLine()
        self.divisions = 1.0
        self.lengths: dict[tuple[Any, ...], float] = {}
        self.pitches: dict[tuple[Any, ...], tuple[Pitch, Pitch, int]] = {}
        self.transpose = (0, 0)
        self.staff_transpose: dict[str, tuple[int, int]] = {}
        self.meter: float | None = None
        self.measure, self.measure_index, self.measure_start = _NO_MEASURE, -1, 0.0
        self.position = self.furthest = self.onset = 0.0
        self.count = 0
        self.held: tuple[Any, dict[Any, Any], tuple[Pitch, Pitch, int], float, float] | None = None
        self.held_chord: list[tuple[Any, dict[Any, Any]]] = []
        self.in_line = False
        self.line_end = -1.0
        self.ties: dict[int, int] = {}
        self.ties_before_ending: dict[int, int] = {}
        self.slurs: dict[str, int] = {}
        self.glides: dict[tuple[str, str], int] = {}
        self.skipped: dict[str, tuple[str, int]] = {}
        self.other_voices: dict[str, bool] = {}

    # Measures

    def read_measure(self, text: str, container: Any) -> None:
        line = self.line
        self.measure = text
        self.measure_index += 1
        line.numbers.append(text)
        line.measure_q.append(self.measure_start)
        line.first_segment.append(len(line.start_q))
        self.position = self.furthest = self.onset = 0.0
        self.line_end = -1.0
        self.count = 0
        self.other_voices = {}
        for element in container[:]:
            tag = element.tag
            if tag == "note":
                self._note(element)
            elif tag in _OTHERS:
                _OTHERS[tag](self, element)
        if self.held is not None:
            self._add_held()
        self._close_measure(container)

    def _close_measure(self, container: Any) -> None:
        length, meter = self.furthest, self.meter
        if meter is not None and (length == 0.0 or abs(length - meter) < _SLACK_Q):
            length = meter
        elif length == 0.0:
            length = 4.0
        elif meter is not None and length > meter and container.get("implicit") != "yes":
            self._warn("duration", f"lasts {length:g} quarter notes, but its meter has {meter:g}")
        self.line.measure_length_q.append(length)
        self.measure_start += length
        if self.other_voices and self.count == 0 and self.line_end < 0.0:
            voices = " and ".join(sorted(self.other_voices))
            self._warn("voice", f"voice {self.voice} has no notes here, but voice {voices} has")

    def _signs(self) -> MeasureSigns:
        return self.line.signs.setdefault(self.measure_index, MeasureSigns())

    def _warn(self, kind: str, text: str, measure: str | None = None) -> None:
        where = self.measure if measure is None else measure
        self.line.warnings.append(ScoreWarning(where, kind, f"measure {where}: {text}"))

    # Notes

    def _note(self, element: Any) -> None:
        fields = {child.tag: child for child in element[:]}
        try:
            key = (fields["duration"].text, fields["type"].text)
            length = self.lengths[key]
            if "dot" in fields or "time-modification" in fields:
                length = self._length(element, fields)
        except KeyError:
            length = self._length(element, fields)
        chord = "chord" in fields
        if not chord:
            self.onset = self.position
            self.position += length
            if self.position > self.furthest:
                self.furthest = self.position
        voice = fields["voice"].text if "voice" in fields else "1"
        if voice != self.voice:
            if "pitch" in fields and "cue" not in fields:
                self.other_voices[voice or "1"] = True
            return
        if not chord and self.held is not None:
            self._add_held()
        if "pitch" not in fields or self._silent(element, fields):
            return
        key = tuple([child.text for child in fields["pitch"][:]])
        pitch = self.pitches.get(key)
        if pitch is None or self.staff_transpose:
            pitch = self._pitch(key, fields)
        if self.held is None:
            self.held = (element, fields, pitch, self.onset, length)
        else:
            self._add_to_chord(element, fields, pitch)

    def _silent(self, element: Any, fields: dict[Any, Any]) -> bool:
        """Whether this pitched note is not for the player; counts why."""
        why = silence(element, fields.get("type"), cue="cue" in fields, grace="grace" in fields)
        if why is None:
            return False
        first, count = self.skipped.get(why, (self.measure, 0))
        self.skipped[why] = (first, count + 1)
        return True

    def _add_to_chord(
        self, element: Any, fields: dict[Any, Any], pitch: tuple[Pitch, Pitch, int]
    ) -> None:
        assert self.held is not None
        first, first_fields, first_pitch, onset, length = self.held
        lower, lower_fields = element, fields
        if pitch[2] > first_pitch[2]:
            self.held = (element, fields, pitch, onset, length)
            lower, lower_fields = first, first_fields
        self.held_chord.append((lower, lower_fields))

    def _add_held(self) -> None:
        """Add the note that was held back until it was clear whether a chord follows."""
        assert self.held is not None
        element, fields, pitch, onset, length = self.held
        self.held = None
        line = self.line
        segment = len(line.start_q)
        if onset < self.line_end - _EPS_Q:
            self.held_chord = []
            text = f"{pitch[0].pretty} starts while voice {self.voice} is still busy; left out"
            self._warn("voice", text)
            return
        grace = "grace" in fields
        self.line_end = onset + length
        if "tie" in fields or "notations" in fields or self.ties:
            head = self._tied_to(element, fields, pitch, segment)
        else:
            head = -1
        if head < 0:
            head = len(line.notes)
            self.count += 1
            line.notes.append(
                ScoreNote(
                    head, self.measure, self.measure_index, self.count,
                    pitch[0], pitch[1], length, grace,
                )
            )  # fmt: skip
            line.elements.append(element)
        else:
            line.joined.add(segment)
            note = line.notes[head]
            line.notes[head] = note._replace(beats=note.beats + length)
        line.start_q.append(self.measure_start + onset)
        line.length_q.append(length)
        line.head.append(head)
        if grace:
            line.graces.add(segment)
        if "notations" in fields:
            self._curves(element, segment)
        if self.held_chord:
            self._close_chord(pitch, segment)

    def _close_chord(self, taken: tuple[Pitch, Pitch, int], segment: int) -> None:
        for element, fields in self.held_chord:
            if "notations" in fields:
                self._curves(element, segment)
        count = len(self.held_chord) + 1
        self.held_chord = []
        if segment not in self.line.joined:
            self._warn("chord", f"of {count} notes at once the top one is taken, {taken[0].pretty}")

    # Lengths

    def _length(self, element: Any, fields: dict[Any, Any]) -> float:
        """Quarter notes, from the duration or else from the printed value; 0 for a grace note."""
        if "grace" in fields:
            return 0.0
        kind = fields["type"].text if "type" in fields else None
        text = fields["duration"].text if "duration" in fields else None
        dots = len(element.findall("dot")) if "dot" in fields else 0
        ratio = _tuplet(fields.get("time-modification"))
        key = (text, kind, dots, ratio)
        if key in self.lengths:
            return self.lengths[key]
        printed, length = nominal_q(kind, dots, ratio), number(text)
        if length is None or length <= 0.0:
            return self._length_without_duration(printed, fields, text)
        length /= self.divisions
        if printed is not None and "rest" not in fields and not _near(length, printed, self):
            self._warn(
                "duration",
                f"a note lasts {length:g} quarter notes, but is printed as {printed:g}; "
                "the duration was followed",
            )
        else:
            self.lengths[key] = length
            if not (ratio or dots):
                self.lengths[(text, kind)] = length
        return length

    def _length_without_duration(
        self, printed: float | None, fields: dict[Any, Any], text: str | None
    ) -> float:
        if "chord" in fields:
            return 0.0
        if printed is None:
            printed = self.meter or 4.0 if "rest" in fields else 1.0
        what = "no duration" if text is None else f"the duration {text.strip()!r}"
        self._warn("duration", f"a note has {what}; {printed:g} quarter notes were taken")
        return printed

    # Pitches

    def _pitch(self, key: tuple[Any, ...], fields: dict[Any, Any]) -> tuple[Pitch, Pitch, int]:
        """Written and sounding pitch and the sounding MIDI number, kept for the next such note."""
        transpose = self.transpose
        if self.staff_transpose:
            staff = fields["staff"].text if "staff" in fields else "1"
            transpose = self.staff_transpose.get(staff, transpose)
            key = (*key, staff, transpose)
            if key in self.pitches:
                return self.pitches[key]
        element = fields["pitch"]
        step = (element.findtext("step") or "").strip()
        octave, alter = number(element.findtext("octave")), number(element.findtext("alter") or "0")
        if step not in STEPS or octave is None or not -2 <= octave <= 12:
            raise ScoreError(
                f"measure {self.measure}, line {element.sourceline}: a note has no readable pitch "
                f"(step {step!r}, octave {element.findtext('octave')!r}); "
                "a step is C to B, an octave 0 to 9"
            )
        if alter is None or abs(alter) > 3:
            self._warn("pitch", f"the alteration {element.findtext('alter')!r} was left out")
            alter = 0.0
        # Halves go to the even side, so that a quarter-tone sharp and flat move alike.
        whole = round(alter)
        if whole != alter:
            self._warn("pitch", f"{step} altered by {alter:g} semitones was rounded to {whole}")
        written = Pitch(step, whole, int(octave))
        sounding = written if transpose == (0, 0) else written.transposed(*transpose)
        if abs(sounding.alter) > 2:
            sounding = from_midi(sounding.midi)
        found = (written, sounding, sounding.midi)
        self.pitches[key] = found
        return found

    # Ties, slurs, glides

    def _tied_to(
        self, element: Any, fields: dict[Any, Any], pitch: tuple[Pitch, Pitch, int], segment: int
    ) -> int:
        """Index of the note that this segment is tied to, or -1; keeps account of open ties."""
        kinds = [tie.get("type") for tie in element.iterchildren("tie")]
        if not kinds and "notations" in fields:
            kinds = [tie.get("type") for tie in element.iterfind("notations/tied")]
        midi, head = pitch[2], -1
        if "stop" in kinds:
            before = self.ties.pop(midi, None)
            if before is not None:
                head = self.line.head[before]
            elif "start" not in kinds:
                self._warn("tie", f"a tie ends on {pitch[0].pretty}, but starts nowhere")
        if self.ties and "grace" not in fields:
            self._drop_ties()
        if "start" in kinds:
            self.ties[midi] = segment
        return head

    def _drop_ties(self) -> None:
        for segment in self.ties.values():
            note = self.line.notes[self.line.head[segment]]
            text = f"a tie starts on {note.written.pretty}, but the next note doesn't continue it"
            self._warn("tie", text, note.measure)
        self.ties.clear()

    def _curves(self, element: Any, segment: int) -> None:
        """Slurs and glides that end or start on this note; ends first."""
        starts, stops = [], []
        for notations in element.iterchildren("notations"):
            for curve in notations.iterchildren("slur", "glissando", "slide"):
                kind = curve.get("type")
                if kind == "start":
                    starts.append(curve)
                elif kind == "stop":
                    stops.append(curve)
        for curve in stops:
            self._stop_curve(curve, segment)
        for curve in starts:
            self._start_curve(curve, segment)

    def _start_curve(self, curve: Any, segment: int) -> None:
        label = curve.get("number", "1")
        if curve.tag == "slur":
            if self.slurs.get(label, segment) != segment:
                self._unclosed_slur(self.slurs[label])
            self.slurs[label] = segment
        else:
            self.glides[(curve.tag, label)] = segment
            self.line.gliding.add(segment)

    def _stop_curve(self, curve: Any, segment: int) -> None:
        label = curve.get("number", "1")
        if curve.tag != "slur":
            self.glides.pop((curve.tag, label), None)
            return
        start = self.slurs.pop(label, None)
        if start is not None:
            self.line.slurred.update(range(start, segment))
        elif segment > 0:
            self.line.slurred.add(segment - 1)

    def _unclosed_slur(self, segment: int) -> None:
        self.line.slurred.add(segment)
        note = self.line.notes[self.line.head[segment]]
        text = (
            f"a slur starts on {note.written.pretty} and doesn't end; it was read to the next note"
        )
        self._warn("slur", text, note.measure)

    # Everything that isn't a note

    def _backup(self, element: Any) -> None:
        self._move(element, -1.0)

    def _forward(self, element: Any) -> None:
        self._move(element, 1.0)

    def _move(self, element: Any, sign: float) -> None:
        duration = number(element.findtext("duration"))
        if duration is None or duration < 0.0:
            self._warn("duration", f"a <{element.tag}> without a readable duration was left out")
            return
        self.position += sign * duration / self.divisions
        if self.position < 0.0:
            if self.position < -_EPS_Q:
                self._warn("duration", "a <backup> leads to before the start of the measure")
            self.position = 0.0
        self.furthest = max(self.furthest, self.position)

    def _attributes(self, element: Any) -> None:
        for child in element:
            if child.tag == "divisions":
                self._set_divisions(child)
            elif child.tag == "time":
                self.meter = meter_q(child)
            elif child.tag == "transpose":
                self._set_transpose(child)
            elif child.tag == "measure-style":
                self._measure_style(child)

    def _measure_style(self, element: Any) -> None:
        if any(one.get("type") == "start" for one in element.iter("measure-repeat")):
            self._warn("repeat", "a measure-repeat sign: only notes in the file are read")

    def _set_divisions(self, element: Any) -> None:
        divisions = number(element.text)
        if divisions is None or divisions <= 0.0:
            self._warn("duration", f"divisions {element.text!r} can't be; {self.divisions:g} stays")
        elif divisions != self.divisions:
            self.divisions = divisions
            self.lengths = {}

    def _set_transpose(self, element: Any) -> None:
        chromatic = number(element.findtext("chromatic")) or 0.0
        octaves = number(element.findtext("octave-change")) or 0.0
        steps = number(element.findtext("diatonic"))
        if steps is None:
            steps = round(chromatic * 7 / 12)
        shift = (int(steps + 7 * octaves), int(chromatic + 12 * octaves))
        if element.get("number") is not None:
            self.staff_transpose[element.get("number")] = shift
        else:
            self.transpose, self.staff_transpose = shift, {}
        self.pitches = {}
        if element.find("double") is not None:
            self._warn("transpose", "the part is doubled an octave away; the printed line is read")

    def _direction(self, element: Any) -> None:
        at_q = self.position
        offset = number(element.findtext("sound/offset") or element.findtext("offset"))
        if offset is not None:
            at_q = max(0.0, at_q + offset / self.divisions)
        tempo = direction_tempo(element)
        if tempo is not None:
            self.line.tempos.append((self.measure_start + at_q, tempo))
        self._add_jumps(list(jumps_of(element, at_q)))

    def _sound(self, element: Any) -> None:
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
        self._drop_ties()
        for segment in self.slurs.values():
            self._unclosed_slur(segment)
        texts = {
            "cue": "cue notes (small notes of another player) were read as rests",
            "hidden": "notes that aren't printed were read as rests",
        }
        for why, (measure, count) in self.skipped.items():
            self._warn(why, f"from here on {count} {texts[why]}", measure)


def _tuplet(element: Any) -> tuple[float, float] | None:
    if element is None:
        return None
    actual, normal = (number(element.findtext(f"{side}-notes")) for side in ("actual", "normal"))
    return (actual, normal) if actual and normal and actual > 0 and normal > 0 else None


def _near(length: float, printed: float, reader: _Reader) -> bool:
    return abs(length - printed) <= max(1.0 / reader.divisions, 0.1 * printed)


_OTHERS: dict[Any, Any] = {
    "backup": _Reader._backup,
    "forward": _Reader._forward,
    "attributes": _Reader._attributes,
    "direction": _Reader._direction,
    "sound": _Reader._sound,
    "barline": _Reader._barline,
}
