"""Cutting measures that are wider than a page (cadenzas) at places where a line may break.

The engraver breaks lines at barlines only, and squeezes a longer measure. In the engraving copy
such a measure becomes several with invisible barlines between them.
"""

import copy
from collections.abc import Mapping

from lxml import etree

_NOTE_MM = 3.4
_GRACE_MM = 2.4
_FULL = 0.9  # share of the column that one measure may take
_PIECE = 0.7  # share that a piece aims at


def split_long_measures(
    part: etree._Element, widths_mm: Mapping[etree._Element, float], column_mm: float
) -> None:
    """Cut each one-voice measure whose notes can't stand in one line.

    Parameters
    ----------
    part : element
        Part of the engraving copy; changed in place.
    widths_mm : mapping of ``<note>`` to float
        Room that a note's mark needs; notes without a mark are left out.
    column_mm : float
        Width of the music column.
    """
    for measure in list(part.iter("measure")):
        if measure.find("backup") is not None or measure.find("forward") is not None:
            continue
        notes = [note for note in measure.findall("note") if note.find("chord") is None]
        lengths = [_width(note, widths_mm) for note in notes]
        total = sum(lengths)
        if total <= column_mm * _FULL:
            continue
        pieces = -int(-total // (column_mm * _PIECE))
        cuts = _cuts(notes, lengths, [total * k / pieces for k in range(1, pieces)])
        for cut in reversed(cuts):
            _cut_before(measure, cut)


def _width(note: etree._Element, widths_mm: Mapping[etree._Element, float]) -> float:
    least = _GRACE_MM if note.find("grace") is not None else _NOTE_MM
    return max(least, widths_mm.get(note, 0.0))


def _cuts(
    notes: list[etree._Element], lengths: list[float], wanted: list[float]
) -> list[etree._Element]:
    """Return the notes nearest to the wanted places before which a line may break."""
    free: list[tuple[float, etree._Element]] = []
    at = 0.0
    open_beam = open_tuplet = after_grace = False
    for note, length in zip(notes, lengths):
        if at and not (open_beam or open_tuplet or after_grace):
            free.append((at, note))
        beam = (note.findtext("beam") or "").strip()
        open_beam = beam in ("begin", "continue") or (open_beam and not beam)
        kinds = [tuplet.get("type") for tuplet in note.findall("notations/tuplet")]
        open_tuplet = "start" in kinds or (open_tuplet and "stop" not in kinds)
        after_grace = note.find("grace") is not None
        at += length
    chosen: list[etree._Element] = []
    for place in wanted:
        if free:
            note = min(free, key=lambda item: abs(item[0] - place))[1]
            if note not in chosen:
                chosen.append(note)
    return chosen


def _cut_before(measure: etree._Element, note: etree._Element) -> None:
    """Move ``note``, what belongs to it and all after it to a new measure."""
    start = note
    while start.getprevious() is not None and start.getprevious().tag in (
        "direction",
        "attributes",
    ):
        start = start.getprevious()
    rest = etree.Element("measure", number=measure.get("number", ""), implicit="yes")
    rest.set("id", f"{note.get('id')}-cut")
    moved = [start, *start.itersiblings()]
    left = next(
        (bar for bar in moved if bar.tag == "barline" and bar.get("location") == "left"), None
    )
    for element in moved:
        if element is not left:
            rest.append(element)
    bar = etree.SubElement(measure, "barline", location="right")
    etree.SubElement(bar, "bar-style").text = "none"
    measure.addnext(rest)
    rest.tail = copy.copy(measure.tail)
