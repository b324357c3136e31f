"""The fingerings that stand in a part: our own marks, and what others have written."""

from collections.abc import Collection
from typing import NamedTuple

from lxml import etree

from handslide.edges.musicxml.marks import TARGET, remove_element
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart


class Fingering(NamedTuple):
    """A fingering: the ``ordinal`` of its note and its text. ``tagged``: with our hidden tag."""

    ordinal: int
    text: str
    tagged: bool


def read_fingerings(score: Score, part: ScorePart) -> tuple[Fingering, ...]:
    """All fingerings with a text over notes of the part's voice, in the order of the file."""
    if not score.may_hold_fingerings:
        return ()
    found = []
    for ordinal, note in enumerate(score.note_elements(part.part_id)):
        for fingering in note.iterfind("notations/technical/fingering"):
            text = (fingering.text or "").strip()
            if text and (note.findtext("voice") or "1") == part.voice:
                found.append(Fingering(ordinal, text, _is_tagged(fingering)))
    return tuple(found)


def _is_tagged(fingering: etree._Element) -> bool:
    before = fingering.getprevious()
    return (
        isinstance(before, etree._ProcessingInstruction)
        and before.target == TARGET
        and (before.text or "").startswith("mark")
    )


def written_fingerings(score: Score, part: ScorePart) -> dict[int, str]:
    """The first fingering over each note that has one, by index into ``part.notes``."""
    first = {row.ordinal: row.text for row in reversed(read_fingerings(score, part))}
    return {note.index: first[note.ordinal] for note in part.notes if note.ordinal in first}


def take_out(score: Score, part_id: str, unwanted: Collection[tuple[int, str]]) -> None:
    """Take fingerings out of a part; ``unwanted`` are ordinals of notes and texts."""
    texts: dict[int, set[str]] = {}
    for ordinal, text in unwanted:
        texts.setdefault(ordinal, set()).add(text)
    notes = score.note_elements(part_id) if texts else []
    for ordinal, some in texts.items():
        take_out_of(notes[ordinal], some)


def take_out_of(note: etree._Element, texts: Collection[str]) -> None:
    """Take the fingerings with these texts out of a note, and what only held them."""
    for technical in note.findall("notations/technical"):
        notations = technical.getparent()
        for fingering in technical.findall("fingering"):
            if (fingering.text or "").strip() in texts:
                remove_element(fingering)
        if not len(technical):
            remove_element(technical)
            if notations is not None and not len(notations) and not notations.attrib:
                remove_element(notations)
