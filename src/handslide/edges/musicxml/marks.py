"""Writing marks into a score's tree, and taking them out again without a trace.

A mark is ``<technical><fingering placement="above">`` with a processing instruction before it,
which tells it from a user's own fingering and names the outermost element that was added with it:
``<?handslide mark notations?>``, ``<?handslide mark technical?>`` or ``<?handslide mark?>``.

Blanks: an added element takes over the blanks that stood behind the element before it, so that
removing it can give them back.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from lxml import etree

from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart

TARGET = "handslide"
_AFTER_NOTATIONS = frozenset({"lyric", "play", "listen"})


def write_marks(
    score: Score,
    part: ScorePart,
    marks: Mapping[int, str],
) -> None:
    """Put a mark over notes of a part; marks of ours that were there before go away first.

    Parameters
    ----------
    score : Score
        Changed in place.
    part : ScorePart
        Read from ``score``.
    marks : mapping
        Text of the mark by index into ``part.notes``.
    """
    remove_marks(score, part.part_id)
    score.may_hold_marks = score.may_hold_fingerings = True
    elements = score.note_elements(part.part_id)
    writer = _Writer(_Blanks.of(elements[part.notes[0].ordinal]))
    for index, text in sorted(marks.items()):
        writer.add(elements[part.notes[index].ordinal], text)


def remove_marks(score: Score, part_id: str) -> int:
    """Take all our marks out of a part and return how many there were."""
    if not score.may_hold_marks:
        return 0
    return sum(remove_marks_in(element) for element in score.part_roots(part_id))


def remove_marks_in(element: Any) -> int:
    """Take all our marks out of what is below an element and return how many there were."""
    ours = [
        instruction
        for instruction in element.iter(etree.ProcessingInstruction)
        if instruction.target == TARGET
        and (instruction.text or "").startswith("mark")
        and instruction.getparent().tag == "technical"
    ]
    for instruction in ours:
        _remove_mark(instruction)
    return len(ours)


@dataclass(frozen=True, slots=True)
class _Blanks:
    """How the file sets its elements: blanks before a child of ``<note>``, one and two deeper,
    and before the closing tag of each of these; all None in a file without line breaks."""

    child: str | None = None
    deeper: str | None = None
    deepest: str | None = None
    deeper_end: str | None = None
    deepest_end: str | None = None

    @classmethod
    def of(cls, note: Any) -> "_Blanks":
        """As they stand in a ``<note>``."""
        child, end = note.text, note[-1].tail if len(note) else None
        if not child or "\n" not in child or child.strip() or (end or "").strip():
            return cls()
        before = (end or child).rpartition("\n")[2]
        own = child.rpartition("\n")[2]
        parent = note.getparent().text or ""
        unit = own.removeprefix(parent.rpartition("\n")[2]) or "  "
        deeper, deepest = child + unit, child + 2 * unit
        if before == own:
            return cls(child, deeper, deepest, deeper, deepest)
        return cls(child, deeper, deepest, child, deeper)


class _Writer:
    """Adds marks; copies a ready-made piece for each, which is quicker than building it."""

    def __init__(self, blanks: _Blanks) -> None:
        self.blanks = blanks
        self.pieces: dict[tuple[str, str], Any] = {}

    def add(self, note: Any, text: str) -> None:
        last = _last_child(note)
        while last is not None and (last.tag in _AFTER_NOTATIONS or callable(last.tag)):
            last = last.getprevious()
        if last is None:
            note.insert(0, self._notations(text, "notations"))
            return
        if last.tag != "notations":
            self._add_piece(last, "notations", text, self.blanks.child)
            return
        notations = last
        while (last := notations.getprevious()) is not None and last.tag == "notations":
            notations = last
        children = notations[:]
        for child in children:
            if child.tag == "technical":
                self._add_to(child, text)
                return
        if children:
            self._add_piece(children[-1], "technical", text, self.blanks.deeper)
        else:
            _append(notations, self._technical(text, "technical"), self.blanks.deeper)

    def _add_piece(self, before: Any, outermost: str, text: str, blanks: str | None) -> None:
        """Add a new ``outermost`` element with the mark in it behind the element ``before``."""
        piece = self.pieces.get((outermost, text))
        if piece is None:
            make = self._notations if outermost == "notations" else self._technical
            piece = self.pieces[outermost, text] = make(text, outermost)
        piece = piece.__copy__()
        piece.tail, before.tail = before.tail, blanks
        before.addnext(piece)

    def _add_to(self, technical: Any, text: str) -> None:
        instruction, fingering = _mark(text, "")
        _append(technical, instruction, self.blanks.deepest)
        fingering.tail, instruction.tail = instruction.tail, None
        technical.append(fingering)

    def _notations(self, text: str, added: str) -> Any:
        notations = etree.Element("notations")
        notations.text = self.blanks.deeper
        technical = self._technical(text, added)
        technical.tail = self.blanks.deeper_end
        notations.append(technical)
        return notations

    def _technical(self, text: str, added: str) -> Any:
        technical = etree.Element("technical")
        technical.text = self.blanks.deepest
        instruction, fingering = _mark(text, added)
        fingering.tail = self.blanks.deepest_end
        technical.append(instruction)
        technical.append(fingering)
        return technical


def _last_child(element: Any) -> Any:
    """None where there is no child. Its length would tell, too, but counts them all."""
    try:
        return element[-1]
    except IndexError:
        return None


def _mark(text: str, added: str) -> tuple[Any, Any]:
    instruction = etree.ProcessingInstruction(TARGET, f"mark {added}".strip())
    fingering = etree.Element("fingering", placement="above")
    fingering.text = text
    return instruction, fingering


def _append(parent: Any, child: Any, blanks: str | None) -> None:
    """Append with ``blanks`` before; the blanks before the closing tag stay there."""
    if len(parent):
        end, parent[-1].tail = parent[-1].tail, blanks
    else:
        end, parent.text = parent.text, blanks
    parent.append(child)
    child.tail = end


def _remove_mark(instruction: Any) -> None:
    technical = instruction.getparent()
    added = (instruction.text or "").removeprefix("mark").strip()
    fingering = instruction.getnext()
    if fingering is not None and fingering.tag == "fingering":
        instruction.tail = fingering.tail
        technical.remove(fingering)
    remove_element(instruction)
    notations = technical.getparent()
    if added and _is_bare(technical) and notations is not None:
        remove_element(technical)
        if added == "notations" and notations.tag == "notations" and _is_bare(notations):
            remove_element(notations)


def _is_bare(element: Any) -> bool:
    """Whether it has no child; its length would count them all, once for each mark."""
    return next(element.iterchildren(), None) is None


def remove_element(element: Any) -> None:
    """Take an element out and give the blanks behind it back to the one before."""
    parent, before = element.getparent(), element.getprevious()
    tail = element.tail
    element.tail = None
    if before is not None:
        before.tail = tail
    else:
        parent.text = tail
    parent.remove(element)


def remove_fingerings(score: Score, part_id: str, tags: Collection[str]) -> int:
    """Take a part's fingerings, and other ``tags`` of ``<technical>``, out; return how many."""
    count = 0
    for element in score.part_roots(part_id):
        for technical in list(element.iter("technical")):
            notations = technical.getparent()
            for fingering in [child for child in technical if child.tag in tags]:
                remove_element(fingering)
                count += 1
            if not len(technical):
                remove_element(technical)
                if not len(notations) and not notations.attrib:
                    remove_element(notations)
    return count
