"""A part laid out for rewriting: every note of every staff with its key, its clef and its ties.

Unlike `handslide.edges.musicxml.line`, which reads one voice as it is played, this keeps all that
is printed. Onsets are quarter notes into the measure.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from handslide.edges.musicxml.signs import LEAST_DIVISIONS, MOST_ALTER, MOST_FIFTHS, number
from handslide.ground.limits import MEASURE_LETTERS
from handslide.ground.pitch import STEPS, Pitch

_EPS_Q = 1e-4
SHARPS = "FCGDAEB"
_SIGN_STEPS = {"G": 32, "F": 24, "C": 28}  # letters above C0
_USUAL_LINES = {"G": 2, "F": 4, "C": 3}


@dataclass(frozen=True, slots=True)
class PrintedClef:
    """A clef with a sign on one of five lines, ``octaves`` above (8va) or below (8vb) it."""

    sign: str
    line: int
    octaves: int = 0

    @property
    def middle(self) -> int:
        """The pitch on the middle line, in letters above C0."""
        return _SIGN_STEPS[self.sign] - 2 * (self.line - 3) + 7 * self.octaves


@dataclass(slots=True, eq=False)
class KeyRegion:
    """From a key signature to the next. ``element`` is None before the first one.

    ``alters`` gives each letter's alteration; ``fifths`` is None in a key that isn't traditional.
    """

    element: Any
    fifths: int | None
    alters: dict[str, float]


@dataclass(slots=True, eq=False)
class ClefRegion:
    """A piece of a measure under one clef. ``element`` is the ``<clef>`` at its start, if any.

    ``clef`` is None for other signs (percussion, tablature) and before the first clef.
    """

    measure: int
    onset: float
    clef: PrintedClef | None
    element: Any = None
    notes: list["StaffNote"] = field(default_factory=list)


@dataclass(slots=True, eq=False)
class StaffNote:
    """A printed note or rest. ``pitch`` is None for rests and unpitched notes; ``fraction`` is
    what its alteration has beyond whole semitones. ``chain`` numbers tied notes together."""

    element: Any
    measure: int
    onset: float
    staff: str
    voice: str
    pitch: Pitch | None
    fraction: float
    key: KeyRegion
    chain: int
    tied_to: bool
    clef: ClefRegion | None = None

    @property
    def alter(self) -> float:
        """The alteration in semitones, quarter tones and all."""
        return 0.0 if self.pitch is None else self.pitch.alter + self.fraction


@dataclass(slots=True, eq=False)
class OctaveLine:
    """An 8va line: its ``<octave-shift>`` elements, and from where to where it goes."""

    elements: list[Any]
    staff: str
    start: tuple[int, float]
    octaves: int
    end: tuple[int, float] = (1 << 30, 0.0)


@dataclass(slots=True, eq=False)
class Staves:
    """All of a part that depends on pitch, in the order of the file."""

    notes: list[StaffNote] = field(default_factory=list)
    keys: list[KeyRegion] = field(default_factory=list)
    clefs: dict[str, list[ClefRegion]] = field(default_factory=dict)
    lines: list[OctaveLine] = field(default_factory=list)
    harmonies: list[tuple[Any, KeyRegion]] = field(default_factory=list)
    figured: list[str] = field(default_factory=list)
    """Numbers of the measures with figured bass."""
    transposing: bool = False
    """The part transposes by more than octaves."""
    measures: list[Any] = field(default_factory=list)


def measures_of(roots: Iterable[Any]) -> Iterator[Any]:
    """The elements that hold a part's notes, one a measure, in partwise and timewise scores."""
    for root in roots:
        if root.getparent().tag == "measure":
            yield root
        else:
            yield from root.iterchildren("measure")


def measure_number(measure: Any) -> str:
    """The printed number of a measure, also in a timewise score."""
    holder = measure.getparent() if measure.tag == "part" else measure
    return str(holder.get("number", ""))[:MEASURE_LETTERS]


def read_staves(roots: Iterable[Any]) -> Staves:
    """Lay out a part. Notes without a readable pitch are left out."""
    reader = _Reader()
    for measure in measures_of(roots):
        reader.measure(measure)
    return reader.staves


def key_alters(fifths: int) -> dict[str, float]:
    """The alteration of each letter in a key of so many sharps (negative: flats)."""
    alters = dict.fromkeys(STEPS, 0.0)
    for count in range(abs(fifths) if abs(fifths) <= MOST_FIFTHS else 0):
        step = SHARPS[count % 7] if fifths > 0 else SHARPS[6 - count % 7]
        alters[step] += 1.0 if fifths > 0 else -1.0
    return alters


def pitch_of(element: Any) -> tuple[Pitch, float] | None:
    """The pitch in a ``<pitch>`` and the fraction of a semitone over it; None if unreadable."""
    step = (element.findtext("step") or "").strip()
    octave, alter = number(element.findtext("octave")), number(element.findtext("alter") or "0")
    if step not in STEPS or octave is None or not -2 <= octave <= 12:
        return None
    if alter is None or abs(alter) > MOST_ALTER:
        return None
    whole = round(alter)
    return Pitch(step, whole, int(octave)), alter - whole


def key_pitches(key: Any) -> list[tuple[Any, Any, Pitch]]:
    """(key-step, key-alter, pitch) of each sign of a key that isn't traditional."""
    rows = []
    for step in key.iterchildren("key-step"):
        alter = step.getnext()
        name, value = (step.text or "").strip(), number(alter.text if alter is not None else None)
        if (
            name in STEPS
            and value is not None
            and abs(value) <= MOST_ALTER
            and alter.tag == "key-alter"
        ):
            rows.append((step, alter, Pitch(name, round(value), 4)))
    return rows


def _read_key(key: Any) -> KeyRegion:
    fifths = number(key.findtext("fifths"))
    if fifths is not None and abs(fifths) <= MOST_FIFTHS:
        return KeyRegion(key, int(fifths), key_alters(int(fifths)))
    alters = dict.fromkeys(STEPS, 0.0)
    alters.update({pitch.step: float(pitch.alter) for _, _, pitch in key_pitches(key)})
    return KeyRegion(key, None, alters)


def _read_clef(element: Any) -> PrintedClef | None:
    sign = (element.findtext("sign") or "").strip()
    if sign not in _SIGN_STEPS:
        return None
    line = number(element.findtext("line"))
    octaves = number(element.findtext("clef-octave-change"))
    if line is None or not 1 <= line <= 9:
        line = _USUAL_LINES[sign]
    if octaves is None or abs(octaves) > 3:
        octaves = 0
    return PrintedClef(sign, int(line), int(octaves))


class _Reader:
    def __init__(self) -> None:
        self.staves = Staves()
        none = KeyRegion(None, 0, key_alters(0))
        self.staves.keys.append(none)
        self.keys: dict[str, KeyRegion] = {}
        self.common_key = none
        self.now: dict[str, PrintedClef | None] = {}
        self.divisions = 1.0
        self.ties: dict[tuple[str, int], int] = {}
        self.chains = 0
        self.open_lines: dict[tuple[str, str], OctaveLine] = {}
        self.index = -1

    def measure(self, measure: Any) -> None:
        self.index += 1
        self.staves.measures.append(measure)
        position, onset = 0.0, 0.0
        notes: list[tuple[float, int, Any]] = []
        signs: list[tuple[float, int, Any]] = []
        for order, child in enumerate(measure):
            tag = child.tag
            if tag == "note":
                if child.find("chord") is None:
                    onset = position
                    if child.find("grace") is None:
                        position += self._length(child)
                notes.append((onset, order, child))
            elif tag == "backup":
                position = max(0.0, position - self._length(child))
            elif tag == "forward":
                position += self._length(child)
            elif tag == "attributes":
                divisions = number(child.findtext("divisions"))
                if divisions is not None and divisions >= LEAST_DIVISIONS:
                    self.divisions = divisions
                signs.append((position, order, child))
            elif tag in ("direction", "harmony", "figured-bass"):
                signs.append((position, order, child))
        self._in_time(notes, signs)

    def _length(self, element: Any) -> float:
        return (number(element.findtext("duration")) or 0.0) / self.divisions

    def _in_time(self, notes: list[Any], signs: list[Any]) -> None:
        """Take the signs of a measure and its notes in order of time, signs first."""
        regions: dict[str, ClefRegion] = {}
        rows = [(round(onset / _EPS_Q), 1, order, child) for onset, order, child in notes]
        rows += [(round(onset / _EPS_Q), 0, order, child) for onset, order, child in signs]
        for ticks, is_note, _, child in sorted(rows, key=lambda row: row[:3]):
            if is_note:
                self._note(child, ticks * _EPS_Q, regions)
            elif child.tag == "attributes":
                self._attributes(child, ticks * _EPS_Q, regions)
            else:
                self._sign(child, ticks * _EPS_Q)

    def _attributes(self, element: Any, onset: float, regions: dict[str, ClefRegion]) -> None:
        for child in element:
            if child.tag == "key":
                region = _read_key(child)
                self.staves.keys.append(region)
                if child.get("number") is None:
                    self.common_key, self.keys = region, {}
                else:
                    self.keys[child.get("number")] = region
            elif child.tag == "clef":
                self._clef(child, onset, regions)
            elif child.tag == "transpose":
                chromatic = number(child.findtext("chromatic")) or 0.0
                self.staves.transposing |= chromatic % 12 != 0

    def _clef(self, element: Any, onset: float, regions: dict[str, ClefRegion]) -> None:
        staff = element.get("number", "1")
        clef = _read_clef(element)
        self.now[staff] = clef
        region = ClefRegion(self.index, onset, clef, element)
        self.staves.clefs.setdefault(staff, []).append(region)
        regions[staff] = region

    def _region(self, staff: str, regions: dict[str, ClefRegion]) -> ClefRegion:
        region = regions.get(staff)
        if region is None:
            region = ClefRegion(self.index, 0.0, self.now.get(staff))
            self.staves.clefs.setdefault(staff, []).append(region)
            regions[staff] = region
        return region

    def _note(self, element: Any, onset: float, regions: dict[str, ClefRegion]) -> None:
        staff = (element.findtext("staff") or "1").strip()
        voice = (element.findtext("voice") or "1").strip()
        found = None
        holder = element.find("pitch")
        if holder is not None:
            found = pitch_of(holder)
            if found is None:
                return
        pitch, fraction = found or (None, 0.0)
        chain, tied_to = self._chain(element, voice, pitch)
        key = self.keys.get(staff, self.common_key)
        note = StaffNote(
            element, self.index, onset, staff, voice, pitch, fraction, key, chain, tied_to
        )
        note.clef = self._region(staff, regions)
        note.clef.notes.append(note)
        self.staves.notes.append(note)

    def _chain(self, element: Any, voice: str, pitch: Pitch | None) -> tuple[int, bool]:
        """The number of the note's tie chain, and whether it is tied to a note before it."""
        kinds = {tie.get("type") for tie in element.iterchildren("tie")}
        kinds |= {tied.get("type") for tied in element.iterfind("notations/tied")}
        if pitch is not None and "stop" in kinds:
            # A second ending continues a tie that the first has closed: the chain stays known.
            before = self.ties.get((voice, pitch.midi))
            if before is not None:
                return before, True
        self.chains += 1
        if pitch is not None and "start" in kinds:
            self.ties[voice, pitch.midi] = self.chains
        return self.chains, "stop" in kinds

    def _sign(self, element: Any, onset: float) -> None:
        staff = (element.findtext("staff") or "1").strip()
        if element.tag == "harmony":
            self.staves.harmonies.append((element, self.keys.get(staff, self.common_key)))
        elif element.tag == "figured-bass":
            self.staves.figured.append(measure_number(self.staves.measures[-1]))
        else:
            for line in element.iter("octave-shift"):
                self._octave_line(line, staff, onset)

    def _octave_line(self, element: Any, staff: str, onset: float) -> None:
        label, kind = (staff, element.get("number", "1")), element.get("type")
        if kind in ("up", "down"):
            size = number(element.get("size")) or 8.0
            octaves = round((size - 1.0) / 7.0) * (1 if kind == "down" else -1)
            line = OctaveLine([element], staff, (self.index, onset), octaves)
            self.open_lines[label] = line
            self.staves.lines.append(line)
        elif label in self.open_lines:
            self.open_lines[label].elements.append(element)
            if kind == "stop":
                self.open_lines.pop(label).end = (self.index, onset)
