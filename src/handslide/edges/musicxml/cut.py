"""Measures of a part cut out as a score of their own.

The excerpt opens with the clef, key, meter and transposition that are in force there; ties, slurs
and lines that began before or end after it are taken away.
"""

import copy
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from lxml import etree

from handslide.edges.musicxml.read import Score

_STATE = ("divisions", "key", "time", "staves", "clef", "staff-details", "transpose")
_CLEFS = {("F", "4"): "bass", ("C", "4"): "tenor", ("C", "3"): "alto"}
_DROPPED = {"print", "ending", "repeat", "measure-style"}
_SPANS = {"tied", "slur", "slide", "glissando", "tuplet", "wavy-line"}
_DIRECTIONS = {"wedge", "octave-shift", "dashes", "bracket", "pedal"}


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """An excerpt: the id of its part, and which notes it holds.

    ``first_note`` is the ordinal of its first ``<note>`` in the whole part; ``continued`` are the
    ordinals, in the excerpt, of the notes whose tie came from before it.
    """

    part_id: str
    first_note: int
    notes: int
    continued: tuple[int, ...]
    _root: Any

    def partwise(self) -> Any:
        """Its root, a ``score-partwise`` element."""
        return self._root

    @property
    def clef(self) -> str | None:
        """The name of the clef that it begins with; None where it is none of those that don't
        transpose, or the part is transposed."""
        clef = self._root.find(".//clef")
        if clef is None or self._root.find(".//transpose") is not None:
            return None
        return _CLEFS.get((clef.findtext("sign", ""), clef.findtext("line", "")))

    @property
    def fifths(self) -> int | None:
        """The sharps (negative: flats) of the key that it begins in; None without one."""
        text = self._root.findtext(".//key/fifths", "").strip()
        return int(text) if text.lstrip("-").isdecimal() else None

    def to_bytes(self) -> bytes:
        """The excerpt as a MusicXML file."""
        data: bytes = etree.tostring(
            self._root, encoding="UTF-8", xml_declaration=True, pretty_print=True
        )
        return data


def cut_measures(score: Score, part_id: str, first: int, last: int, title: str) -> Cut:
    """Cut the measures ``first`` to ``last`` (from 0, both included) out of a part.

    The score isn't changed.
    """
    tree = score.partwise()
    part = next(part for part in tree.findall("part") if part.get("id") == part_id)
    measures = part.findall("measure")
    state: dict[tuple[str, str], Any] = {}
    before = 0
    for measure in measures[:first]:
        before += len(measure.findall("note"))
        for attributes in measure.findall("attributes"):
            _update(state, attributes)
    root = etree.Element("score-partwise", version=tree.get("version", "4.0"))
    etree.SubElement(etree.SubElement(root, "work"), "work-title").text = title
    listed = etree.SubElement(root, "part-list")
    entry = next((one for one in tree.iter("score-part") if one.get("id") == part_id), None)
    if entry is None:
        entry = etree.SubElement(listed, "score-part", id=part_id)
        etree.SubElement(entry, "part-name")
    else:
        listed.append(copy.deepcopy(entry))
    new = etree.SubElement(root, "part", id=part_id)
    new.extend(copy.deepcopy(measure) for measure in measures[first : last + 1])
    _open_with(new[0], state)
    continued = _mend_ties(new)
    _mend_lines(new)
    return Cut(part_id, before, sum(1 for _ in new.iter("note")), continued, root)


def _update(state: dict[tuple[str, str], Any], attributes: Any) -> None:
    for child in attributes:
        if child.tag in _STATE:
            if child.get("number") is None:
                for key in [key for key in state if key[0] == child.tag]:
                    del state[key]
            state[child.tag, child.get("number", "")] = child


def _open_with(measure: Any, state: dict[tuple[str, str], Any]) -> None:
    """Put what is in force before the first note, under what the measure itself states there."""
    state = dict(state)
    for child in list(measure):
        if child.tag in ("note", "backup", "forward"):
            break
        if child.tag == "attributes":
            _update(state, child)
            measure.remove(child)
    attributes = etree.Element("attributes")
    order = sorted(state, key=lambda key: (_STATE.index(key[0]), key[1]))
    attributes.extend(copy.deepcopy(state[key]) for key in order)
    measure.insert(0, attributes)


def _mend_ties(part: Any) -> tuple[int, ...]:
    """Drop the ends of ties that lead out; the numbers of the notes that were tied from before."""
    opened: dict[tuple[str, str], Any] = {}
    continued = []
    for number, note in enumerate(part.iter("note")):
        place = note.findtext("pitch/step", ""), note.findtext("pitch/octave", "")
        for tie in note.findall("tie"):
            if tie.get("type") == "stop" and opened.pop(place, None) is None:
                note.remove(tie)
                continued.append(number)
        for tie in note.findall("tie"):
            if tie.get("type") == "start":
                opened[place] = tie
    for tie in opened.values():
        _remove(tie)
    return tuple(continued)


def _mend_lines(part: Any) -> None:
    for element in [one for one in part.iter() if one.tag in _DROPPED]:
        _remove(element)
    _close(part, _SPANS)
    _close(part, _DIRECTIONS)
    for tag in ("ornaments", "notations", "direction-type"):
        for element in [one for one in part.iter(tag) if not len(one)]:
            _remove(element)
    for direction in list(part.iter("direction")):
        if direction.find("direction-type") is None:
            _remove(direction)


def _close(part: Any, tags: Iterable[str]) -> None:
    """Take away what has only one end inside."""
    opened: dict[tuple[str, str], list[Any]] = {}
    for element in [one for one in part.iter() if one.tag in tags]:
        key = element.tag, element.get("number", "1")
        kind = element.get("type", "")
        if kind == "stop":
            if key in opened:
                del opened[key]
            else:
                _remove(element)
        elif kind == "continue":
            if key in opened:
                opened[key].append(element)
            else:
                _remove(element)
        elif kind not in ("let-ring",):
            opened.setdefault(key, []).append(element)
    for rows in opened.values():
        for element in rows:
            _remove(element)


def _remove(element: Any) -> None:
    parent = element.getparent()
    if parent is not None:
        parent.remove(element)
