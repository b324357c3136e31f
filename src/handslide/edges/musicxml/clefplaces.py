"""Writing the clefs of a moved part, and keeping rests where they stand on the staff."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lxml import etree

from handslide.edges.musicxml.clefs import MOST_LEDGERS, choose_clefs, clef_fact, ledgers
from handslide.edges.musicxml.marks import remove_element
from handslide.edges.musicxml.staves import ClefRegion, PrintedClef, Staves, measure_number
from handslide.ground.facts import Fact
from handslide.ground.wholenumber import whole_number

_LETTERS = "CDEFGAB"
_ORDER = (
    "footnote", "level", "divisions", "key", "time", "staves", "part-symbol", "instruments",
    "clef", "staff-details", "transpose", "for-part", "directive", "measure-style",
)  # fmt: skip
_AFTER_CLEF = frozenset(_ORDER[_ORDER.index("clef") + 1 :])


@dataclass(frozen=True, slots=True)
class NewClef:
    """Measures ``first`` to ``last`` are in clef ``new`` instead of ``old``; or, where both are
    the same, notes stand ``ledgers`` ledger lines away from the staff."""

    first: str
    last: str
    old: Fact
    new: Fact
    ledgers: int

    @property
    def span(self) -> str:
        """The measures: ``3``, ``3–8``."""
        return self.first if self.first == self.last else f"{self.first}–{self.last}"


def place_clefs(
    staves: Staves, shown: Mapping[int, int], letters: int, home: PrintedClef | None = None
) -> list[NewClef]:
    """Choose and write the clefs of all staves.

    ``shown`` gives, by ``id`` of a StaffNote, its new printed height in letters above C0.
    ``home`` as in `choose_clefs`. Returns what is another clef now, and where notes are far away
    from the staff.
    """
    rows = []
    for staff, regions in staves.clefs.items():
        steps = {
            index: [shown[id(note)] for note in region.notes if id(note) in shown]
            for index, region in enumerate(regions)
        }
        chosen = choose_clefs(regions, steps, letters=letters, keep=staves.transposing, home=home)
        _write(staves, staff, regions, chosen)
        for region, clef in zip(regions, chosen):
            _place_rests(region, clef, letters)
        rows += _rows(staves, regions, chosen, steps)
    return rows


def _write(
    staves: Staves,
    staff: str,
    regions: Sequence[ClefRegion],
    chosen: Sequence[PrintedClef | None],
) -> None:
    old: PrintedClef | None = None
    now: PrintedClef | None = None
    for index, (region, clef) in enumerate(zip(regions, chosen)):
        if region.element is not None:
            if index and clef == now and region.clef != old:
                _remove(region.element)
            elif clef is not None and clef != region.clef:
                _fill(region.element, clef)
        elif clef is not None and index and clef != now:
            measure = staves.measures[region.measure]
            _insert(measure, staff, clef, numbered=len(staves.clefs) > 1)
        old, now = region.clef, clef


def _remove(element: Any) -> None:
    attributes = element.getparent()
    remove_element(element)
    if not len(attributes):
        remove_element(attributes)


def _fill(element: Any, clef: PrintedClef) -> None:
    blank = element.text if len(element) else None
    end = element[-1].tail if len(element) else None
    for child in list(element):
        element.remove(child)
    rows = [("sign", clef.sign), ("line", str(clef.line))]
    if clef.octaves:
        rows.append(("clef-octave-change", str(clef.octaves)))
    for tag, text in rows:
        child = etree.SubElement(element, tag)
        child.text, child.tail = text, blank
    element.text, element[-1].tail = blank, end


def _insert(measure: Any, staff: str, clef: PrintedClef, *, numbered: bool) -> None:
    """Put a clef at the start of a measure."""
    element = etree.Element("clef", {"number": staff} if numbered else {})
    _fill(element, clef)
    before = None
    for child in measure:
        if child.tag == "attributes":
            _add_to(child, element)
            return
        if child.tag != "print" and not (
            child.tag == "barline" and child.get("location") == "left"
        ):
            break
        before = child
    attributes = etree.Element("attributes")
    attributes.append(element)
    if before is None:
        attributes.tail = measure.text
        measure.insert(0, attributes)
    else:
        attributes.tail = before.tail
        before.addnext(attributes)


def _add_to(attributes: Any, clef: Any) -> None:
    for child in attributes:
        if child.tag in _AFTER_CLEF:
            clef.tail = attributes.text
            child.addprevious(clef)
            return
    if len(attributes):
        clef.tail, attributes[-1].tail = attributes[-1].tail, attributes.text
    attributes.append(clef)


def _place_rests(region: ClefRegion, clef: PrintedClef | None, letters: int) -> None:
    """Rests stay where they stand on the staff; among moved voices they find a place anew."""
    if region.clef is None or clef is None or not letters:
        return
    voices = {note.voice for note in region.notes if note.pitch is not None}
    up = clef.middle - region.clef.middle
    for note in region.notes:
        if note.pitch is not None:
            continue
        for holder in note.element.iterchildren("rest", "unpitched"):
            step, octave = holder.find("display-step"), holder.find("display-octave")
            if step is None or octave is None:
                continue
            if holder.tag == "rest" and (len(voices) > 1 or voices - {note.voice}):
                remove_element(step)
                remove_element(octave)
            elif up and (step.text or "").strip() in _LETTERS:
                number = whole_number(octave.text or "")
                if number is not None and number <= 9:
                    height = 7 * number + _LETTERS.index(step.text.strip()) + up
                    step.text, octave.text = _LETTERS[height % 7], str(height // 7)


def _rows(
    staves: Staves,
    regions: Sequence[ClefRegion],
    chosen: Sequence[PrintedClef | None],
    steps: Mapping[int, Sequence[int]],
) -> list[NewClef]:
    rows: list[NewClef] = []
    kind: tuple[object, ...] | None = None
    for index, (region, clef) in enumerate(zip(regions, chosen)):
        if clef is None or not steps[index]:
            continue
        far = max(ledgers(step - clef.middle) for step in steps[index])
        far = far if far > MOST_LEDGERS else 0
        number = measure_number(staves.measures[region.measure])
        new = (region.clef, clef, bool(far))
        if new == kind and rows:
            last = rows[-1]
            rows[-1] = NewClef(last.first, number, last.old, last.new, max(far, last.ledgers))
        elif clef != region.clef or far:
            rows.append(NewClef(number, number, clef_fact(region.clef), clef_fact(clef), far))
        kind = new if clef != region.clef or far else None
    return rows
