"""What was read from a PDF, as a MusicXML score of one part.

Pitches are written as read; a transposition is nowhere stated, so the part's name goes with it.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from lxml import etree

from handslide.edges.musicxml.beams import FLAGS, beam_group
from handslide.edges.musicxml.notevalues import beam_spans
from handslide.edges.musicxml.write import ACCIDENTALS, DOCTYPE
from handslide.edges.pdfparts.reading import Change, PdfReading, ReadMeasure, ReadNote

_TYPES = ("whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th")
_LETTERS = "CDEFGAB"
_UNNAMED = "Trombone"
_MOST_SLURS = 6
_SOUNDS = {
    "segno": {"segno": "1"}, "coda": {"coda": "1"}, "fine": {"fine": "yes"},
    "dacapo": {"dacapo": "yes"}, "dalsegno": {"dalsegno": "1"}, "tocoda": {"tocoda": "1"},
}  # fmt: skip
_JUMP_WORDS = {
    "fine": "Fine", "dacapo": "D.C.", "dacapo-fine": "D.C. al Fine", "dacapo-coda": "D.C. al Coda",
    "dalsegno": "D.S.", "dalsegno-fine": "D.S. al Fine", "dalsegno-coda": "D.S. al Coda",
    "tocoda": "To Coda",
}  # fmt: skip


@dataclass(slots=True)
class _Writer:
    """What is needed throughout the part, and the notes written so far, by their index."""

    reading: PdfReading
    divisions: int
    slurs: Mapping[int, tuple[tuple[str, int], ...]]
    order: list[int] = field(default_factory=list)
    meter: tuple[int, int] = (4, 4)
    gliss_open: bool = False

    def ticks(self, length: Fraction) -> str:
        return str(int(length * self.divisions))


def musicxml_of(reading: PdfReading) -> tuple[bytes, tuple[int, ...]]:
    """The part as MusicXML 4.0, and for each of its ``<note>`` elements, in order, the index of the
    note of the reading that it stands for. A rest of several bars has several elements."""
    root = etree.Element("score-partwise", version="4.0")
    _head(root, reading)
    part = etree.SubElement(root, "part", id="P1")
    writer = _Writer(reading, _divisions(reading), _slurs(reading.notes))
    notes = _by_measure(reading)
    changes: dict[int, list[Change]] = {}
    for change in reading.changes:
        changes.setdefault(change.measure, []).append(change)
    for index, measure in enumerate(reading.measures):
        _measure(writer, part, index, measure, notes.get(index, []), changes.get(index, []))
    etree.indent(root)
    data: bytes = etree.tostring(
        root, encoding="UTF-8", xml_declaration=True, doctype=DOCTYPE, pretty_print=True
    )
    return data, tuple(writer.order)


def _head(root: etree._Element, reading: PdfReading) -> None:
    work = etree.SubElement(root, "work")
    etree.SubElement(work, "work-title").text = reading.title
    identification = etree.SubElement(root, "identification")
    if reading.composer:
        etree.SubElement(identification, "creator", type="composer").text = reading.composer
    encoding = etree.SubElement(identification, "encoding")
    etree.SubElement(encoding, "software").text = "handslide"
    for element in ("accidental", "beam"):
        etree.SubElement(encoding, "supports", element=element, type="yes")
    listed = etree.SubElement(etree.SubElement(root, "part-list"), "score-part", id="P1")
    etree.SubElement(listed, "part-name").text = reading.part_name or _UNNAMED


def _divisions(reading: PdfReading) -> int:
    times = [note.length for note in reading.notes] + [note.onset for note in reading.notes]
    times += [change.onset for change in reading.changes]
    times += [measure.meter for measure in reading.measures]
    return math.lcm(4, *(time.denominator for time in times))


def _by_measure(reading: PdfReading) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for index, note in enumerate(reading.notes):
        found.setdefault(note.measure, []).append(index)
    return found


def _slurs(notes: Sequence[ReadNote]) -> dict[int, tuple[tuple[str, int], ...]]:
    """For each note its slurs' ends, with a number that no other open slur has. What has no other
    end is left out."""
    open_at: list[tuple[int, int]] = []
    found: dict[int, list[tuple[str, int]]] = {}
    for index, note in enumerate(notes):
        for _ in range(min(note.slur_stop, len(open_at))):
            start, number = open_at.pop(0)
            found.setdefault(start, []).append(("start", number))
            found.setdefault(index, []).append(("stop", number))
        for _ in range(note.slur_start):
            free = set(range(1, _MOST_SLURS + 1)) - {number for _, number in open_at}
            if free:
                open_at.append((index, min(free)))
    return {
        index: tuple(sorted(ends, key=lambda end: end[0] == "start"))
        for index, ends in found.items()
    }


def _measure(
    writer: _Writer, part: etree._Element, index: int, measure: ReadMeasure,
    notes: Sequence[int], changes: Sequence[Change],
) -> None:  # fmt: skip
    for repeat in range(measure.rests):
        element = etree.SubElement(part, "measure", number=_number(measure, repeat))
        if measure.number == "0":
            element.set("implicit", "yes")
        _left_barline(writer, element, index, measure, repeat)
        at_start = [change for change in changes if not change.onset] if repeat == 0 else []
        _attributes(writer, element, at_start, len(part) == 1, measure if repeat == 0 else None)
        for change in at_start:
            _direction(element, change)
        if repeat == 0:
            _jumps(element, measure.jumps, ("segno", "coda"))
        later = [change for change in changes if change.onset]
        _voices(writer, element, measure, notes, later if measure.rests == 1 else [])
        if repeat == measure.rests - 1:
            left = [jump for jump in measure.jumps if jump not in ("segno", "coda")]
            _jumps(element, measure.jumps, left)
            _right_barline(writer, element, index, measure)


def _number(measure: ReadMeasure, repeat: int) -> str:
    return str(int(measure.number) + repeat) if measure.number.isdigit() else measure.number


# Attributes and directions


def _attributes(
    writer: _Writer, element: etree._Element, changes: Iterable[Change], first: bool,
    measure: ReadMeasure | None = None,
) -> None:  # fmt: skip
    last = {change.kind: change for change in changes}
    rests = measure.rests if measure is not None else 1
    if not first and rests == 1 and not last.keys() & {"key", "meter", "clef"}:
        return
    attributes = etree.SubElement(element, "attributes")
    if first:
        etree.SubElement(attributes, "divisions").text = str(writer.divisions)
    if "key" in last:
        key = etree.SubElement(attributes, "key")
        etree.SubElement(key, "fifths").text = last["key"].value
    if "meter" in last:
        beats, unit = last["meter"].value.split("/")
        writer.meter = int(beats), int(unit)
        time = etree.SubElement(attributes, "time")
        etree.SubElement(time, "beats").text = beats
        etree.SubElement(time, "beat-type").text = unit
    if "clef" in last:
        _clef(attributes, last["clef"].value)
    if rests > 1:
        style = etree.SubElement(attributes, "measure-style")
        etree.SubElement(style, "multiple-rest").text = str(rests)


def _clef(attributes: etree._Element, name: str) -> None:
    clef = etree.SubElement(attributes, "clef")
    etree.SubElement(clef, "sign").text = name[0]
    etree.SubElement(clef, "line").text = name[1]
    if name[2:]:
        octaves = "1" if name.endswith("a") else "-1"
        etree.SubElement(clef, "clef-octave-change").text = octaves


def _direction(element: etree._Element, change: Change) -> None:
    if change.kind not in ("tempo", "words", "dynamic", "rehearsal"):
        return
    place = "below" if change.kind == "dynamic" else "above"
    direction = etree.SubElement(element, "direction", placement=place)
    kind = etree.SubElement(direction, "direction-type")
    if change.kind == "tempo":
        _metronome(kind, float(change.value))
        etree.SubElement(direction, "sound", tempo=change.value)
    elif change.kind == "dynamic":
        _dynamics(kind, change.value)
    else:
        etree.SubElement(kind, change.kind).text = change.value


def _metronome(kind: etree._Element, quarters: float) -> None:
    mark = etree.SubElement(kind, "metronome")
    etree.SubElement(mark, "beat-unit").text = "quarter"
    etree.SubElement(mark, "per-minute").text = f"{quarters:g}"


def _dynamics(kind: etree._Element, value: str) -> None:
    known = {
        "p", "pp", "ppp", "pppp", "ppppp", "f", "ff", "fff", "ffff", "fffff", "mp", "mf", "sf",
        "sfp", "sfpp", "fp", "rf", "rfz", "sfz", "sffz", "fz", "n", "pf", "sfzp",
    }  # fmt: skip
    dynamics = etree.SubElement(kind, "dynamics")
    if value in known:
        etree.SubElement(dynamics, value)
    else:
        etree.SubElement(dynamics, "other-dynamics").text = value


def _jumps(element: etree._Element, jumps: Iterable[str], wanted: Iterable[str]) -> None:
    for jump in jumps:
        if jump not in wanted:
            continue
        direction = etree.SubElement(element, "direction", placement="above")
        kind = etree.SubElement(direction, "direction-type")
        if jump in ("segno", "coda"):
            etree.SubElement(kind, jump)
        else:
            etree.SubElement(kind, "words").text = _JUMP_WORDS[jump]
        etree.SubElement(direction, "sound", attrib=_SOUNDS[jump.partition("-")[0]])


# Barlines


def _left_barline(
    writer: _Writer, element: etree._Element, index: int, measure: ReadMeasure, repeat: int
) -> None:
    before = writer.reading.measures[index - 1].ending if index else ""
    begins = bool(measure.ending) and measure.ending != before
    if repeat or not (measure.repeat_start or begins):
        return
    bar = etree.SubElement(element, "barline", location="left")
    if measure.repeat_start:
        etree.SubElement(bar, "bar-style").text = "heavy-light"
    if begins:
        etree.SubElement(bar, "ending", number=measure.ending, type="start")
    if measure.repeat_start:
        etree.SubElement(bar, "repeat", direction="forward")


def _right_barline(
    writer: _Writer, element: etree._Element, index: int, measure: ReadMeasure
) -> None:
    measures = writer.reading.measures
    after = measures[index + 1].ending if index + 1 < len(measures) else ""
    ends = bool(measure.ending) and measure.ending != after
    if not (measure.repeat_end or measure.final or measure.double or ends):
        return
    bar = etree.SubElement(element, "barline", location="right")
    if measure.repeat_end or measure.final:
        etree.SubElement(bar, "bar-style").text = "light-heavy"
    elif measure.double:
        etree.SubElement(bar, "bar-style").text = "light-light"
    if ends:
        etree.SubElement(bar, "ending", number=measure.ending, type="stop")
    if measure.repeat_end:
        etree.SubElement(bar, "repeat", direction="backward")


# Notes


def _voices(
    writer: _Writer, element: etree._Element, measure: ReadMeasure, notes: Sequence[int],
    changes: Sequence[Change],
) -> None:  # fmt: skip
    waiting = sorted(changes, key=lambda change: change.onset)
    position = Fraction(0)
    read = writer.reading.notes
    voices = sorted({read[index].voice for index in notes})
    if not voices:
        _forward(writer, element, measure.meter)
    for voice in voices:
        own = [index for index in notes if read[index].voice == voice]
        if position:
            _backup(writer, element, position)
            position = Fraction(0)
        position = _voice(writer, element, measure, own, waiting)
        for change in waiting:
            _later(writer, element, change)
        waiting = []


def _backup(writer: _Writer, element: etree._Element, length: Fraction) -> None:
    backup = etree.SubElement(element, "backup")
    etree.SubElement(backup, "duration").text = writer.ticks(length)


def _forward(writer: _Writer, element: etree._Element, length: Fraction) -> None:
    if length > 0:
        forward = etree.SubElement(element, "forward")
        etree.SubElement(forward, "duration").text = writer.ticks(length)


def _voice(
    writer: _Writer, element: etree._Element, measure: ReadMeasure, notes: Sequence[int],
    waiting: list[Change],
) -> Fraction:  # fmt: skip
    """Write a voice of a measure, with the changes that begin meanwhile; gives where it ends."""
    read = writer.reading.notes
    order = sorted(notes, key=lambda index: (read[index].onset, not read[index].grace, index))
    tuplets = _tuplet_ends([index for index in order if not read[index].grace], read)
    position = Fraction(0)
    elements: list[tuple[int, etree._Element]] = []
    for index in order:
        note = read[index]
        while waiting and waiting[0].onset <= note.onset and not note.chord:
            _later(writer, element, waiting.pop(0))
        if note.onset > position and not note.chord:
            _forward(writer, element, note.onset - position)
            position = note.onset
        written = _note(writer, element, index, measure, tuplets.get(index, ""))
        elements.append((index, written))
        if not note.chord and not note.grace:
            position += note.length
    _beam(writer, elements)
    return position


def _later(writer: _Writer, element: etree._Element, change: Change) -> None:
    if change.kind in ("key", "meter", "clef"):
        _attributes(writer, element, [change], False)
    else:
        _direction(element, change)


def _note(
    writer: _Writer, element: etree._Element, index: int, measure: ReadMeasure, tuplet: str
) -> etree._Element:
    note = writer.reading.notes[index]
    writer.order.append(index)
    made = etree.SubElement(element, "note")
    whole_bar = note.step is None and note.kind <= 1 and note.length == measure.meter
    if note.grace:
        etree.SubElement(made, "grace")
    elif note.cue:
        etree.SubElement(made, "cue")
    if note.chord:
        etree.SubElement(made, "chord")
    if note.step is None:
        rest = etree.SubElement(made, "rest")
        if whole_bar:
            rest.set("measure", "yes")
    else:
        _pitch(made, note)
    if not note.grace:
        etree.SubElement(made, "duration").text = writer.ticks(note.length)
    ties = [kind for kind, there in (("stop", note.tie_from), ("start", note.tie_to)) if there]
    for kind in () if note.cue else ties:
        etree.SubElement(made, "tie", type=kind)
    etree.SubElement(made, "voice").text = str(note.voice)
    if not whole_bar:
        etree.SubElement(made, "type").text = _type(note)
        for _ in range(note.dots):
            etree.SubElement(made, "dot")
    if note.shown:
        etree.SubElement(made, "accidental").text = ACCIDENTALS.get(note.alter, "natural")
    if note.actual != note.normal:
        ratio = etree.SubElement(made, "time-modification")
        etree.SubElement(ratio, "actual-notes").text = str(note.actual)
        etree.SubElement(ratio, "normal-notes").text = str(note.normal)
    if note.stem_up is not None:
        etree.SubElement(made, "stem").text = "up" if note.stem_up else "down"
    _notations(writer, made, index, ties, tuplet)
    return made


def _pitch(made: etree._Element, note: ReadNote) -> None:
    assert note.step is not None
    pitch = etree.SubElement(made, "pitch")
    etree.SubElement(pitch, "step").text = _LETTERS[note.step]
    if note.alter:
        etree.SubElement(pitch, "alter").text = str(note.alter)
    # The format knows octaves 0 to 9; what lies beyond is doubted as out of range.
    etree.SubElement(pitch, "octave").text = str(min(9, max(0, note.octave)))


def _type(note: ReadNote) -> str:
    return "breve" if note.kind == 0 else _TYPES[note.kind.bit_length() - 1]


def _notations(
    writer: _Writer, made: etree._Element, index: int, ties: Sequence[str], tuplet: str
) -> None:
    note = writer.reading.notes[index]
    notations = etree.Element("notations")
    for kind in ties:
        etree.SubElement(notations, "tied", type=kind)
    for kind, number in writer.slurs.get(index, ()):
        etree.SubElement(notations, "slur", type=kind, number=str(number))
    if tuplet:
        etree.SubElement(notations, "tuplet", type=tuplet, number="1")
    if note.step is not None and not note.chord and not note.grace:
        for kind, there in (("stop", writer.gliss_open), ("start", note.gliss_to)):
            if there:
                etree.SubElement(notations, "slide", type=kind, number="1")
        writer.gliss_open = note.gliss_to
    if len(notations):
        made.append(notations)


def _tuplet_ends(order: Sequence[int], notes: Sequence[ReadNote]) -> dict[int, str]:
    """Where tuplets begin and end: as soon as their values make whole parts."""
    found: dict[int, str] = {}
    start: int | None = None
    total = Fraction(0)
    for index in order:
        note = notes[index]
        if note.chord:
            continue
        if note.actual == note.normal:
            start = None
            continue
        if start is None or notes[start].actual != note.actual:
            start, total = index, Fraction(0)
        total += note.length * note.actual / note.normal
        part = total / note.actual
        whole = not (part.numerator & part.numerator - 1 or part.denominator & part.denominator - 1)
        if whole and index != start:
            found[start], found[index] = "start", "stop"
            start = None
    return found


def _beam(writer: _Writer, elements: Sequence[tuple[int, etree._Element]]) -> None:
    """Beams over the notes that have some on the page, by the beats of the meter."""
    read = writer.reading.notes
    timed = [(index, made) for index, made in elements if _beamable(read[index])]
    onsets = [read[index].onset for index, _ in timed]
    spans = beam_spans(onsets, [read[index].length for index, _ in timed], writer.meter)
    group: list[etree._Element] = []
    last: int | None = None
    for (index, made), span in zip(timed, spans):
        if span != last or not read[index].beams:
            beam_group(group)
            group = []
        if read[index].beams:
            group.append(made)
        last = span
    beam_group(group)


def _beamable(note: ReadNote) -> bool:
    return (
        note.step is not None and not note.chord and not note.grace
        and note.kind >= 8 and _type(note) in FLAGS
    )  # fmt: skip
