"""A score as it is played, all of it: the way through it, what steers its time, all its notes.

The order of measures and the tempo are those of the part that is practised; the other parts go
along measure by measure. Words and fermatas of any part hold for all.
"""

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from handslide.edges.musicxml.bflat import seems_bflat, shift_of
from handslide.edges.musicxml.heads import (
    WrittenPart,
    course_of,
    loudness_marks,
    played_rows,
    read_written,
)
from handslide.edges.musicxml.line import WrittenLine
from handslide.edges.musicxml.order import PlayOrder, movement_starts
from handslide.edges.musicxml.parts import Part
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.musicxml.time import TempoMap
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import PLAYED_NOTES, PLAYED_PARTS
from handslide.ground.pitch import Pitch, from_midi
from handslide.sound.playing.score import (
    ChordMark,
    Course,
    Mark,
    PlayedPart,
    PlayedScore,
    Row,
    Span,
    Timing,
)

_STRUCK = re.compile(
    r"\b(?:piano|klavier|clavier|keyboard|cembalo|clav|harpsi|guit|gitarr|harp|harf|arpa|marimba|"
    r"xylo|vibra|glock|celest|timp|pauke|timbal|banjo|lute\b|laut|laud|mandolin|bell)"
)
_BRASS = re.compile(
    r"\b(?:\w*trombon|\w*posaun|trompet|trump|tromba|horn|corn|kornett|tuba|euphon|bariton|flugel|"
    r"sackbut|bugle|brass|blech|cor\b|tbn|tpt|hn\b|wald)"
)
_FAMILIES = {
    "brass": "brass", "keyboard": "struck", "pluck": "struck", "pitched-percussion": "struck",
    "wind": "mild", "strings": "mild", "voice": "mild",
}  # fmt: skip


def read_concert(
    score: Score,
    part: ScorePart,
    *,
    others: bool = True,
    small_notes: bool = False,
    sounds: str | None = None,
    default_tempo_qpm: float = 80.0,
) -> tuple[PlayedScore, tuple[Fact, ...]]:
    """All of a score for playing with ``part``, which `Score.read_part` gave with the same wishes.

    The first part of the result is the solo line, as that part plays it. If ``others`` are wanted,
    the rest of its part comes behind it, then all other parts. With facts on those that can't go
    along.
    """
    line, order, tempo = score.read_way(part, default_tempo_qpm, small_notes=small_notes)
    spans, measures = _spans(line, order)
    course = course_of(spans, tempo.place_q, tempo.seconds)
    own = read_written(
        score.part_of(part.part_id).measures(), line.measure_q, shift_of(sounds),
        small_notes=small_notes,
    )  # fmt: skip
    rows = played_rows(own, spans, measures, line.measure_q)
    solo = _solo_rows(part, course, rows, own, line)
    parts = [PlayedPart(part.part_id, part.name, tuple(solo), loudness_marks(own))]
    found, told = _others(score, part, line, sounds)
    if others:
        parts += _accompaniment(part, solo, rows, loudness_marks(own))
        for other, written in found:
            heard = tuple(played_rows(written, spans, measures, line.measure_q))
            if heard and sum(len(one.rows) for one in parts) + len(heard) <= PLAYED_NOTES:
                parts.append(PlayedPart(other.part_id, other.name, heard,
                                        loudness_marks(written), timbre_of(other)))  # fmt: skip
    read = [own, *(one for _, one in found)]
    played = PlayedScore(
        course, _timing(line, tempo, read), tuple(parts),
        _chords([*read, *_symbols_alone(score, line, sounds)]), _spelled(read),
    )  # fmt: skip
    return played, tuple(told) if others else ()


def _chords(parts: Iterable[WrittenPart]) -> tuple[ChordMark, ...]:
    """The chord symbols of the first of the parts that has some: often one has them for all."""
    marks: list[ChordMark] = next((one.chords for one in parts if one.chords), [])
    return tuple(sorted(marks, key=lambda mark: mark.at_q))


def _symbols_alone(score: Score, line: WrittenLine, sounds: str | None) -> Iterator[WrittenPart]:
    """Parts without notes that may have chord symbols: those of a band's rhythm section."""
    for info in score.parts:
        other = score.part_of(info.part_id)
        if info.notes or not any(root.find(".//harmony") is not None for root in other.roots):
            continue
        shift = shift_of(sounds) if sounds is not None and seems_bflat(other) else (0, 0)
        written = read_written(other.measures(), line.measure_q, shift)
        if _in_step(line, written):
            yield written


def _spelled(parts: Sequence[WrittenPart]) -> tuple[Pitch, ...]:
    """How each of the 12 pitch classes is mostly spelled; as brass players do where none sounds."""
    counts: dict[int, list[tuple[int, Pitch]]] = {}
    spellings = sum((one.spellings for one in parts), Counter())
    for (step, alter), count in spellings.items():
        pitch = Pitch(step, alter, 4)
        counts.setdefault(pitch.midi % 12, []).append((count, pitch))
    usual = (from_midi(60 + number) for number in range(12))
    return tuple(
        max(counts.get(one.midi % 12, [(0, one)]), key=lambda row: row[0])[1] for one in usual
    )


def timbre_of(part: Part) -> str:
    """What a part is played with, by its names and sounds: brass, struck or mild."""
    for sound in part.sounds:
        family = _FAMILIES.get(sound.partition(".")[0])
        if family is not None:
            return "mild" if "organ" in sound else family
    names = " ".join(_plain(name) for name in part.names)
    if _STRUCK.search(names):
        return "struck"
    return "brass" if _BRASS.search(names) else "mild"


def _plain(text: str) -> str:
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in decomposed if not unicodedata.combining(letter))


def _spans(line: WrittenLine, order: PlayOrder) -> tuple[list[Span], list[int]]:
    """The way of the line over the paper, and the measure of each stretch."""
    spans, measures, place_p = [], [], 0.0
    for one in order.spans:
        begin_q = line.measure_q[one.measure]
        last_q = begin_q + min(one.to_q, line.measure_length_q[one.measure])
        span = Span(begin_q + one.from_q, last_q, place_p)
        if span.last_q > span.first_q:
            spans.append(span)
            measures.append(one.measure)
            place_p += span.last_q - span.first_q
    return spans, measures


def _solo_rows(
    part: ScorePart, course: Course, rows: Sequence[Row], own: WrittenPart, line: WrittenLine
) -> list[Row]:
    """The solo line as `ScorePart` plays it, with what stands at its notes."""
    standing = {row.ordinal: row for row in rows}
    places = {
        note.ordinal: line.measure_q[index] + note.at_q
        for index, notes in enumerate(own.measures)
        for note in notes
    }
    begins = course.played(part.onset_s)
    ends = course.played([a + b for a, b in zip(part.onset_s, part.length_s)])
    found = []
    for at, index in enumerate(part.played):
        note = part.notes[index]
        begin_p, end_p = float(begins[at]), float(ends[at])
        begin_q = course.written(begin_p)
        if note.grace:  # it moves with the note that it stands at
            begin_q = end_q = places.get(note.ordinal, begin_q)
        else:
            end_q = begin_q + end_p - begin_p
        row = standing.get(note.ordinal)
        found.append(
            Row(
                note.ordinal, begin_p, end_p, begin_q, end_q, note.sounding.midi,
                ("1", "1") if row is None else row.line, frozenset() if row is None else row.signs,
                part.slur[at], part.gliss[at], note.grace, row is not None and row.breath,
            )
        )  # fmt: skip
    return found


def _accompaniment(
    part: ScorePart, solo: Sequence[Row], rows: Sequence[Row], loudness: tuple[Mark, ...]
) -> list[PlayedPart]:
    """What else sounds in the part that is practised: its other voices, its chords' lower notes."""
    taken = {(round(row.begin_p, 3), row.midi) for row in solo}
    own = {row.ordinal for row in solo}
    rest = tuple(
        row
        for row in rows
        if row.ordinal not in own and (round(row.begin_p, 3), row.midi) not in taken
    )
    return [PlayedPart(part.part_id, part.name, rest, loudness)] if rest else []


def _others(
    score: Score, part: ScorePart, line: WrittenLine, sounds: str | None
) -> tuple[list[tuple[Part, WrittenPart]], list[Fact]]:
    """The other parts that go along with this one, and what to say of each that doesn't."""
    found: list[tuple[Part, WrittenPart]] = []
    told: list[Fact] = []
    wanted = [info for info in score.parts if info.notes and info.part_id != part.part_id]
    if len(wanted) > PLAYED_PARTS:
        told.append(fact("practice.too_many_parts", count=len(wanted), most=PLAYED_PARTS))
    for info in wanted[:PLAYED_PARTS]:
        other = score.part_of(info.part_id)
        shift = shift_of(sounds) if sounds is not None and seems_bflat(other) else (0, 0)
        try:
            written = read_written(other.measures(), line.measure_q, shift)
        except ScoreError as error:
            told.append(fact("practice.unread_part", part=info.name, problem=error.fact))
            continue
        if _in_step(line, written):
            found.append((other, written))
        else:
            told.append(fact("practice.other_measures", part=info.name))
    return found, told


def _in_step(line: WrittenLine, other: WrittenPart) -> bool:
    mine, theirs = line.measure_length_q, other.lengths_q
    return len(mine) == len(theirs) and all(abs(a - b) < 1e-3 for a, b in zip(mine, theirs))


def _timing(line: WrittenLine, tempo: TempoMap, parts: Sequence[WrittenPart]) -> Timing:
    marks = [mark for one in parts for mark in one.marks]
    starts = movement_starts(line.numbers, line.signs)[1:]
    end_q = line.measure_q[-1] + line.measure_length_q[-1]
    return Timing(
        words=_single(mark for mark in marks if mark.kind == "tempowords"),
        swings=_single(mark for mark in marks if mark.kind == "swing"),
        fermatas=tuple(sorted({one for part in parts for one in part.fermatas})),
        caesuras=tuple(sorted({at_q for part in parts for at_q in part.caesuras})),
        tempos=tuple(zip(tempo.place_q, (60.0 / rate for rate in tempo.s_per_q))),
        ends=(*(line.measure_q[start] for start in starts), end_q),
        measures=tuple(_beats(line)),
    )


def _single(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    """Each of the marks once, however many parts have it: first those whose end is known."""
    found: dict[tuple[float, str], Mark] = {}
    for mark in sorted(marks, key=lambda one: (one.at_q, one.end_q is None)):
        found.setdefault((round(mark.at_q, 3), mark.value), mark)
    return tuple(found.values())


def _beats(line: WrittenLine) -> Iterator[tuple[float, float, bool]]:
    """Of each measure where it begins, where its beats count from, whether its beats halve."""
    for index, begin_q in enumerate(line.measure_q):
        meter_q, beat_q = line.meters[index]
        length_q = line.measure_length_q[index]
        short = index in line.upbeats and length_q < meter_q - 1e-3
        yield begin_q, begin_q + length_q if short else begin_q, beat_q in (1.0, 2.0, 4.0)
