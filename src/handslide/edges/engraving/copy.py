"""The engraving copy: one part of a score, simplified for the engraver.

The user's tree is never touched. In the copy each ``<note>`` has the id ``hs-n<ordinal>``, empty
measures are gathered, and everything that the sheet sets itself is gone: our own marks, titles,
part names, page and system breaks.
"""

import copy
import itertools
from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction

from lxml import etree

from handslide.edges.engraving.mend import (
    beam_if_unbeamed,
    duration,
    gather_rests,
    hide_notes,
    place_rests_by_cues,
    shrink_cues,
    tidy_chord_symbols,
)
from handslide.edges.engraving.repair import repair
from handslide.edges.engraving.rests import measure_rests
from handslide.edges.engraving.split import split_long_measures
from handslide.edges.engraving.values import NOTE_ID, EngravingCopy
from handslide.edges.musicxml.fingerings import take_out_of
from handslide.edges.musicxml.marks import remove_marks_in
from handslide.edges.musicxml.order import movement_starts
from handslide.edges.musicxml.signs import MeasureSigns, add_barline
from handslide.edges.musicxml.write import add_bracket
from handslide.ground.errors import ScoreError


def engraving_copy(
    tree: etree._Element,
    part_id: str,
    staff: str | None,
    room_mm: Mapping[int, float],
    column_mm: float,
    hidden: Collection[tuple[int, str]] = (),
    below: str | None = None,
    *,
    turned: bool = True,
) -> EngravingCopy:
    """Return the copy of one part, or of two parts on one system.

    Parameters
    ----------
    tree : element
        Root of a score-partwise document; left as it is.
    part_id : str
        Which part.
    staff : str or None
        Number of the staff to engrave; None for all staves of the part.
    room_mm : mapping
        Ordinal of a ``<note>`` in the part -> width that its mark needs.
    column_mm : float
        Width of the music column.
    hidden : collection
        Ordinals and texts of fingerings that aren't drawn.
    below : str, optional
        Another part below the first: both have their names, and the ordinals of its notes go on
        from those of the first.
    turned : bool
        It comes on pages: the rests in which they can be turned are sought.

    Raises
    ------
    ScoreError
        When the document isn't partwise or has no such part.
    """
    if tree.tag != "score-partwise":
        raise ScoreError("scores.not_partwise", tag=str(tree.tag))
    root = _only_parts(tree, [part_id] if below is None else [part_id, below])
    for ordinal, note in enumerate(root.iter("note")):
        note.set("id", f"{NOTE_ID}{ordinal}")
    part, *others = root.findall("part")
    for ordinal, measure in enumerate(part.iter("measure")):
        measure.set("id", f"hs-m{ordinal}")
    for one in (part, *others):
        _simplify(one, staff, hidden if one is part else ())
    movements = _movements(part)
    if not others:
        gather_rests(part)
        widths = {n: room_mm[k] for n in part.iter("note") if (k := _ordinal(n)) in room_mm}
        split_long_measures(part, widths, column_mm)
    notes = [note for note in root.iter("note") if _is_drawn(note)]
    document = etree.tostring(root, encoding="UTF-8", xml_declaration=True)
    return EngravingCopy(
        document,
        frozenset(_ordinal(note) for note in notes),
        frozenset(_ordinal(note) for note in notes if note.find("grace") is not None),
        movements,
        measure_rests(part) if turned else {},
        1 + len(others),
    )


def _simplify(part: etree._Element, staff: str | None, hidden: Collection[tuple[int, str]]) -> None:
    repair(part)
    remove_marks_in(part)
    _hide_fingerings(part, hidden)
    if staff is not None:
        for measure in part.iter("measure"):
            _keep_staff(measure, staff)
    _strip_layout(part)
    hide_notes(part)
    tidy_chord_symbols(part)
    shrink_cues(part)
    place_rests_by_cues(part)
    _tidy_words(part)
    _drop_needless_clefs(part)
    beam_if_unbeamed(part)


def _movements(part: etree._Element) -> frozenset[str]:
    measures = list(part.iter("measure"))
    signs = {index: MeasureSigns() for index in range(len(measures))}
    for index, measure in enumerate(measures):
        for barline in measure.findall("barline"):
            add_barline(signs[index], barline)
    numbers = [measure.get("number", "") for measure in measures]
    return frozenset(measures[index].get("id", "") for index in movement_starts(numbers, signs)[1:])


def _hide_fingerings(part: etree._Element, hidden: Collection[tuple[int, str]]) -> None:
    notes = {_ordinal(note): note for note in part.iter("note")} if hidden else {}
    for ordinal, text in hidden:
        take_out_of(notes[ordinal], {text})


def _ordinal(note: etree._Element) -> int:
    return int(note.get("id", "")[len(NOTE_ID) :])


def _is_drawn(note: etree._Element) -> bool:
    return note.find("rest") is None and note.get("print-object") != "no"


def _only_parts(tree: etree._Element, part_ids: Sequence[str]) -> etree._Element:
    """Return a new root with these parts and no title, credits or page layout; a part alone has
    no name."""
    root = etree.Element("score-partwise", version=tree.get("version", "4.0"))
    part_list = etree.SubElement(root, "part-list")
    if len(part_ids) > 1:
        add_bracket(part_list)
    for part_id in part_ids:
        wanted = next((part for part in tree.findall("part") if part.get("id") == part_id), None)
        entry = tree.find(f"part-list/score-part[@id='{part_id}']") if _plain(part_id) else None
        if wanted is None:
            raise ScoreError("scores.no_part_id", part=part_id)
        new_entry = etree.SubElement(part_list, "score-part", id=part_id)
        name = etree.SubElement(new_entry, "part-name")
        if entry is not None:
            if len(part_ids) > 1:
                name.text = entry.findtext("part-name")
            for child in entry:
                if child.tag in ("score-instrument", "midi-instrument"):
                    new_entry.append(copy.deepcopy(child))
        root.append(copy.deepcopy(wanted))
    if len(part_ids) > 1:
        etree.SubElement(part_list, "part-group", type="stop", number="1")
    return root


def _plain(text: str) -> bool:
    return "'" not in text


def _strip_layout(part: etree._Element) -> None:
    for measure in part.iter("measure"):
        for element in measure.findall("print"):
            measure.remove(element)
        measure.attrib.pop("width", None)
        for style in measure.findall("attributes/measure-style"):
            if style.find("multiple-rest") is not None:
                style.getparent().remove(style)


def _keep_staff(measure: etree._Element, staff: str) -> None:
    """Keep one staff; rebuild backup and forward so that time stays right."""
    cursor = Fraction(0)
    written = Fraction(0)
    last_onset = Fraction(0)
    for element in list(measure):
        if element.tag == "backup":
            cursor -= duration(element)
            measure.remove(element)
        elif element.tag == "forward":
            cursor += duration(element)
            measure.remove(element)
        elif element.tag == "note":
            chord = element.find("chord") is not None
            onset = last_onset if chord else cursor
            length = Fraction(0) if chord else duration(element)
            if _on_staff(element, staff):
                if not chord:
                    _move_cursor(element, onset - written)
                    written = onset + length
                _drop(element, "staff")
            else:
                measure.remove(element)
            last_onset = onset
            cursor = onset + length if not chord else cursor
        elif element.tag in ("direction", "harmony", "figured-bass"):
            if _on_staff(element, staff):
                _move_cursor(element, cursor - written)
                written = cursor
                _drop(element, "staff")
            else:
                measure.remove(element)
        elif element.tag == "attributes":
            _keep_staff_attributes(element, staff)


def _on_staff(element: etree._Element, staff: str) -> bool:
    return (element.findtext("staff") or "1").strip() == staff


def _drop(element: etree._Element, tag: str) -> None:
    for child in element.findall(tag):
        element.remove(child)


def _move_cursor(element: etree._Element, by: Fraction) -> None:
    if by == 0:
        return
    step = etree.Element("forward" if by > 0 else "backup")
    length = abs(by)
    text = str(length.numerator) if length.denominator == 1 else str(float(length))
    etree.SubElement(step, "duration").text = text
    element.addprevious(step)


def _keep_staff_attributes(attributes: etree._Element, staff: str) -> None:
    for child in list(attributes):
        if child.tag in ("staves", "part-symbol"):
            attributes.remove(child)
        elif child.get("number") is not None and child.tag in (
            "clef", "key", "time", "transpose", "staff-details", "measure-style",
        ):  # fmt: skip
            if child.get("number") == staff:
                del child.attrib["number"]
            else:
                attributes.remove(child)
        elif child.tag == "clef" and staff != "1":
            attributes.remove(child)


def _tidy_words(part: etree._Element) -> None:
    """Keep words of one direction apart, and in their order around a metronome mark."""
    for direction in part.iter("direction"):
        words = list(direction.iter("words"))
        for before, after in itertools.pairwise(words):
            apart = (before.text or "")[-1:].isspace() or (after.text or "")[:1].isspace()
            letters = (before.text or "").rstrip()[-1:], (after.text or "").lstrip()[:1]
            if apart or all(letter.isalnum() for letter in letters):
                # The engraver drops blanks at the end of a piece, but not one that can't break.
                before.text = f"{(before.text or '').rstrip()}\u00a0"
        for text in words:
            text.text = " ".join((text.text or "").split("\n"))
        _join_metronome(direction)


def _join_metronome(direction: etree._Element) -> None:
    """Append words that follow a metronome mark to its number: the engraver would reorder them.

    Words before it get a blank that the engraver doesn't drop.
    """
    number: etree._Element | None = None
    words: etree._Element | None = None
    for kind in list(direction.findall("direction-type")):
        found = kind.find("metronome/per-minute")
        if found is not None:
            number = found
            if words is not None and (words.text or "").strip():
                words.text = f"{(words.text or '').rstrip()}\u00a0"
        elif number is not None and len(kind) and all(child.tag == "words" for child in kind):
            number.text = (number.text or "") + "".join(child.text or "" for child in kind)
            direction.remove(kind)
        words = kind.find("words[last()]")


def _drop_needless_clefs(part: etree._Element) -> None:
    now: dict[str, tuple[str, ...]] = {}
    for attributes in part.iter("attributes"):
        for clef in attributes.findall("clef"):
            names = ("sign", "line", "clef-octave-change")
            kind = tuple((clef.findtext(name) or "").strip() for name in names)
            number = clef.get("number", "1")
            if now.get(number) == kind and clef.get("additional") != "yes":
                attributes.remove(clef)
            now[number] = kind
