"""Scores in MusicXML: choose a part, read it as notes in time, write the file back.

The tree stays as it came: reading keeps references to its elements, marks are added to them
(`handslide.edges.musicxml.marks`), and everything else goes out as it came in.
"""

from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

from lxml import etree

from handslide.edges.files.safexml import Package, read_file, read_package
from handslide.edges.musicxml.beats import beats_of, measures_of
from handslide.edges.musicxml.bflat import seems_bflat, shift_of
from handslide.edges.musicxml.line import WrittenLine, read_line
from handslide.edges.musicxml.looks import PartLook, look_at
from handslide.edges.musicxml.order import PlayOrder, play_order
from handslide.edges.musicxml.parts import (
    Part,
    choose_part,
    choose_voice,
    list_parts,
    trombone_parts,
)
from handslide.edges.musicxml.scorepart import (
    PartInfo,
    ScoreNote,
    ScorePart,
    ScoreWarning,
)
from handslide.edges.musicxml.signs import MeasureSigns
from handslide.edges.musicxml.time import TempoMap, play, signs_of_other_part
from handslide.ground.cleantext import cut_line
from handslide.ground.errors import ScoreError
from handslide.ground.facts import fact
from handslide.ground.limits import NAME_LETTERS, PART_NOTES

__all__ = [
    "ENDINGS",
    "PartInfo",
    "Score",
    "ScoreNote",
    "ScorePart",
    "ScoreWarning",
    "open_score",
    "open_score_data",
    "read_score",
]

ENDINGS = (".musicxml", ".xml", ".mxl")
"""What the names of MusicXML files end in."""
_NODE_BYTES, _ATTRIBUTE_BYTES = 130, 230


class Score:
    """A score that is open: its tree, the file around it, and its parts.

    Attributes
    ----------
    name : str
        What errors call it.
    root : lxml element
        ``score-partwise`` or ``score-timewise``.
    converted : bool
        It came from another format; `to_bytes` gives MusicXML.
    may_hold_marks : bool
        False when there is surely no mark of ours in the tree, so that none need be sought.
    may_hold_fingerings : bool
        The same of fingerings of any kind.
    """

    def __init__(self, package: Package, name: str, *, converted: bool = False) -> None:
        self.name = name
        self.converted = converted
        self._package = package
        self.root = package.document.root
        self.may_hold_marks = package.document.has_instructions
        self.may_hold_fingerings = package.document.has_fingerings
        self._parts: list[Part] = list_parts(self.root, name)
        self._infos: tuple[PartInfo, ...] | None = None

    @property
    def title(self) -> str | None:
        """Title of the work, else of the movement, else the printed title."""
        found = _text(self.root, "work/work-title") or _text(self.root, "movement-title")
        if found is not None:
            return found
        for credit in self.root.iterchildren("credit"):
            if _text(credit, "credit-type") == "title":
                return _text(credit, "credit-words")
        return None

    @property
    def composer(self) -> str | None:
        """Name of the composer, else of a creator without a role."""
        creators = self.root.findall("identification/creator")
        for wanted in ("composer", None):
            for creator in creators:
                if creator.get("type") == wanted and (creator.text or "").strip():
                    return cut_line(creator.text, NAME_LETTERS)
        return None

    @property
    def parts(self) -> tuple[PartInfo, ...]:
        """All parts, in the order of the score."""
        if self._infos is None:
            self._infos = tuple(part.info() for part in self._parts)
        return self._infos

    def looks(self) -> tuple[PartLook, ...]:
        """What can be seen of each part, in the order of the score; walks through all of them."""
        return tuple(map(look_at, self._parts))

    @property
    def trombones(self) -> tuple[PartInfo, ...]:
        """The parts that are a trombone's by name or sound, in the order of the score."""
        return tuple(part.info() for part in trombone_parts(self._parts))

    def part_named(self, wanted: str) -> PartInfo:
        """The part of an id, a name, a piece of one, or a number. Raises ScoreError."""
        part, _ = choose_part(self._parts, wanted, self.name)
        return part.info()

    def read_part(
        self,
        part: str | None = None,
        voice: str | None = None,
        default_tempo_qpm: float = 80.0,
        *,
        small_notes: bool = False,
        sounds: str | None = None,
    ) -> ScorePart:
        """Read one voice of one part.

        Parameters
        ----------
        part : str, optional
            Id, name, a piece of the name that only one part has, or number from 1 on. Default: the
            only part, else the one that looks most like a trombone's.
        voice : str, optional
            Default: the first with a pitched note in this part.
        default_tempo_qpm : float
            Quarter notes a minute where the score doesn't say.
        small_notes : bool
            Notes that are only printed small are the player's own, as in a cadenza, not a cue.
        sounds : str, optional
            How it sounds where the file states no transposition: ``as-written`` or ``Bb-treble``.
            Default: as written, with a warning where the part's name says otherwise.

        Raises
        ------
        BadUsage
            No such way to sound.
        ScoreError
            No such part or voice, a part without pitched notes, or with too many notes, a note
            without a readable pitch.
        """
        chosen, warnings = choose_part(self._parts, part, self.name)
        self._check_notes(chosen)
        voice, staff = choose_voice(chosen, voice, self.name)
        line, order, tempo = self._timed_line(
            chosen, voice, default_tempo_qpm, small_notes=small_notes, shift=shift_of(sounds)
        )
        if sounds is None and seems_bflat(chosen):
            warnings.append(ScoreWarning("", "transpose", fact("scores.bflat", part=chosen.name)))
        played = play(line, order, tempo)
        for index, what in order.problems:
            warnings.append(ScoreWarning(line.numbers[index], "repeat", what, True, index))
        return ScorePart(
            part_id=chosen.part_id,
            name=chosen.name,
            voice=voice,
            staff=staff,
            notes=tuple(line.notes),
            played=tuple(played.note),
            onset_s=tuple(played.onset_s),
            length_s=tuple(played.length_s),
            slur=tuple(played.slur),
            gliss=tuple(played.gliss),
            warnings=(*warnings, *line.warnings),
            tempo_assumed=tempo.assumed,
            beats_s=beats_of(line, order.spans, tempo),
            measures=measures_of(line, order.spans, tempo),
            tempo_qpm=60.0 / tempo.s_per_q[0],
        )

    def read_way(
        self, part: ScorePart, default_tempo_qpm: float = 80.0, *, small_notes: bool = False
    ) -> tuple[WrittenLine, PlayOrder, TempoMap]:
        """The line of a part that was read: as written, the order of its measures, its tempos."""
        chosen = self.part_of(part.part_id)
        return self._timed_line(
            chosen, part.voice, default_tempo_qpm, small_notes=small_notes, shift=(0, 0)
        )

    def part_of(self, part_id: str) -> Part:
        """The part of an id, as found in the tree."""
        return next(part for part in self._parts if part.part_id == part_id)

    def _timed_line(
        self,
        chosen: Part,
        voice: str,
        default_tempo_qpm: float,
        *,
        small_notes: bool,
        shift: tuple[int, int],
    ) -> tuple[WrittenLine, PlayOrder, TempoMap]:
        line = self._line(chosen, voice, small_notes, shift)
        order = play_order(line.numbers, line.measure_length_q, line.signs)
        return line, order, TempoMap(line.tempos, default_tempo_qpm)

    def note_elements(self, part_id: str) -> list[Any]:
        """All ``<note>`` elements of a part; a note's ``ordinal`` is its place among them."""
        return [note for root in self.part_roots(part_id) for note in root.iter("note")]

    def part_roots(self, part_id: str) -> list[Any]:
        """The elements that hold all notes of a part: one, or one a measure when timewise."""
        return [root for part in self._parts if part.part_id == part_id for root in part.roots]

    def partwise(self) -> Any:
        """The root as ``score-partwise``: itself, or a copy of a ``score-timewise`` one."""
        if self.root.tag != "score-timewise":
            return self.root
        copied = deepcopy(self.root)
        root = etree.Element("score-partwise", dict(copied.attrib))
        measures = copied.findall("measure")
        root.extend(child for child in copied if child.tag != "measure")
        parts: dict[str, Any] = {}
        for measure in measures:
            for part in measure.findall("part"):
                whole = parts.get(part.get("id"))
                if whole is None:
                    whole = parts[part.get("id")] = etree.SubElement(root, "part", part.attrib)
                piece = etree.SubElement(whole, "measure", measure.attrib)
                piece.extend(list(part))
        return root

    def copy(self) -> "Score":
        """The same score with a tree of its own, to be changed."""
        document = replace(self._package.document, root=deepcopy(self.root))
        copied = Score(replace(self._package, document=document), self.name)
        copied.converted, copied.may_hold_marks = self.converted, self.may_hold_marks
        copied.may_hold_fingerings = self.may_hold_fingerings
        return copied

    def to_bytes(self) -> bytes:
        """The score in the kind of file, the encoding and with the head that it came with."""
        return self._package.to_bytes()

    def memory_bytes(self) -> int:
        """About what the score takes of memory: not the file's size, which packing and short names
        make small."""
        nodes = int(self.root.xpath("count(//node())"))  # texts and comments too
        attributes = int(self.root.xpath("count(//@*)"))
        others = sum(len(content) for _, content in self._package.entries)
        return _NODE_BYTES * nodes + _ATTRIBUTE_BYTES * attributes + others

    def _check_notes(self, chosen: Part) -> None:
        # An XPath would count them, too, but it looks at every blank between elements.
        count = sum(1 for root in chosen.roots for _ in root.iter("note"))
        if count > PART_NOTES:
            what = fact("scores.many_notes", count=count, most=PART_NOTES)
            raise ScoreError("scores.in_part", file=self.name, part=chosen.name, what=what)

    def _line(
        self, chosen: Part, voice: str, small_notes: bool, shift: tuple[int, int]
    ) -> WrittenLine:
        try:
            line = read_line(chosen.roots, voice, small_notes=small_notes, shift=shift)
        except ScoreError as error:
            raise ScoreError(
                "scores.in_part", file=self.name, part=chosen.name, what=error.fact
            ) from None
        if not line.notes:
            raise ScoreError("scores.silent_voice", file=self.name, part=chosen.name, voice=voice)
        self._add_signs_of_others(chosen, line)
        return line

    def _add_signs_of_others(self, chosen: Part, line: WrittenLine) -> None:
        """Tempo marks and jumps are often in the top part only, but hold for all."""
        for other in self._parts:
            if other is chosen:
                continue
            tempos, jumps = signs_of_other_part(other.roots)
            known = {round(at_q, 3) for at_q, _ in line.tempos}
            count = len(line.numbers)
            for index, at_q, qpm in tempos:
                place = line.measure_q[index] + at_q if index < count else None
                if place is not None and round(place, 3) not in known:
                    line.tempos.append((place, qpm))
            for index, jump in jumps:
                signs = line.signs.setdefault(index, MeasureSigns())
                if index < count and all(one.kind != jump.kind for one in signs.jumps):
                    signs.jumps.append(jump)


def read_score(data: bytes, name: str = "score.musicxml") -> Score:
    """Open a score from its bytes: MusicXML, plain or compressed.

    Raises
    ------
    ScoreError
        One sentence: not XML, cut off, unsafe, not a score, without parts.
    """
    return Score(read_package(data, name), name)


def open_score(path: Path) -> Score:
    """Open a score file: MusicXML, or another notation format, which is converted first.

    Raises
    ------
    ScoreError
        As `read_score`, or when the file can't be read or converted.
    """
    return open_score_data(read_file(path), path.name)


def open_score_data(data: bytes, name: str) -> Score:
    """Open a score from its bytes: as `open_score`, without a file.

    Raises
    ------
    ScoreError
        As `read_score`, or when it can't be converted.
    """
    from handslide.edges.otherscores.read import to_musicxml, wants_conversion

    if not wants_conversion(name, data):
        return read_score(data, name)
    return Score(read_package(to_musicxml(data, name), name), name, converted=True)


def _text(element: Any, path: str) -> str | None:
    return cut_line(element.findtext(path) or "", NAME_LETTERS) or None
