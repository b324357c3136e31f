"""Pieces as a score of one part: MusicXML 4.0 that any notation program opens.

Pitches of a piece sound; what is written follows from the clef's transposition. Several pieces
stand one after the other, each on a new line with a title, key, meter and tempo of its own.
"""

import itertools
import math
import re
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from lxml import etree

from handslide.drills.piece import DrillNote, Key, Piece
from handslide.drills.signs import Signs
from handslide.edges.musicxml.beams import FLAGS, beam_group
from handslide.edges.musicxml.notevalues import (
    Value,
    beam_spans,
    beat_length,
    split_note,
    split_rest,
    triplet_groups,
    value_of,
)
from handslide.ground.clefs import CLEFS, Clef
from handslide.ground.facts import Fact
from handslide.ground.pitch import Pitch

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
MOST_SIGNS = 6
_SIGNS = {"bass": ("F", 4), "tenor": ("C", 4), "alto": ("C", 3), "treble": ("G", 2)}
ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_VERSE_LETTERS = 18
_GLUE = "\u00a0"


@dataclass(slots=True)
class _Head:
    """One written note: a piece of a note of the drill, with one note value."""

    note: DrillNote
    onset: Fraction
    length: Fraction
    value: Value | None
    first: bool
    last: bool = True
    swell_from: bool = False
    swell_to: bool = False
    tie_from: bool = False
    tie_to: bool = False
    slur_stop: bool = False
    slur_start: bool = False
    gliss_stop: int = 0
    gliss_start: int = 0
    tuplet: str = ""
    bracket: bool = True


@dataclass(slots=True)
class _Writer:
    """What is in force while a part is written."""

    divisions: int
    told: Callable[[Fact], str]
    up: tuple[int, int] = (0, 0)
    fifths: int = 0
    meter: tuple[int, int] = (4, 4)
    signs: Signs = field(default_factory=lambda: Signs(0))


def score_of(
    pieces: Sequence[Piece],
    title: str,
    part_name: str,
    clef: str,
    told: Callable[[Fact], str],
    transposition: tuple[int, int] | None = None,
    teacher: tuple[str, str] | None = None,
) -> bytes:
    """The pieces as one MusicXML file.

    Parameters
    ----------
    pieces : sequence of Piece
        At least one; several get their titles printed over the music.
    title, part_name : str
    clef : str
        Name of the clef (`handslide.ground.clefs`) where a piece has none of its own.
    told : callable
        Makes text of a title or remark, with a line break where a good place for one is; what is
        empty isn't written.
    transposition : (int, int), optional
        Letters and semitones that a written note lies above the sounding one. Default: those of
        the clef.
    teacher : (str, str), optional
        Name and clef of a second part: the pieces' second voices, rests where a piece has none.
    """
    root = etree.Element("score-partwise", version="4.0")
    work = etree.SubElement(root, "work")
    etree.SubElement(work, "work-title").text = title
    encoding = etree.SubElement(etree.SubElement(root, "identification"), "encoding")
    etree.SubElement(encoding, "software").text = "handslide"
    for element in ("accidental", "beam"):
        etree.SubElement(encoding, "supports", element=element, type="yes")
    names = [part_name] if teacher is None else [part_name, teacher[0]]
    _add_part_list(root, names)
    divisions = _divisions(pieces)
    _write_part(root, _Writer(divisions, told), pieces, clef, transposition)
    if teacher is not None:
        seconds = [_second(piece) for piece in pieces]
        _write_part(root, _Writer(divisions, _silent), seconds, teacher[1], None)
    etree.indent(root)
    data: bytes = etree.tostring(
        root, encoding="UTF-8", xml_declaration=True, doctype=DOCTYPE, pretty_print=True
    )
    return data


def _add_part_list(root: etree._Element, names: Sequence[str]) -> None:
    listed = etree.SubElement(root, "part-list")
    if len(names) > 1:
        add_bracket(listed)
    for number, name in enumerate(names, 1):
        entry = etree.SubElement(listed, "score-part", id=f"P{number}")
        etree.SubElement(entry, "part-name").text = name
    if len(names) > 1:
        etree.SubElement(listed, "part-group", type="stop", number="1")


def add_bracket(listed: etree._Element) -> None:
    """Begin a group of parts with a bracket and barlines through all of it."""
    group = etree.SubElement(listed, "part-group", type="start", number="1")
    etree.SubElement(group, "group-symbol").text = "bracket"
    etree.SubElement(group, "group-barline").text = "yes"


def _silent(_: Fact) -> str:
    return ""


def _second(piece: Piece) -> Piece:
    """The second voice as a piece of its own."""
    pause = ((DrillNote(None, piece.bar_beats),),) * len(piece.bars)
    return replace(piece, bars=piece.teacher or pause, teacher=(), clef=None, clef_changes=())


def _write_part(
    root: etree._Element,
    writer: _Writer,
    pieces: Sequence[Piece],
    clef: str,
    transposition: tuple[int, int] | None,
) -> None:
    part = etree.SubElement(root, "part", id=f"P{len(root.findall('part')) + 1}")
    for number, piece in enumerate(pieces):
        chosen = CLEFS[piece.clef or clef]
        up = transposition or (chosen.letters_up, chosen.semitones_up)
        _write_piece(writer, part, piece, chosen, up, number, len(pieces))


def written_key(key: Key, up: tuple[int, int]) -> tuple[int, tuple[int, int]]:
    """The signs of a key as it is written, and the transposition spelled for it.

    More than six signs become the enharmonic key with fewer.
    """
    letters, semitones = up
    if not semitones or (key.mode == "none" and not key.fifths):
        return key.fifths, up
    fifths = key.fifths + 7 * semitones - 12 * letters
    if fifths > MOST_SIGNS:
        return fifths - 12, (letters + 1, semitones)
    if fifths < -MOST_SIGNS:
        return fifths + 12, (letters - 1, semitones)
    return fifths, up


def _divisions(pieces: Sequence[Piece]) -> int:
    bars = [bar for piece in pieces for bar in (*piece.bars, *piece.teacher)]
    lengths = [note.beats for bar in bars for note in bar]
    return math.lcm(16, *(length.denominator for length in lengths))


def _write_piece(
    writer: _Writer,
    part: etree._Element,
    piece: Piece,
    clef: Clef,
    up: tuple[int, int],
    number: int,
    count: int,
) -> None:
    writer.fifths, writer.up = written_key(piece.key, up)
    writer.meter = piece.meter
    writer.signs = Signs(writer.fifths)
    measures = _bars(piece)
    changes = dict(piece.clef_changes)
    for index, heads in enumerate(measures):
        measure = etree.SubElement(part, "measure", number=str(len(part) + 1))
        if index == 0:
            if number:
                etree.SubElement(measure, "print", attrib={"new-system": "yes"})
            _add_attributes(measure, writer, piece, clef, first=number == 0)
            if part.get("id") == "P1":
                if count > 1:
                    _add_heading(measure, number + 1, writer.told(piece.title))
                _add_tempo(measure, piece)
                if piece.drone is not None:
                    _add_drone(measure, _written(piece.drone, writer.up))
        elif index in changes:
            _add_clef(etree.SubElement(measure, "attributes"), CLEFS[changes[index]])
        _write_bar(writer, measure, heads)
        if index == len(measures) - 1:
            bar = etree.SubElement(measure, "barline", location="right")
            etree.SubElement(bar, "bar-style").text = "light-heavy"


def _add_attributes(
    measure: etree._Element, writer: _Writer, piece: Piece, clef: Clef, *, first: bool
) -> None:
    attributes = etree.SubElement(measure, "attributes")
    if first:
        etree.SubElement(attributes, "divisions").text = str(writer.divisions)
    key = etree.SubElement(attributes, "key")
    etree.SubElement(key, "fifths").text = str(writer.fifths)
    etree.SubElement(key, "mode").text = piece.key.mode
    time = etree.SubElement(attributes, "time")
    etree.SubElement(time, "beats").text = str(piece.meter[0])
    etree.SubElement(time, "beat-type").text = str(piece.meter[1])
    _add_clef(attributes, clef)
    letters, semitones = writer.up
    octaves = math.trunc(-semitones / 12)
    if semitones or not first:
        transpose = etree.SubElement(attributes, "transpose")
        etree.SubElement(transpose, "diatonic").text = str(-letters - 7 * octaves)
        etree.SubElement(transpose, "chromatic").text = str(-semitones - 12 * octaves)
        if octaves:
            etree.SubElement(transpose, "octave-change").text = str(octaves)


def _add_clef(attributes: etree._Element, clef: Clef) -> None:
    sign, line = _SIGNS[clef.name.partition("-")[0]]
    element = etree.SubElement(attributes, "clef")
    etree.SubElement(element, "sign").text = sign
    etree.SubElement(element, "line").text = str(line)


def _add_heading(measure: etree._Element, number: int, title: str) -> None:
    direction = etree.SubElement(measure, "direction", placement="above")
    kind = etree.SubElement(direction, "direction-type")
    etree.SubElement(kind, "rehearsal").text = str(number)
    kind = etree.SubElement(direction, "direction-type")
    etree.SubElement(kind, "words", attrib={"font-weight": "bold"}).text = title


def _add_tempo(measure: etree._Element, piece: Piece) -> None:
    beat = beat_length(piece.meter)
    shown = beat if beat.numerator == 3 else Fraction(1)
    value = value_of(shown) or Value("quarter")
    direction = etree.SubElement(measure, "direction", placement="above")
    mark = etree.SubElement(etree.SubElement(direction, "direction-type"), "metronome")
    etree.SubElement(mark, "beat-unit").text = value.kind
    for _ in range(value.dots):
        etree.SubElement(mark, "beat-unit-dot")
    etree.SubElement(mark, "per-minute").text = f"{piece.tempo_qpm / float(shown):.0f}"
    etree.SubElement(direction, "sound", tempo=f"{piece.tempo_qpm:g}")


def _add_drone(measure: etree._Element, written: Pitch) -> None:
    """A pedal point as a chord symbol, which isn't printed: a drone follows it."""
    harmony = etree.SubElement(measure, "harmony", attrib={"print-object": "no"})
    root = etree.SubElement(harmony, "root")
    etree.SubElement(root, "root-step").text = written.step
    if written.alter:
        etree.SubElement(root, "root-alter").text = str(written.alter)
    etree.SubElement(harmony, "kind").text = "pedal"


def _bars(piece: Piece) -> list[list[_Head]]:
    """The written notes of each bar, with ties, slurs and glissandi resolved."""
    bars = []
    full = piece.bar_beats
    for bar in piece.bars:
        onset = Fraction(0)
        heads: list[_Head] = []
        for note in bar:
            heads += _heads(note, onset, piece.meter, full)
            onset += note.beats
        if onset != full:
            raise ValueError(f"a bar of {onset} beats in {piece.meter}")
        _mark_tuplets(heads)
        bars.append(heads)
    heads = [head for bar in bars for head in bar]
    _mark_ties(heads)
    _mark_slurs(heads)
    _mark_swells(heads)
    return bars


def _heads(
    note: DrillNote, onset: Fraction, meter: tuple[int, int], bar: Fraction
) -> Iterator[_Head]:
    if note.pitch is None and note.beats == bar:
        yield _Head(note, onset, note.beats, None, True)
        return
    split = split_rest if note.pitch is None else split_note
    lengths = list(split(onset, note.beats, meter))
    for index, length in enumerate(lengths, 1):
        yield _Head(note, onset, length, value_of(length), index == 1, index == len(lengths))
        onset += length


def _mark_tuplets(heads: list[_Head]) -> None:
    for first, last in triplet_groups([head.length for head in heads]):
        inside = heads[first : last + 1]
        beamed = all(
            head.note.pitch is not None and head.length < Fraction(2, 3) for head in inside
        )
        heads[first].tuplet, heads[last].tuplet = "start", "stop"
        heads[first].bracket = not beamed


def _mark_ties(heads: Sequence[_Head]) -> None:
    for head, following in itertools.pairwise(heads):
        pitch = head.note.pitch
        wanted = not following.first or head.note.tie
        if wanted and pitch is not None and pitch == following.note.pitch:
            head.tie_from = following.tie_to = True


def _mark_slurs(heads: Sequence[_Head]) -> None:
    """Slurs run from the first to the last head of their notes, ties included."""
    groups: list[list[_Head]] = []
    for head in heads:
        if head.tie_to:
            groups[-1].append(head)
        else:
            groups.append([head])
    gliss = 1
    opened = False
    for group, following in zip(groups, [*groups[1:], None]):
        last = group[-1].note
        leads = following is not None and following[0].note.pitch is not None
        if last.slur and leads:
            group[0].slur_start = not opened
            opened = True
        elif opened:
            group[-1].slur_stop = True
            opened = False
        if last.gliss and leads and following is not None:
            group[-1].gliss_start = following[0].gliss_stop = gliss
            gliss = 3 - gliss


def _mark_swells(heads: Sequence[_Head]) -> None:
    """A hairpin lasts while its sign is the same; louder and softer on one note begins anew."""
    swell = ""
    for at, head in enumerate(heads):
        now = head.note.swell
        if now != swell or (now == "<>" and head.first):
            head.swell_from = bool(now)
            if swell:
                heads[at - 1].swell_to = True
        swell = now
    if swell:
        heads[-1].swell_to = True


def _write_bar(writer: _Writer, measure: etree._Element, heads: Sequence[_Head]) -> None:
    elements = []
    for head in heads:
        _write_loudness(writer, measure, head)
        element = etree.SubElement(measure, "note")
        elements.append(element)
        if head.note.pitch is None:
            rest = etree.SubElement(element, "rest")
            if head.value is None:
                rest.set("measure", "yes")
        else:
            written = _written(head.note.pitch, writer.up)
            accidental = _accidental(writer, written, head)
            _write_pitch(element, written)
        etree.SubElement(element, "duration").text = str(head.length * writer.divisions)
        for kind, present in (("stop", head.tie_to), ("start", head.tie_from)):
            if present:
                etree.SubElement(element, "tie", type=kind)
        etree.SubElement(element, "voice").text = "1"
        _write_value(element, head.value)
        if head.note.pitch is not None and accidental is not None:
            element.append(accidental)
        if head.value is not None and head.value.triplet:
            ratio = etree.SubElement(element, "time-modification")
            etree.SubElement(ratio, "actual-notes").text = "3"
            etree.SubElement(ratio, "normal-notes").text = "2"
        _write_notations(element, head)
        if head.first and head.note.remark is not None:
            _write_text(element, writer.told(head.note.remark))
        if head.swell_to:
            _wedge(measure, "stop")
    writer.signs.next_bar()
    _beam(elements, heads, writer.meter)


def _write_loudness(writer: _Writer, measure: etree._Element, head: _Head) -> None:
    """Dynamic and hairpin from this note on."""
    note = head.note
    if note.dynamic and head.first:
        etree.SubElement(etree.SubElement(_below(measure), "dynamics"), note.dynamic)
    if head.swell_from:
        _wedge(measure, "diminuendo" if note.swell == ">" else "crescendo")
    if head.swell_from and note.swell == "<>":
        half = note.beats * writer.divisions / 2
        _wedge(measure, "stop", half)
        _wedge(measure, "diminuendo", half)


def _wedge(measure: etree._Element, kind: str, offset: Fraction = Fraction(0)) -> None:
    etree.SubElement(_below(measure), "wedge", type=kind)
    if offset:
        etree.SubElement(measure[-1], "offset").text = f"{float(offset):g}"


def _below(measure: etree._Element) -> etree._Element:
    direction = etree.SubElement(measure, "direction", placement="below")
    return etree.SubElement(direction, "direction-type")


def _written(sounding: Pitch, up: tuple[int, int]) -> Pitch:
    letters, semitones = up
    written = sounding.transposed(letters, semitones)
    if abs(written.alter) > 2:
        # A spelling that has no sign: the neighbouring letter has one.
        written = sounding.transposed(letters + (1 if written.alter > 0 else -1), semitones)
    return written


def _write_pitch(element: etree._Element, written: Pitch) -> None:
    pitch = etree.SubElement(element, "pitch")
    etree.SubElement(pitch, "step").text = written.step
    if written.alter:
        etree.SubElement(pitch, "alter").text = str(written.alter)
    etree.SubElement(pitch, "octave").text = str(written.octave)


def _write_value(element: etree._Element, value: Value | None) -> None:
    if value is not None:
        etree.SubElement(element, "type").text = value.kind
        for _ in range(value.dots):
            etree.SubElement(element, "dot")


def _accidental(writer: _Writer, written: Pitch, head: _Head) -> etree._Element | None:
    """The sign to print, if any: within key and bar, and once more after a bar that differed."""
    printed = "" if head.tie_to else writer.signs.of(written)
    if not printed:
        return None
    sign = etree.Element("accidental")
    sign.text = ACCIDENTALS[written.alter]
    if printed == "warns":
        sign.set("cautionary", "yes")
    return sign


def _write_notations(element: etree._Element, head: _Head) -> None:
    notations = etree.Element("notations")
    for kind, present in (("stop", head.tie_to), ("start", head.tie_from)):
        if present:
            etree.SubElement(notations, "tied", type=kind)
    for kind, present in (("stop", head.slur_stop), ("start", head.slur_start)):
        if present:
            etree.SubElement(notations, "slur", type=kind, number="1")
    if head.tuplet:
        tuplet = etree.SubElement(notations, "tuplet", type=head.tuplet, number="1")
        if head.tuplet == "start":
            tuplet.set("bracket", "yes" if head.bracket else "no")
    for kind, number in (("stop", head.gliss_stop), ("start", head.gliss_start)):
        if number:
            slide = etree.SubElement(notations, "slide", type=kind, number=str(number))
            slide.set("line-type", "solid")
    signs = etree.Element("articulations")
    if head.note.articulation and head.first and head.note.pitch is not None:
        etree.SubElement(signs, head.note.articulation)
    if head.note.breath and head.last:
        etree.SubElement(signs, "breath-mark").text = "comma"
    if len(signs):
        notations.append(signs)
    if head.note.fermata and head.last:
        etree.SubElement(notations, "fermata", type="upright")
    if len(notations):
        element.append(notations)


def _wrap(phrase: str) -> list[str]:
    """Short lines; a number stays with its unit."""
    glued = re.sub(r"(?<=\d) (?=\S)", _GLUE, phrase)
    lines = textwrap.wrap(glued, _VERSE_LETTERS, break_long_words=False, break_on_hyphens=False)
    return [line.replace(_GLUE, " ") for line in lines]


def _write_text(element: etree._Element, text: str) -> None:
    lines = [line for phrase in text.splitlines() for line in _wrap(phrase)]
    for number, line in enumerate(lines, 1):
        lyric = etree.SubElement(element, "lyric", number=str(number))
        etree.SubElement(lyric, "syllabic").text = "single"
        etree.SubElement(lyric, "text").text = line


def _beam(
    elements: Sequence[etree._Element], heads: Sequence[_Head], meter: tuple[int, int]
) -> None:
    spans = beam_spans([head.onset for head in heads], [head.length for head in heads], meter)
    group: list[etree._Element] = []
    last: int | None = None
    for element, head, span in zip(elements, heads, spans):
        flagged = head.value is not None and head.value.kind in FLAGS
        flagged = flagged and head.note.pitch is not None
        if not flagged or span != last:
            beam_group(group)
            group = []
        if flagged:
            group.append(element)
        last = span
    beam_group(group)
