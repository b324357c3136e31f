"""The engraving copy: one part of a score, simplified for the engraver.

The user's tree is never touched. In the copy each ``<note>`` has the id ``hs-n<ordinal>``, empty
measures are gathered, and everything that the sheet sets itself is gone: our own marks, titles,
part names, page and system breaks.
"""

import copy
from dataclasses import dataclass
from fractions import Fraction

from lxml import etree

from handslide.ground.errors import ScoreError

NOTE_ID = "hs-n"
MARK_INSTRUCTION = "handslide"
_FLAGGED = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}


@dataclass(frozen=True, slots=True)
class EngravingCopy:
    """UTF-8 MusicXML for the engraver, and the ordinals of the notes that it should draw."""

    document: bytes
    drawn: frozenset[int]
    graces: frozenset[int]


def engraving_copy(tree: etree._Element, part_id: str, staff: str | None) -> EngravingCopy:
    """Return the copy of one part.

    Parameters
    ----------
    tree : element
        Root of a score-partwise document; left as it is.
    part_id : str
        Which part.
    staff : str or None
        Number of the staff to engrave; None for all staves of the part.

    Raises
    ------
    ScoreError
        When the document isn't partwise or has no such part.
    """
    if tree.tag != "score-partwise":
        raise ScoreError(f"can't engrave <{tree.tag}>: it must be a score-partwise document")
    root = _only_part(tree, part_id)
    part = root.find("part")
    for ordinal, note in enumerate(part.iter("note")):
        note.set("id", f"{NOTE_ID}{ordinal}")
    _strip_own_marks(part)
    for ordinal, measure in enumerate(part.iter("measure")):
        measure.set("id", f"hs-m{ordinal}")
    if staff is not None:
        for measure in part.iter("measure"):
            _keep_staff(measure, staff)
    _strip_layout(part)
    _beam_if_unbeamed(part)
    _gather_rests(part)
    notes = [note for note in part.iter("note") if _is_drawn(note)]
    document = etree.tostring(root, encoding="UTF-8", xml_declaration=True)
    return EngravingCopy(
        document,
        frozenset(_ordinal(note) for note in notes),
        frozenset(_ordinal(note) for note in notes if note.find("grace") is not None),
    )


def _ordinal(note: etree._Element) -> int:
    return int(note.get("id", "")[len(NOTE_ID) :])


def _is_drawn(note: etree._Element) -> bool:
    return note.find("rest") is None and note.get("print-object") != "no"


def _only_part(tree: etree._Element, part_id: str) -> etree._Element:
    """Return a new root with one part and no title, credits, page layout or part names."""
    wanted = next((part for part in tree.findall("part") if part.get("id") == part_id), None)
    entry = tree.find(f"part-list/score-part[@id='{part_id}']") if _plain(part_id) else None
    if wanted is None:
        known = ", ".join(part.get("id", "?") for part in tree.findall("part")) or "none"
        raise ScoreError(f"no part {part_id!r} in the score (parts: {known})")
    root = etree.Element("score-partwise", version=tree.get("version", "4.0"))
    part_list = etree.SubElement(root, "part-list")
    new_entry = etree.SubElement(part_list, "score-part", id=part_id)
    etree.SubElement(new_entry, "part-name")
    if entry is not None:
        for child in entry:
            if child.tag in ("score-instrument", "midi-instrument"):
                new_entry.append(copy.deepcopy(child))
    root.append(copy.deepcopy(wanted))
    return root


def _plain(text: str) -> bool:
    return "'" not in text


def _strip_own_marks(part: etree._Element) -> None:
    for note in part.iter("note"):
        for technical in note.findall("notations/technical"):
            for child in list(technical):
                before = child.getprevious()
                own = isinstance(before, etree._ProcessingInstruction)
                if own and before.target == MARK_INSTRUCTION:
                    technical.remove(before)
                    technical.remove(child)
            if not len(technical):
                technical.getparent().remove(technical)


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
            cursor -= _duration(element)
            measure.remove(element)
        elif element.tag == "forward":
            cursor += _duration(element)
            measure.remove(element)
        elif element.tag == "note":
            chord = element.find("chord") is not None
            onset = last_onset if chord else cursor
            length = Fraction(0) if chord else _duration(element)
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


def _duration(element: etree._Element) -> Fraction:
    text = (element.findtext("duration") or "0").strip()
    try:
        return Fraction(text)
    except ValueError:
        return Fraction(0)


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


def _gather_rests(part: etree._Element) -> None:
    """Announce runs of empty measures as multiple rests."""
    run: list[etree._Element] = []
    for measure in [*part.iter("measure"), None]:
        if measure is not None and _is_empty(measure):
            if run and _opens_something(measure):
                _announce(run)
                run = []
            run.append(measure)
            if not _closes_something(measure):
                continue
        _announce(run)
        run = []


def _announce(run: list[etree._Element]) -> None:
    if len(run) < 2:
        return
    attributes = run[0].find("attributes")
    if attributes is None:
        attributes = etree.Element("attributes")
        run[0].insert(0, attributes)
    style = etree.SubElement(attributes, "measure-style")
    etree.SubElement(style, "multiple-rest").text = str(len(run))


def _is_empty(measure: etree._Element) -> bool:
    notes = measure.findall("note")
    if len(notes) != 1 or notes[0].get("print-object") == "no" or measure.get("implicit") == "yes":
        return False
    rest = notes[0].find("rest")
    if rest is None or notes[0].find("notations") is not None or notes[0].find("cue") is not None:
        return False
    kind = (notes[0].findtext("type") or "").strip()
    return rest.get("measure") == "yes" or kind in ("", "whole")


def _opens_something(measure: etree._Element) -> bool:
    """Whether something is printed at the start of the measure or inside it."""
    if any(child.tag in ("direction", "harmony") for child in measure):
        return True
    attributes = measure.find("attributes")
    if attributes is not None and any(child.tag != "divisions" for child in attributes):
        return True
    return any(bar.get("location") == "left" for bar in measure.findall("barline"))


def _closes_something(measure: etree._Element) -> bool:
    """Whether no empty measure may join after this one."""
    note = measure.find("note")
    if any(child.tag in ("direction", "attributes") for child in note.itersiblings()):
        return True
    return any(bar.get("location", "right") != "left" for bar in measure.findall("barline"))


def _beam_if_unbeamed(part: etree._Element) -> None:
    """Beam eighths and shorter by the beat when a part has no beam at all and no words."""
    if part.find(".//beam") is not None or part.find(".//lyric") is not None:
        return
    beat = Fraction(1)
    divisions = Fraction(1)
    for measure in part.iter("measure"):
        for attributes in measure.findall("attributes"):
            divisions = _number(attributes.findtext("divisions"), divisions)
            beat = _beat_quarters(attributes.find("time"), beat)
        _beam_measure(measure, divisions, beat)


def _number(text: str | None, default: Fraction) -> Fraction:
    try:
        return Fraction((text or "").strip()) or default
    except (ValueError, ZeroDivisionError):
        return default


def _beat_quarters(time: etree._Element | None, before: Fraction) -> Fraction:
    if time is None:
        return before
    beats, unit = time.findtext("beats") or "4", time.findtext("beat-type") or "4"
    if not (beats.strip().isdigit() and unit.strip().isdigit() and int(unit)):
        return Fraction(1)
    compound = int(unit) >= 8 and int(beats) % 3 == 0
    return Fraction(12 if compound else 4, int(unit)) if compound else Fraction(1)


def _beam_measure(measure: etree._Element, divisions: Fraction, beat: Fraction) -> None:
    groups: dict[tuple[str, int], list[etree._Element]] = {}
    cursor = Fraction(0)
    for element in measure:
        if element.tag == "backup":
            cursor -= _duration(element) / divisions
        elif element.tag == "forward":
            cursor += _duration(element) / divisions
        elif element.tag == "note":
            if element.find("chord") is not None or element.find("grace") is not None:
                continue
            voice = element.findtext("voice") or "1"
            kind = (element.findtext("type") or "").strip()
            if element.find("rest") is None and kind in _FLAGGED:
                groups.setdefault((voice, cursor // beat), []).append(element)
            cursor += _duration(element) / divisions
    for group in groups.values():
        _beam_group(group)


def _beam_group(group: list[etree._Element]) -> None:
    if len(group) < 2:
        return
    depths = [_FLAGGED[(note.findtext("type") or "").strip()] for note in group]
    for index, note in enumerate(group):
        before = depths[index - 1] if index else 0
        after = depths[index + 1] if index + 1 < len(group) else 0
        for level in range(1, depths[index] + 1):
            beam = etree.Element("beam", number=str(level))
            beam.text = _beam_word(level, before, after)
            anchor = [child for child in note if child.tag in ("notations", "lyric", "play")]
            if anchor:
                anchor[0].addprevious(beam)
            else:
                note.append(beam)


def _beam_word(level: int, before: int, after: int) -> str:
    joins_before, joins_after = level <= before, level <= after
    if joins_before and joins_after:
        return "continue"
    if joins_after:
        return "begin"
    if joins_before:
        return "end"
    return "forward hook" if after else "backward hook"
