"""A part with all that sounds in it: every voice and chord, and the signs that say how.

Unlike `handslide.edges.musicxml.line`, which reads the one line that a player plays, this takes
what sounds. Cue notes and hidden notes are silent here, too.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from handslide.edges.musicxml.chordsymbols import symbol_of
from handslide.edges.musicxml.clock import Clock
from handslide.edges.musicxml.playsigns import (
    NoteSigns,
    Sign,
    signs_of_direction,
    signs_of_note,
    signs_of_sound,
)
from handslide.edges.musicxml.signs import silence
from handslide.edges.musicxml.values import Pitches, Sounding
from handslide.ground.facts import Fact
from handslide.ground.limits import PLAYED_NOTES
from handslide.sound.playing.score import ChordMark, Course, Fermata, Mark, Row, Span

_NESTED = frozenset({"pitch", "time-modification"})
_LOUDNESS = frozenset({"level", "wedge", "levelwords"})
_EPS_Q = 1e-6
_SYMBOL_COUNTS = 100  # for a spelling, a chord's root beside a note


@dataclass(slots=True)
class Written:
    """A note head: its place in its measure, in quarters, and what it sounds as."""

    ordinal: int
    at_q: float
    length_q: float
    midi: int
    line: tuple[str, str]
    signs: NoteSigns
    joined: bool
    """Tied to the one before."""
    grace: bool
    slurred: bool = False


@dataclass(slots=True)
class WrittenPart:
    """A part as written. Marks, fermatas, caesuras and chord symbols have their places from the
    start of the part as ``starts_q`` counts it."""

    measures: list[list[Written]] = field(default_factory=list)
    lengths_q: list[float] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    fermatas: list[Fermata] = field(default_factory=list)
    caesuras: list[float] = field(default_factory=list)
    chords: list[ChordMark] = field(default_factory=list)
    spellings: Counter[tuple[str, int]] = field(default_factory=Counter)
    """How often each letter with its alteration sounds."""


def read_written(
    measures: Iterator[Any],
    starts_q: Sequence[float],
    shift: tuple[int, int],
    *,
    small_notes: bool = False,
) -> WrittenPart:
    """A part, measure by measure.

    ``starts_q`` are the places where measures begin in the part that is practised, so that all
    parts count alike; ``shift`` is for `Pitches`, ``small_notes`` as for `Score.read_part`. Raises
    ScoreError for a pitch.
    """
    reader = _Reader(starts_q, shift, small_notes)
    for measure in measures:
        reader.measure(measure)
    return reader.part


def _no_warning(kind: str, what: Fact) -> None:
    """What is odd in a part was said when its line was read."""


class _Reader:
    def __init__(
        self, starts_q: Sequence[float], shift: tuple[int, int], small_notes: bool
    ) -> None:
        self.small_notes = small_notes
        self.part = WrittenPart()
        self.starts_q = starts_q
        self.clock = Clock(_no_warning)
        self.pitches = Pitches(_no_warning, shift)
        self.open: dict[tuple[str, str], Mark] = {}
        self.last_words: Mark | None = None
        self.slurs: dict[tuple[str, str], set[str]] = {}
        self.ordinal = -1
        self.start_q = 0.0

    def measure(self, measure: Any) -> None:
        index = len(self.part.measures)
        self.part.measures.append([])
        self.start_q = self.starts_q[index] if index < len(self.starts_q) else 0.0
        for child in measure:
            handler = _HANDLERS.get(child.tag)
            if handler is not None:
                handler(self, child)
        holder = measure.getparent() if measure.tag == "part" else measure
        self.part.lengths_q.append(
            self.clock.close_measure(implicit=holder.get("implicit") == "yes")
        )

    def _note(self, note: Any) -> None:
        self.ordinal += 1
        fields = _fields(note)
        length = self.clock.strike(fields)
        signs = signs_of_note(note)
        at_q = self.clock.onset
        line = (_text(fields, "staff"), _text(fields, "voice"))
        if "chord" not in fields:
            self._add_signs(signs, self.start_q + at_q, length, line[0])
        slurred = self._slurred(line, signs)
        if "step" not in fields or self._is_silent(note, fields):
            return
        pitch: Sounding = self.pitches.of(fields, note, "")
        self.part.spellings[pitch[1].step, pitch[1].alter] += 1
        ties = {tie.get("type") for tie in note.iterchildren("tie")}
        self.part.measures[-1].append(
            Written(
                self.ordinal, at_q, length, pitch[2], line, signs, "stop" in ties,
                "grace" in fields, slurred,
            )
        )  # fmt: skip

    def _is_silent(self, note: Any, fields: dict[Any, Any]) -> bool:
        why = silence(note, fields)
        own = why == "cue" and self.small_notes and "cue" not in fields
        return why is not None and not own

    def _slurred(self, line: tuple[str, str], signs: NoteSigns) -> bool:
        slurs = self.slurs.setdefault(line, set())
        # A slur may end and the next begin at one note, under the same number.
        for kind, number in sorted(signs.slurs, reverse=True):
            if kind == "stop":
                slurs.discard(number)
        slurs |= {number for kind, number in signs.slurs if kind == "start"}
        return bool(slurs)

    def _add_signs(self, signs: NoteSigns, at_q: float, length: float, staff: str) -> None:
        for sign in signs.marks:
            self._add(sign, at_q, staff)
        if signs.fermata:
            self.part.fermatas.append(Fermata(at_q, at_q + length, signs.fermata))
        if signs.pause == "caesura":
            self.part.caesuras.append(at_q + length)

    def _direction(self, direction: Any) -> None:
        offset = direction.findtext("sound/offset") or direction.findtext("offset")
        at_q = self.start_q + self.clock.place(offset)
        staff = direction.findtext("staff")
        self.last_words = None
        for sign in signs_of_direction(direction):
            self._add(sign, at_q, staff)

    def _harmony(self, harmony: Any) -> None:
        at_q = self.start_q + self.clock.place(harmony.findtext("offset"))
        symbol = symbol_of(harmony)
        root = None
        if symbol.root is not None:
            pitch = self.pitches.moved(symbol.root, (harmony.findtext("staff") or "1").strip())
            root = pitch.midi % 12
            self.part.spellings[pitch.step, pitch.alter] += _SYMBOL_COUNTS
        mark = ChordMark(at_q, root, symbol.kind, symbol.semitones, symbol.unread)
        self.part.chords.append(mark)

    def _sound(self, sound: Any) -> None:
        for sign in signs_of_sound(sound):
            self._add(sign, self.start_q + self.clock.position, None)

    def _barline(self, barline: Any) -> None:
        if barline.find("fermata") is not None:
            at_q = self.start_q + self.clock.position
            self.part.fermatas.append(Fermata(at_q, at_q, "normal"))

    def _add(self, sign: Sign, at_q: float, staff: str | None) -> None:
        if sign.kind == "sudden":
            self.part.marks.append(Mark(at_q, "sudden", sign.value, staff=staff))
        elif sign.value == "stop":
            began = self.open.pop((sign.kind, sign.number), None)
            if began is not None:
                began.end_q = at_q
        elif sign.kind == "dashes":
            if self.last_words is not None:
                self.open["dashes", sign.number] = self.last_words
        else:
            mark = Mark(at_q, sign.kind, sign.value, sign.strength, sign.ratio, sign.unit_q,
                        staff=staff)  # fmt: skip
            self.part.marks.append(mark)
            if sign.kind == "wedge":
                self.open["wedge", sign.number] = mark
            elif sign.kind in ("levelwords", "tempowords"):
                self.last_words = mark

    def _attributes(self, attributes: Any) -> None:
        for child in attributes:
            if child.tag == "divisions":
                self.clock.set_divisions(child.text)
            elif child.tag == "time":
                self.clock.set_time(child)
            elif child.tag == "transpose":
                self.pitches.set_transpose(child)

    def _move(self, element: Any) -> None:
        self.clock.move(element)


_HANDLERS: dict[Any, Callable[[_Reader, Any], None]] = {
    "note": _Reader._note,
    "backup": _Reader._move,
    "forward": _Reader._move,
    "attributes": _Reader._attributes,
    "direction": _Reader._direction,
    "harmony": _Reader._harmony,
    "sound": _Reader._sound,
    "barline": _Reader._barline,
}


def _fields(note: Any) -> dict[Any, Any]:
    fields: dict[Any, Any] = {}
    for child in note:
        fields[child.tag] = child
        if child.tag in _NESTED:
            fields |= {inner.tag: inner for inner in child}
    return fields


def _text(fields: dict[Any, Any], tag: str) -> str:
    return (fields[tag].text or "1").strip() if tag in fields else "1"


def loudness_marks(part: WrittenPart) -> tuple[Mark, ...]:
    """The marks of a part that steer how loud it is."""
    return tuple(mark for mark in part.marks if mark.kind in _LOUDNESS)


def played_rows(
    part: WrittenPart, spans: Sequence[Span], measures: Sequence[int], starts_q: Sequence[float]
) -> list[Row]:
    """The notes of a part as played: ``measures`` are those of the ``spans``; ties made one."""
    sudden = {round(mark.at_q, 6) for mark in part.marks if mark.kind == "sudden"}
    rows: list[Row] = []
    held: dict[int, int] = {}  # pitch: the row that a tie may go on from
    for span, index in zip(spans, measures):
        if index >= len(part.measures) or len(rows) > PLAYED_NOTES:
            break
        for note in part.measures[index]:
            begin_q = starts_q[index] + note.at_q
            if not span.first_q - _EPS_Q <= begin_q < span.last_q - _EPS_Q:
                continue
            row = _row(note, span, begin_q, strong=round(begin_q, 6) in sudden)
            before = held.get(note.midi) if note.joined else None
            if before is not None and abs(rows[before].end_p - row.begin_p) < 1e-3:
                whole = rows[before]
                rows[before] = whole._replace(
                    end_p=row.end_p, end_q=row.end_q, slurred=row.slurred, breath=row.breath
                )
            else:
                held[note.midi] = len(rows)
                rows.append(row)
    return sorted(rows, key=lambda row: (row.begin_p, row.ordinal))


def _row(note: Written, span: Span, begin_q: float, *, strong: bool) -> Row:
    begin_p = span.begin_p + begin_q - span.first_q
    signs = note.signs.signs | {"sforzato"} if strong else note.signs.signs
    return Row(
        note.ordinal, begin_p, begin_p + note.length_q, begin_q, begin_q + note.length_q,
        note.midi, note.line, signs, note.slurred, False, note.grace, bool(note.signs.pause),
    )  # fmt: skip


def course_of(spans: Sequence[Span], tempo_places: Sequence[float], seconds: Any) -> Course:
    """The way through a score: ``seconds`` leads from written places to a metronome's seconds
    (without repeats), ``tempo_places`` are where its tempo changes."""
    import numpy as np

    place_p, place_s = [0.0], [0.0]
    for span in spans:
        inner = [at_q for at_q in tempo_places if span.first_q < at_q < span.last_q]
        corners = [span.first_q, *inner, span.last_q]
        at_s = seconds(corners)
        shift_s = place_s[-1] - at_s[0]
        place_p += [span.begin_p + corner - span.first_q for corner in corners[1:]]
        place_s += [second + shift_s for second in at_s[1:]]
    return Course(tuple(spans), np.array(place_p), np.array(place_s))
