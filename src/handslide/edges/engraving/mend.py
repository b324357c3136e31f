"""What an engraved part needs and files lack: multiple rests, beams, really hidden notes."""

from fractions import Fraction
from functools import lru_cache

from lxml import etree

from handslide.edges.musicxml.beams import FLAGS, beam_group
from handslide.edges.musicxml.signs import silence_of
from handslide.edges.musicxml.staves import PrintedClef
from handslide.ground.wholenumber import whole_number

_STEPS = "CDEFGAB"
_REST_OFF = 5  # steps from the middle line
_find_small = etree.XPath("descendant::note[not(rest) and (cue or type/@size)]")


def duration(element: etree._Element) -> Fraction:
    """Return the length of an element in divisions; 0 when it has none."""
    return length_of(element.find("duration"))


def length_of(element: etree._Element | None) -> Fraction:
    """As `duration`, of the ``<duration>`` itself."""
    return _fraction((("" if element is None else element.text) or "0").strip())


@lru_cache(1000)
def _fraction(text: str) -> Fraction:
    try:
        return Fraction(text)
    except ValueError:
        return Fraction(0)


def hide_notes(part: etree._Element) -> None:
    """Turn notes with ``print-object="no"`` into invisible rests: the engraver would draw them."""
    for note in list(part.iter("note")):
        if note.get("print-object") != "no" or note.find("rest") is not None:
            continue
        chord = note.find("chord") is not None
        following = note.getnext()
        leads = not chord and following is not None and following.find("chord") is not None
        if leads:
            following.remove(following.find("chord"))
        if chord or leads or note.find("grace") is not None:
            note.getparent().remove(note)
            continue
        for child in list(note):
            if child.tag not in ("duration", "voice", "type", "dot", "time-modification", "staff"):
                note.remove(child)
        note.insert(0, etree.Element("rest"))


def tidy_chord_symbols(part: etree._Element) -> None:
    """Leave out chord symbols that aren't printed, which the engraver would draw, and alterations
    of nothing, which it would draw as naturals."""
    for harmony in list(part.iter("harmony")):
        if harmony.get("print-object") == "no":
            harmony.getparent().remove(harmony)
            continue
        for tag in ("root-alter", "bass-alter"):
            for alter in list(harmony.iter(tag)):
                if (alter.text or "").strip() in ("", "0"):
                    alter.getparent().remove(alter)


def shrink_cues(part: etree._Element) -> None:
    """Say ``<cue/>`` of notes that are only printed at cue size: the engraver knows no other sign.

    A cue has no ``<tie>``: it doesn't sound.
    """
    for note in _find_small(part):
        if silence_of(note) != "cue":
            continue
        if note.find("cue") is None:
            grace = note.find("grace")
            note.insert(0 if grace is None else 1, etree.Element("cue"))
        for tie in note.findall("tie"):
            note.remove(tie)


def place_rests_by_cues(part: etree._Element) -> None:
    """Put a player's rests close to the staff, on the side where the stems of a cue don't go.

    Left to itself the engraver moves them far off.
    """
    if next(part.iter("cue"), None) is None:
        return
    clef = PrintedClef("F", 4)
    for measure in part.iter("measure"):
        cues: list[tuple[int, str]] = []
        rests, voices = [], set()
        for element in measure:
            if element.tag == "attributes":
                clef = _clef_of(element.find("clef"), clef)
            elif element.tag == "note" and element.find("rest") is not None:
                if element.find("cue") is None:
                    rests.append(element)
            elif element.tag == "note" and element.find("cue") is not None:
                place = _letters(element) - clef.middle
                stem = (element.findtext("stem") or "").strip()
                voices.add(element.findtext("voice"))
                cues.append((place, stem or ("up" if place < 0 else "down")))
        if not cues:
            continue
        places = [place for place, _ in cues]
        below = 2 * sum(stem == "up" for _, stem in cues) >= len(cues)
        place = min(-_REST_OFF, min(places) - 3) if below else max(_REST_OFF, max(places) + 3)
        for note in rests:
            if note.findtext("voice") not in voices:
                _display(note.find("rest"), clef.middle + place)


def _clef_of(element: etree._Element | None, before: PrintedClef) -> PrintedClef:
    if element is None or (element.findtext("sign") or "") not in ("F", "C", "G"):
        return before
    sign = element.findtext("sign") or ""
    line = element.findtext("line") or ""
    octaves = element.findtext("clef-octave-change") or "0"
    usual = {"F": 4, "C": 3, "G": 2}[sign]
    return PrintedClef(
        sign,
        int(line) if line.strip().isdigit() else usual,
        int(octaves) if octaves.strip().lstrip("-").isdigit() else 0,
    )


def _letters(note: etree._Element) -> int:
    """The pitch of a note in letters above C0."""
    step = (note.findtext("pitch/step") or "C").strip()
    return 7 * int(note.findtext("pitch/octave") or "4") + _STEPS.index(step)


def _display(rest: etree._Element, letters: int) -> None:
    for child in list(rest):
        rest.remove(child)
    etree.SubElement(rest, "display-step").text = _STEPS[letters % 7]
    etree.SubElement(rest, "display-octave").text = str(letters // 7)


def gather_rests(part: etree._Element) -> None:
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
    # Apart from a clef or key of the same measure: the engraver would print these once more.
    attributes = etree.Element("attributes")
    style = etree.SubElement(attributes, "measure-style")
    etree.SubElement(style, "multiple-rest").text = str(len(run))
    run[0].find("note").addprevious(attributes)


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


def beam_if_unbeamed(part: etree._Element) -> None:
    """Beam eighths and shorter by the beat when a part has no beam at all and no words."""
    if part.find(".//beam") is not None or part.find(".//lyric") is not None:
        return
    beat = Fraction(1)
    divisions = Fraction(1)
    for measure in part.iter("measure"):
        for attributes in measure.findall("attributes"):
            divisions = quarters(attributes.findtext("divisions"), divisions)
            beat = _beat_quarters(attributes.find("time"), beat)
        _beam_measure(measure, divisions, beat)


def quarters(text: str | None, default: Fraction) -> Fraction:
    """The number in ``<divisions>``, or the one before where it can't be read."""
    try:
        return Fraction((text or "").strip()) or default
    except (ValueError, ZeroDivisionError):
        return default


def _beat_quarters(time: etree._Element | None, before: Fraction) -> Fraction:
    if time is None:
        return before
    beats = whole_number(time.findtext("beats") or "4")
    unit = whole_number(time.findtext("beat-type") or "4")
    if beats is None or not unit or unit < 8 or beats % 3:
        return Fraction(1)
    return Fraction(12, unit)


def _beam_measure(measure: etree._Element, divisions: Fraction, beat: Fraction) -> None:
    groups: dict[tuple[str, int], list[etree._Element]] = {}
    cursor = Fraction(0)
    for element in measure:
        if element.tag == "backup":
            cursor -= duration(element) / divisions
        elif element.tag == "forward":
            cursor += duration(element) / divisions
        elif element.tag == "note":
            if element.find("chord") is not None or element.find("grace") is not None:
                continue
            voice = element.findtext("voice") or "1"
            kind = (element.findtext("type") or "").strip()
            if element.find("rest") is None and kind in FLAGS:
                groups.setdefault((voice, cursor // beat), []).append(element)
            cursor += duration(element) / divisions
    for group in groups.values():
        beam_group(group)
